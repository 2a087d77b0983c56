package tune_test

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
	"dialwright/scenarios/tune"
)

// suiteRig is a rig of the suite, and what its owner can change.
func suiteRig(name string) *scenarios.Rig {
	r := demo.Rig("left-pulse")
	lengths := scenarios.Range{From: "10ms", To: "70ms", By: "5ms"}
	pulse, gap := lengths, lengths
	pulse.Key, gap.Key = "firmware.pulse", "firmware.gap"
	queue := scenarios.Range{Key: "firmware.queue", Values: []string{"0", "4", "8", "16", "32"}}
	r.Adjustable = scenarios.Adjustable{Homes: []scenarios.Home{encoder.InProgram}, Curves: accel.CurveWords()}
	switch name {
	case "buttons, levels":
		r.Adjustable.Settings = []scenarios.Range{pulse, gap, queue}
	case "buttons, events":
		r.Program.Sampling = encoder.Events
		r.Program.Frames = 60
		r.Adjustable.Settings = []scenarios.Range{pulse, gap, queue}
	case "buttons, firmware":
		r.Program.Sampling = encoder.Immediate
		r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = 10e6, 10e6, 32
		r.Adjustable.Settings = []scenarios.Range{pulse, gap, queue}
		r.Adjustable.Homes = []scenarios.Home{encoder.InFirmware}
	case "keys":
		r = demo.Rig("middle-keys")
	case "relative":
		r = demo.Rig("right-relative")
		r.Adjustable.Homes = []scenarios.Home{encoder.InProgram}
	case "relative, firmware":
		r = demo.Rig("right-relative")
		r.Adjustable.Homes = []scenarios.Home{encoder.InFirmware}
	case "relative, smooth":
		r = demo.Rig("right-relative")
		r.Knob.Detents, r.Knob.Cycles, r.Knob.Push = 0, 6, false
		r.Adjustable.Homes = []scenarios.Home{encoder.InProgram}
	case "relative, late":
		r = demo.Rig("right-relative")
		r.Display.Latency = 250e6
		r.Adjustable.Homes = []scenarios.Home{encoder.InProgram}
	}
	scenarios.Settle(&r.Rig)
	r.Name = name
	return r
}

// bruteForce are profiles that nobody would have to think about: every combination of
// what is coarse, not the search's own.
func bruteForce(r *scenarios.Rig) (list []*scenarios.Profile) {
	var curves []accel.Curve
	curves = append(curves, nil)
	for _, g := range []float64{1.3, 1.7, 2.5, 4, 6, 7, 9, 11, 15, 25} {
		curves = append(curves, accel.Constant{Gain: g})
	}
	for _, at := range []float64{6, 9, 15, 22} {
		for _, g := range []float64{1.7, 2.5, 4, 7, 11, 20} {
			curves = append(curves, accel.Power{At: at, Factor: g / 2, Exponent: 1.5, Cap: g}, accel.Ladder{Steps: []accel.Step{{Above: at, Gain: g}}, Hysteresis: 0.2}, accel.Logistic{Low: 1, High: g, At: at, Width: 2})
		}
	}
	settings := [][]scenarios.Setting{nil}
	for _, x := range r.Adjustable.Settings {
		if x.Key == "firmware.pulse" {
			for _, length := range []string{"15ms", "25ms", "40ms", "50ms"} {
				settings = append(settings, []scenarios.Setting{{Key: "firmware.gap", Value: length}, {Key: "firmware.pulse", Value: length}},
					[]scenarios.Setting{{Key: "firmware.gap", Value: length}, {Key: "firmware.pulse", Value: length}, {Key: "firmware.queue", Value: "32"}})
			}
		}
	}
	for i, set := range settings {
		for n, c := range curves {
			if i == 0 || n%9 == i%9 || c == nil {
				list = append(list, &scenarios.Profile{Settings: set, Home: r.Adjustable.Homes[0], Acceleration: accel.Acceleration{Curve: c}})
			}
		}
	}
	return list
}

// done are trials of a profile with people of a seed; nil where it cannot be set.
func done(t *testing.T, r *scenarios.Rig, task *scenarios.Task, p *scenarios.Profile, seed uint64, n int) *sample.Trials {
	o := scenarios.Practised()
	s, err := new(trial.Grips).Seat(panel(r, task).Served()[0], p, &o)
	if err != nil {
		return nil
	}
	x := sample.Of(s)
	if _, err := trial.Batch(context.Background(), s.Bench, seed, 0, n, 1, x.Take); err != nil {
		t.Fatal(err)
	}
	return x
}

