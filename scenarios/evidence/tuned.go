package evidence

import (
	"context"
	"fmt"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/radio"
	"dialwright/scenarios/trial"
	"dialwright/scenarios/tune"
)

// severalTurns is a number that lies 2 to 10 turns of a knob with 24 detents away,
// to be hit exactly.
func severalTurns() *scenarios.Task {
	t := numberTask(0)
	t.Name = "several turns"
	t.Target = scenarios.Distribution{Move: scenarios.Move{From: 2 * 24 * scenarios.Unity, To: 10 * 24 * scenarios.Unity}}
	return t
}

// dialed is a tuned knob and how it is dialed.
type dialed struct {
	profile   *scenarios.Profile
	gain      float64 // task steps on the way from start to target, per detent that was turned
	time      float64 // mean time to target, s
	overshoot float64 // share of trials
}

// tuned searches a curve for a task on the demo's knob with 24 detents and relative
// counts, for the least time under a cap on overshoot, and measures what people make
// of it. Corrections count as detents too, so the mean gain is rather too small.
func tuned(ctx context.Context, s Size, task *scenarios.Task, curve string, most float64) (dialed, error) {
	rig, o := demo.Rig("right-relative"), scenarios.Practised()
	rig.Adjustable = scenarios.Adjustable{Homes: []scenarios.Home{encoder.InProgram}, Curves: []string{curve}}
	knob := scenarios.Knob{Name: "knob", Rings: 1, Inner: rig, Tasks: []scenarios.Use{{Task: task, PerHour: 1}}}
	r, err := tune.Run(ctx, &tune.Study{
		Panel: &scenarios.Panel{Name: "one knob", Knobs: []scenarios.Knob{knob}}, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o,
		MaxOvershoot: most, MaxLost: 0.05, For: tune.Speed, Trials: s.Trials, Seed: s.Seed, Workers: 1, Effort: 0.5,
	})
	if err != nil {
		return dialed{}, err
	}
	d := dialed{profile: r.Knobs[0].Chosen[0]}
	steps, detents := int64(0), 0
	c, err := run(ctx, trial.Cell{Task: task, Rings: 1, Inner: &rig.Rig, Profile: d.profile, Operator: &o}, s.Seed, s.Trials, func(r *trial.Result) {
		steps += max(r.Target-r.Start, r.Start-r.Target)
		detents += r.Account.Detents
	})
	d.gain, d.time, d.overshoot = float64(steps)/float64(max(1, detents)), c.time, c.over
	return d, err
}

func tunedGains(ctx context.Context, s Size) ([]Check, error) {
	quickest, err := tuned(ctx, s, severalTurns(), "ladder", 1)
	if err != nil {
		return nil, err
	}
	capped, err := tuned(ctx, s, severalTurns(), "ladder", 0.1)
	if err != nil {
		return nil, err
	}
	turn := func(d dialed) string {
		return fmt.Sprintf("%.0f a turn (gain %.1f, %.1f s, %.0f %% overshoot)", 24*d.gain, d.gain, d.time, 100*d.overshoot)
	}
	a5 := Check{ID: "A5", What: "counts per turn of the tuned 24-detent knob, exact numbers 2 to 10 turns away", Source: "MIL-STD-1472E 5.1.4.8", Status: Read,
		Published: "about 50 for a counter knob", Band: "the tuned mean gain lies above 1",
		Measured: fmt.Sprintf("%s for the least time; %s where no more than 10 %% may overshoot", turn(quickest), turn(capped))}

	task := radio.Task("hf-20m-50hz")
	hf, err := tuned(ctx, s, task, "constant", 0.1)
	if err != nil {
		return nil, err
	}
	constant := 1.0
	if c := hf.profile.Acceleration.Curve; c != nil {
		constant = c.Of(0)
	}
	c10 := Check{ID: "C10", What: "HF knob of 24 detents, constant gain tuned for ±50 Hz and stations 0.1 to 20 kHz away", Source: "MIL-STD-1472E 5.1.4.5; arithmetic derived", Status: Derived,
		Published: "0.6–1.8 kHz per turn for ±50 Hz within 10–30°", Band: "printed beside it",
		Measured: fmt.Sprintf("%.1f kHz per turn, gain %.3g on steps of %g Hz; %.1f s, %.0f %% overshoot", 24*constant*task.Step.Float()/1000, constant, task.Step.Float(), hf.time, 100*hf.overshoot)}
	return []Check{a5.judged(quickest.gain > 1), c10.judged(hf.time > 0)}, nil
}
