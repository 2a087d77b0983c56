package evidence

import (
	"context"
	"fmt"
	"math"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// The wheel of Hinckley, Cutrell, Bathiche, Muss, "Quantitative analysis of
// scrolling techniques", CHI 2002: 18 notches a turn, 6.29 lines a notch, four
// distances, three widths; the time includes a key of the other hand.
const (
	linesPerNotch = 6.29
	perLine       = 100 // task steps; 6.29 lines are a whole number of them
)

var (
	wheelDistances = []float64{48, 96, 192, 384} // lines
	wheelWidths    = []float64{6, 18, 30}        // lines
)

// ideal is a path that neither loses nor delays a detent.
func ideal(knob encoder.Knob) encoder.Rig {
	r := encoder.Default()
	r.Name = "ideal path"
	r.Knob = knob
	r.Firmware = encoder.Firmware{Scan: 50 * time.Microsecond, Debounce: 1, CountsPerDetent: 1, Output: encoder.Relative}
	r.USB.Poll = 125 * time.Microsecond
	r.System.Latency = 0
	r.Program = encoder.Program{Sampling: encoder.Immediate}
	r.Display.Latency = 0
	return r
}

// wheelRig is the wheel on an ideal path.
func wheelRig() encoder.Rig { return ideal(encoder.Knob{Detents: 18, Cycles: 18}) }

// wheelTask is a target that lies so many lines away and is so many wide. One that
// is narrower than a notch takes the notch nearest to it.
func wheelTask(distance, width float64) *scenarios.Task {
	tolerance := max(width, linesPerNotch) / 2
	middle := scenarios.Amount(1000) * scenarios.Unity
	return &scenarios.Task{
		Name: fmt.Sprintf("wheel %g/%g", distance, width), Unit: "lines",
		From: 0, To: 2 * middle, Step: scenarios.Unity / perLine,
		Tolerance: scenarios.Amount(math.Ceil(tolerance*perLine)) * scenarios.Unity / perLine,
		Start:     scenarios.Distribution{List: []scenarios.Amount{middle}},
		Target:    moved(distance),
	}
}

// moved is a target at a distance up or down, equally likely.
func moved(distance float64) scenarios.Distribution {
	d := scenarios.Amount(math.Round(distance * float64(scenarios.Unity)))
	return scenarios.Distribution{Move: scenarios.Move{From: d, To: d}}
}

// wheelConstant and wheelAccelerated are the two transfer functions of the study.
// The accelerated one multiplies by max(1, 4·(1+8Δt)^−2.5) for notches less than
// Δt = 0.1 s apart.
func wheelConstant() scenarios.Profile {
	return scenarios.Profile{Name: "constant", Acceleration: accel.Acceleration{Base: linesPerNotch * perLine}}
}

func wheelAccelerated() scenarios.Profile {
	var points []accel.Point
	for rate := 10.0; rate <= 1000 && len(points) < accel.MaxSteps; rate *= 1.077 {
		gain := max(1, 4*math.Pow(1+8/rate, -2.5))
		points = append(points, accel.Point{Rate: rate, Gain: gain})
	}
	p := wheelConstant()
	p.Name = "accelerated"
	p.Acceleration.Curve = accel.Table{Points: points}
	p.Acceleration.Rate.Rest = 100 * time.Millisecond
	return p
}

// cell is one condition of a study and what came of it.
type cell struct {
	distance, width float64
	trials          int
	time, confirmed float64 // mean seconds to the target; to the confirming key
	clicked         float64 // of the lag study: mean seconds from the first movement to the click
	over            float64 // share of trials that overshot
	strokes, turns  float64
	timeouts        int
}

func (c *cell) id() float64 { return difficulty(c.distance, c.width) }

// run does the trials of one condition.
func run(ctx context.Context, c trial.Cell, seed uint64, trials int, each func(*trial.Result)) (cell, error) {
	return runBy(ctx, nil, c, seed, trials, each)
}

// runBy is run with people who may have found out about the knob already.
func runBy(ctx context.Context, grips *trial.Grips, c trial.Cell, seed uint64, trials int, each func(*trial.Result)) (cell, error) {
	b, err := grips.Bench(c)
	if err != nil {
		return cell{}, err
	}
	return runOn(ctx, b, seed, trials, each)
}

// runOn does trials on a bench, one after the other.
func runOn(ctx context.Context, b *trial.Bench, seed uint64, trials int, each func(*trial.Result)) (got cell, err error) {
	over := 0
	got.trials, err = trial.Batch(ctx, b, seed, 0, trials, 1, func(_ int, r *trial.Result) {
		got.time += float64(r.TimeToTarget) / 1e9
		got.confirmed += float64(r.Confirmed) / 1e9
		got.strokes += float64(r.Strokes)
		got.turns += float64(r.Regrips)
		if r.Overshot() {
			over++
		}
		if r.Timeout {
			got.timeouts++
		}
		if each != nil {
			each(r)
		}
	})
	n := float64(max(1, got.trials))
	got.time /= n
	got.confirmed /= n
	got.strokes /= n
	got.turns /= n
	got.over = float64(over) / n
	return got, err
}

// wheel does the twelve cells of the wheel study.
func wheel(ctx context.Context, o scenarios.Operator, p scenarios.Profile, seed uint64, trials int) ([]cell, error) {
	o = o.OnWheel()
	rig := wheelRig()
	var (
		cells []cell
		grips trial.Grips
	)
	for _, d := range wheelDistances {
		for _, w := range wheelWidths {
			c, err := runBy(ctx, &grips, trial.Cell{Task: wheelTask(d, w), Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, seed, trials, nil)
			if err != nil {
				return nil, err
			}
			c.distance, c.width = d, w
			cells = append(cells, c)
		}
	}
	return cells, nil
}

// regression fits the time to the confirming key against difficulty.
func regression(cells []cell) line {
	var x, y []float64
	for i := range cells {
		x = append(x, cells[i].id())
		y = append(y, cells[i].confirmed)
	}
	return fitLine(x, y)
}
