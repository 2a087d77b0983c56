package evidence

import (
	"context"
	"fmt"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/trial"
)

// The lag study of MacKenzie, Ware, "Lag as a determinant of human performance in
// interactive systems", INTERCHI '93, 488–493: four display lags, three distances
// by four widths, 1.58 to 6.02 bits. Theirs was a mouse; here it is a smooth knob
// whose longest distance is 68° and whose narrowest target is 1°.
var (
	lags         = []time.Duration{8300 * time.Microsecond, 25 * time.Millisecond, 75 * time.Millisecond, 225 * time.Millisecond}
	lagDistances = []float64{192, 384, 768} // quarter steps
	lagWidths    = []float64{12, 24, 48, 96}
)

// smoothKnob has 4096 quarter steps a turn, 0.09° each.
var smoothKnob = encoder.Knob{Detents: 0, Cycles: 1024}

// smoothTask is a target that lies so many quarter steps away at gain 1 and is so
// many wide.
func smoothTask(distance, width float64) *scenarios.Task {
	middle := scenarios.Amount(1_000_000) * scenarios.Unity
	return &scenarios.Task{
		Name: fmt.Sprintf("smooth %g/%g", distance, width),
		From: 0, To: 2 * middle, Step: scenarios.Unity,
		Tolerance: scenarios.Amount(width/2) * scenarios.Unity,
		Start:     scenarios.Distribution{List: []scenarios.Amount{middle}},
		Target:    moved(distance),
	}
}

// lagged does the twelve cells of the lag study at one lag.
func lagged(ctx context.Context, o scenarios.Operator, lag time.Duration, seed uint64, trials int) ([]cell, error) {
	rig := ideal(smoothKnob)
	rig.Display.Latency = lag
	plain := scenarios.Profile{Name: "plain"}
	var (
		cells []cell
		grips trial.Grips
	)
	for _, d := range lagDistances {
		for _, w := range lagWidths {
			b, err := grips.Bench(trial.Cell{Task: smoothTask(d, w), Rings: 1, Inner: &rig, Profile: &plain, Operator: &o})
			if err != nil {
				return nil, err
			}
			// The movement begins with the first stroke. The click that ends it comes an
			// act after the number was seen inside the target: it is made by a finger that
			// lies on the button, not by the other hand as in row A1.
			began, seen, clicked := int64(0), int64(0), 0.0
			b.Trace = func(_ int, a hand.Act) {
				switch {
				case a.Kind == hand.Stroke && began == 0:
					began = a.At
				case a.Kind == hand.Confirm:
					seen = a.At
				}
			}
			c, err := runOn(ctx, b, seed, trials, func(*trial.Result) {
				clicked += float64(seen-began)/1e9 + o.Act.Mean.Seconds()
				began = 0
			})
			if err != nil {
				return nil, err
			}
			c.clicked = clicked / float64(max(1, c.trials))
			c.distance, c.width = d, w
			cells = append(cells, c)
		}
	}
	return cells, nil
}

// pooled is the mean of several cells with equally many trials.
func pooled(cells []cell) (all cell) {
	n := float64(len(cells))
	for i := range cells {
		c := &cells[i]
		all.trials += c.trials
		all.time += c.time / n
		all.confirmed += c.confirmed / n
		all.clicked += c.clicked / n
		all.over += c.over / n
		all.strokes += c.strokes / n
		all.turns += c.turns / n
		all.timeouts += c.timeouts
	}
	return all
}
