package evidence

import (
	"context"
	"fmt"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/radio"
	"dialwright/scenarios/trial"
)

// mostOver is the share of overshoots that the sweeps of gains allow, as tune does.
const mostOver = 0.1

// severalTurns is a number that lies 2 to 10 turns of a knob with 24 detents away,
// to be hit exactly.
func severalTurns() *scenarios.Task {
	t := numberTask(0)
	t.Name = "several turns"
	t.Target = scenarios.Distribution{Move: scenarios.Move{From: 2 * 24 * scenarios.Unity, To: 10 * 24 * scenarios.Unity}}
	return t
}

// dialed is a knob's setting and how it is dialed.
type dialed struct {
	profile   scenarios.Profile
	gain      float64         // task steps on the way from start to target, per detent that was turned
	time      float64         // mean time to target, s
	overshoot paired.Estimate // share of trials
}

// dial measures settings of the demo's knob with 24 detents and relative counts on
// a task. Corrections count as detents too, so a mean gain is rather too small.
func dial(ctx context.Context, s Size, task *scenarios.Task, profiles []scenarios.Profile) (all []dialed, err error) {
	rig, o := demo.Rig("right-relative").Rig, scenarios.Practised()
	for _, p := range profiles {
		d := dialed{profile: p}
		steps, detents, over := int64(0), 0, 0
		c, err := run(ctx, trial.Cell{Task: task, Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, s.Seed, s.Trials, func(r *trial.Result) {
			steps += max(r.Target-r.Start, r.Start-r.Target)
			detents += r.Account.Detents
			if r.Overshot() {
				over++
			}
		})
		if err != nil {
			return nil, err
		}
		d.gain, d.time, d.overshoot = float64(steps)/float64(max(1, detents)), c.time, paired.ShareInterval(over, c.trials)
		all = append(all, d)
	}
	return all, nil
}

// quickest returns the setting with the least mean time of those that are shown to
// overshoot at most so often, and whether there is one.
func quickest(all []dialed, over float64) (best dialed, found bool) {
	for _, d := range all {
		if d.overshoot.High <= over && (!found || d.time < best.time) {
			best, found = d, true
		}
	}
	return best, found
}

// ladders are plain and ladders of one step.
func ladders() []scenarios.Profile {
	all := []scenarios.Profile{{Name: "plain"}}
	for _, above := range []float64{5, 8, 12, 18} {
		for _, gain := range []float64{2, 3, 5, 10} {
			all = append(all, scenarios.Profile{Name: fmt.Sprintf("%g above %g/s", gain, above),
				Acceleration: accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: above, Gain: gain}}}}})
		}
	}
	return all
}

func countsPerTurn(ctx context.Context, s Size) ([]Check, error) {
	all, err := dial(ctx, s, severalTurns(), ladders())
	if err != nil {
		return nil, err
	}
	turn := func(d dialed) string {
		return fmt.Sprintf("makes %.0f a turn (mean gain %.1f, %.1f s, %.0f %% overshoot)", 24*d.gain, d.gain, d.time, 100*d.overshoot.Value)
	}
	best, _ := quickest(all, 1)
	calm := "none is shown to overshoot in at most 10 % of the trials"
	if d, found := quickest(all, mostOver); found {
		calm = "the quickest that is shown to overshoot in at most 10 % of the trials " + turn(d)
	}
	c := Check{ID: "A5", What: "counts per turn of a knob of 24 detents, exact numbers 2 to 10 turns away: the quickest of 16 ladders and plain", Source: "MIL-STD-1472E 5.1.4.8", Status: Read,
		Published: "about 50 for a counter knob", Band: "the mean gain lies above 1",
		Measured: fmt.Sprintf("the quickest %s; %s", turn(best), calm)}
	return []Check{c.shown(best.gain > 1, "no ladder brings less than a step a detent, so the mean gain could hardly lie below 1")}, nil
}

// bracketing sweeps constant gains of the knob that tunes a receiver to ±50 Hz.
func bracketing(ctx context.Context, s Size) ([]Check, error) {
	const least, most = 0.6, 1.8 // kHz a turn: 2.5 to 7.5 steps of 10 Hz a detent
	task := radio.Task("hf-20m-50hz")
	perTurn := func(gain float64) float64 { return 24 * gain * task.Step.Float() / 1000 }
	var profiles []scenarios.Profile
	for gain := 1.0; gain <= float64(2*task.ToleranceSteps()+1); gain++ { // a larger one cannot be aimed with
		profiles = append(profiles, scenarios.Profile{Name: fmt.Sprint(gain), Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: gain}}})
	}
	s.Trials *= 10 // the share of overshoots decides
	all, err := dial(ctx, s, task, profiles)
	if err != nil {
		return nil, err
	}
	c := Check{ID: "C10", What: fmt.Sprintf("HF knob of 24 detents, ±50 Hz: the quickest of %d constant gains, %.1f to %.1f kHz a turn, that is shown to overshoot in at most 10 %% of the trials", len(all), perTurn(1), perTurn(float64(len(all)))),
		Source: "MIL-STD-1472E 5.1.4.5 (read); arithmetic", Status: Derived,
		Published: "0.6–1.8 kHz per turn for ±50 Hz within 10–30°", Band: "0.6 to 1.8"}
	best, found := quickest(all, mostOver)
	if !found {
		c.Measured = "no gain is shown to"
		return []Check{c.judged(false)}, nil
	}
	free, _ := quickest(all, 1)
	gain := func(d dialed) float64 { return d.profile.Acceleration.Curve.Of(0) }
	turn := perTurn(gain(best))
	c.Measured = fmt.Sprintf("gain %g, %.2f kHz per turn (%.1f s, %.0f %% overshoot); the quickest of all %.2f kHz (%.1f s, %.0f %%)",
		gain(best), turn, best.time, 100*best.overshoot.Value, perTurn(gain(free)), free.time, 100*free.overshoot.Value)
	return []Check{c.judged(turn >= least && turn <= most).inBrief("±50 Hz knob, kHz per turn", "0.6–1.8", fmt.Sprintf("%.2f", turn))}, nil
}