// suite are the pairs of rig and task.
var suite = [][2]string{
	{"buttons, levels", "heading"}, {"buttons, levels", "altitude"}, {"buttons, levels", "vertical-speed"}, {"buttons, levels", "hf-20m-50hz"},
	{"buttons, events", "heading"}, {"buttons, events", "altimeter-hpa"}, {"buttons, events", "hf-20m-50hz"},
	{"buttons, firmware", "heading"}, {"buttons, firmware", "vertical-speed"}, {"buttons, firmware", "hf-20m-50hz"},
	{"keys", "heading"}, {"keys", "altimeter-hpa"}, {"keys", "hf-20m-50hz"},
	{"relative", "heading"}, {"relative", "altitude"}, {"relative", "com-25"}, {"relative", "hf-20m-50hz"},
	{"relative, firmware", "altitude"}, {"relative, firmware", "vertical-speed"}, {"relative, firmware", "hf-20m-50hz"},
	{"relative, smooth", "heading"}, {"relative, smooth", "altitude"}, {"relative, smooth", "hf-20m-50hz"},
	{"relative, late", "heading"}, {"relative, late", "hf-20m-50hz"},
}

// long asks for the tests that take minutes:
// go test ./scenarios/tune -run 'Grid|Seeds|Said|Interval' -suite -v -timeout 2h.
var long = flag.Bool("suite", false, "run the searches that take minutes")

// asked says whether a pair is asked for: PAIRS may hold a part of its name, "relative/".
func asked(pair [2]string) bool {
	return strings.Contains(strings.Join(pair[:], "/"), os.Getenv("PAIRS"))
}

// On every pair of rig and task what is recommended is within 3 % of the best that a
// brute-force grid finds within the caps, and not beyond a cap by more than the luck of
// the trials; where the grid finds nothing within them, it is about as calm as the
// calmest of the grid. Both are measured on people that neither has met.
func TestNoGridIsMuchBetter(t *testing.T) {
	if !*long {
		t.Skip("takes minutes; run with -suite")
	}
	const many = 4000
	for _, pair := range suite {
		if !asked(pair) {
			continue
		}
		r, task := suiteRig(pair[0]), demo.Task(pair[1])
		best, calm := math.Inf(1), math.Inf(1)
		var found *sample.Trials
		list := bruteForce(r)
		for _, p := range list {
			x := done(t, r, task, p, 500, 400)
			if x == nil {
				continue
			}
			q := x.Summary()
			if q.Lost.Value > 0.055 || q.Overshoot.Value > max(0.10, calm)+0.035 || q.Mean > 1.05*best && q.Overshoot.Value > calm-0.01 {
				continue
			}
			x = done(t, r, task, p, 501, many)
			q = x.Summary()
			if q.Lost.Value > 0.05 {
				continue
			}
			calm = min(calm, q.Overshoot.Value)
			if q.Overshoot.Value <= 0.10 && q.Mean < best {
				best, found = q.Mean, x
			}
		}
		for seed := range uint64(2) {
			s := study(panel(r, task))
			s.Seed, s.Trials = 1+seed, 400
			k := run(t, s).Knobs[0]
			x := done(t, r, task, k.Chosen[0], 501, many)
			q := x.Summary()
			line := fmt.Sprintf("%-20s %-15s seed %d: tune %5.2f s %4.1f %% (%s), grid of %d %5.2f s, calmest %4.1f %%", pair[0], pair[1], 1+seed, q.Mean, 100*q.Overshoot.Value, k.Claims[0].Outcome(), len(list), best, 100*calm)
			t.Log(line + "  " + k.Chosen[0].About(nil))
			switch {
			case found != nil && q.Mean > 1.03*best:
				t.Errorf("%s: %.1f %% slower", line, 100*(q.Mean/best-1))
			case q.Overshoot.Low > max(0.10, calm+0.02)+0.005:
				t.Errorf("%s: beyond the cap", line)
			}
		}
	}
}

// Eight seeds end at much the same time.
func TestSeedsEndAtMuchTheSame(t *testing.T) {
	if !*long {
		t.Skip("takes a minute; run with -suite")
	}
	for _, pair := range [][2]string{{"relative", "hf-20m-50hz"}, {"buttons, levels", "vertical-speed"}, {"keys", "hf-20m-50hz"}} {
		if !asked(pair) {
			continue
		}
		r, task := suiteRig(pair[0]), demo.Task(pair[1])
		var sum, squares float64
		const seeds = 8
		for seed := range uint64(seeds) {
			s := study(panel(r, task))
			s.Seed, s.Trials = 1+seed, 400
			q := done(t, r, task, run(t, s).Knobs[0].Chosen[0], 501, 4000).Summary()
			t.Logf("%s, %s, seed %d: %.3f s, %.1f %%", pair[0], pair[1], seed+1, q.Mean, 100*q.Overshoot.Value)
			sum, squares = sum+q.Mean, squares+q.Mean*q.Mean
		}
		mean := sum / seeds
		sd := math.Sqrt(max(0, squares/seeds-mean*mean) * seeds / (seeds - 1))
		t.Logf("%s, %s: SD %.1f %%", pair[0], pair[1], 100*sd/mean)
		if sd > 0.02*mean {
			t.Errorf("%s, %s: %.2f s ± %.1f %%", pair[0], pair[1], mean, 100*sd/mean)
		}
	}
}

var _ = tune.Within
