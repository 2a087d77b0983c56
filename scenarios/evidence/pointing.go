package evidence

import (
	"context"
	"fmt"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// detentedKnob is the commonest panel part.
var detentedKnob = encoder.Knob{Detents: 24, Cycles: 24}

// numberTask is a number that lies so many steps away, to be hit exactly.
func numberTask(distance float64) *scenarios.Task {
	middle := scenarios.Amount(1_000_000) * scenarios.Unity
	return &scenarios.Task{
		Name: fmt.Sprintf("number %g", distance),
		From: 0, To: 2 * middle, Step: scenarios.Unity,
		Start:  scenarios.Distribution{List: []scenarios.Amount{middle}},
		Target: moved(distance),
	}
}

var numberDistances = []float64{10, 20, 40, 80, 160}

// accelerated are the built-in profiles with a curve.
func accelerated() (ps []scenarios.Profile) {
	for _, p := range scenarios.Profiles() {
		if p.Acceleration.Curve != nil {
			ps = append(ps, p)
		}
	}
	return ps
}

// overshooting measures how often people overshoot numbers at several distances on
// an ideal path.
func overshooting(ctx context.Context, o scenarios.Operator, p scenarios.Profile, seed uint64, trials int) (cell, error) {
	rig := ideal(detentedKnob)
	var (
		cells []cell
		grips trial.Grips
	)
	for _, d := range numberDistances {
		c, err := runBy(ctx, &grips, trial.Cell{Task: numberTask(d), Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, seed, trials, nil)
		if err != nil {
			return c, err
		}
		cells = append(cells, c)
	}
	return pooled(cells), nil
}

// secondOvershoots measures, for a rest and a rule for reversals, the share of
// trials in which the way back went past the target too: the person turned round
// twice or more.
func secondOvershoots(ctx context.Context, o scenarios.Operator, rest time.Duration, rule accel.Reversal, seed uint64, trials int) (float64, error) {
	rig := ideal(detentedKnob)
	again, n := 0, 0
	for _, p := range accelerated() {
		p.Acceleration.Rate.Rest = rest
		p.Acceleration.Rate.Reversal = rule
		var grips trial.Grips
		for _, d := range numberDistances {
			c, err := runBy(ctx, &grips, trial.Cell{Task: numberTask(d), Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, seed, trials, func(r *trial.Result) {
				if r.Reversals >= 2 {
					again++
				}
			})
			if err != nil {
				return 0, err
			}
			n += c.trials
		}
	}
	return float64(again) / float64(n), nil
}
