package evidence

import (
	"context"
	"fmt"

	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/trial"
)

// Turning on and on, from the tables of MTM-1 (methods-time measurement; 1 TMU =
// 0.036 s; from memory): turn 105°, release, turn back, grasp take 16.2 TMU.
const (
	farDetents   = 600
	publishedDPS = 12.0 // detents a second, of 24 a turn
)

// turningRate returns the detents a second of people on the way to a number far
// off: those of all strokes but the last few, over the time from the first to the
// one after them.
func turningRate(ctx context.Context, o scenarios.Operator, seed uint64, trials int) (float64, error) {
	rig := ideal(detentedKnob)
	b, err := trial.NewBench(trial.Cell{Task: numberTask(farDetents), Rings: 1, Inner: &rig, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o})
	if err != nil {
		return 0, err
	}
	var detents, turned, began, until int64
	b.Trace = func(_ int, a hand.Act) {
		if a.Kind != hand.Stroke {
			return
		}
		if began == 0 {
			began = a.At
		}
		if turned < farDetents*9/10 {
			until = a.At
			detents = turned
		}
		turned += max(a.Turned, -a.Turned)
	}
	sum, seconds := int64(0), int64(0)
	for n := range trials {
		if ctx.Err() != nil {
			return 0, ctx.Err()
		}
		detents, turned, began, until = 0, 0, 0, 0
		b.Run(seed, n)
		sum += detents
		seconds += until - began
	}
	return float64(sum) * 1e9 / float64(seconds), nil
}

func turningOn(ctx context.Context, s Size) ([]Check, error) {
	rates := map[string]float64{}
	for _, o := range scenarios.Operators() {
		var err error
		if rates[o.Name], err = turningRate(ctx, o, s.Seed, max(10, s.Trials/5)); err != nil {
			return nil, err
		}
	}
	rate := rates["practised"]
	c := Check{ID: "A14", What: "turning on and on: a number 600 detents away, plain, no losses", Status: Memory,
		Source:    "MTM-1 tables (methods-time measurement, 1 TMU = 0.036 s): turn 105°, release, turn back, grasp 16.2 TMU = 0.583 s",
		Published: "12.0 detents/s on a knob of 24 (180°/s)", Band: "a practised person ±15 %",
		Measured: fmt.Sprintf("%.1f detents/s; novice %.1f, expert %.1f", rate, rates["novice"], rates["expert"])}
	return []Check{c.judged(within(rate, publishedDPS, 0.15)).inBrief("turning on, detents/s", "12.0", fmt.Sprintf("%.1f", rate))}, nil
}

// longestTwist turns far and finds the longest turn between two regrips, which is a
// twist of the forearm.
func longestTwist(ctx context.Context, s Size) ([]Check, error) {
	rig := ideal(detentedKnob)
	longest, strokes := int64(0), 0
	for _, o := range scenarios.Operators() {
		b, err := trial.NewBench(trial.Cell{Task: numberTask(farDetents), Rings: 1, Inner: &rig, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o})
		if err != nil {
			return nil, err
		}
		arc := int64(0) // detents from where the fingers took hold, signed
		b.Trace = func(_ int, a hand.Act) {
			switch a.Kind {
			case hand.Regrip:
				arc = 0
			case hand.Stroke:
				arc += a.Turned
				longest = max(longest, arc, -arc)
				strokes++
			}
		}
		for n := range s.Trials {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			arc = 0
			b.Run(s.Seed, n)
		}
	}
	deg := 360 * float64(longest) / float64(detentedKnob.Detents)
	c := Check{ID: "A8", What: "longest twist of the forearm, numbers 600 detents away", Status: Memory, Source: "Boone, Azen, J. Bone Joint Surg. 61-A (1979) 756–759",
		Published: "pronation 75.8 ± 5.1°, supination 82.1 ± 3.8°", Band: "one twist ≤ 158°", Measured: fmt.Sprintf("%.0f° in %d strokes", deg, strokes)}
	return []Check{c.judged(deg <= 158)}, nil
}
