package tune_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/tune"
)

func decide(t *testing.T, s *tune.Study, q tune.Question) *tune.Decision {
	d, err := tune.Decide(context.Background(), s, q)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// alternative returns one by its name.
func alternative(t *testing.T, d *tune.Decision, name string) *tune.Alternative {
	for _, a := range d.Alternatives {
		if a.Name == name {
			return a
		}
	}
	t.Fatalf("no alternative %q", name)
	return nil
}

// What must come out where the answer is plain.
func TestQuestionsAreAnsweredAsAnybodyWouldWhereTheAnswerIsPlain(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	slow := func() *scenarios.Rig { // pulses so slow that nobody would want them
		r := demo.Rig("left-pulse")
		r.Firmware.Pulse, r.Firmware.Gap = 150*time.Millisecond, 150*time.Millisecond
		r.Adjustable = scenarios.Adjustable{Settings: []scenarios.Range{{Key: "firmware.pulse", From: "140ms", To: "160ms", By: "10ms"}, {Key: "firmware.gap", From: "140ms", To: "160ms", By: "10ms"}}}
		return r
	}
	for _, x := range []struct {
		question tune.Question
		rig      *scenarios.Rig
		task     string
		best     string
		worse    string
	}{
		{tune.Rings, demo.Rig("right-relative"), "com-25", "two rings", "one accelerated knob"}, // 14 clicks against 148
		{tune.Output, slow(), "heading", "relative", "buttons"},                                 // B16
		{tune.Homes, slow(), "heading", "in the program", "in the firmware"},                    // more pulses on a path that has no room for those there are
		{tune.Press, demo.Rig("right-relative"), "altitude", "press-for-coarse", "neither"},     // hundreds of clicks against tens
	} {
		s := study(panel(x.rig, demo.Task(x.task)))
		s.MaxOvershoot, s.MaxLost = 1, 1
		d := decide(t, s, x.question)
		if d.Best < 0 {
			t.Fatalf("%s: %s", x.question, d.Answer())
		}
		best, worse := d.Alternatives[d.Best], alternative(t, d, x.worse)
		t.Logf("%s: %s", x.question, d.Answer())
		if x.question == tune.Press || x.question == tune.Homes { // acceleration, or a second pair, may be quicker still
			best = alternative(t, d, x.best)
		}
		quicker := best.Seconds.High < worse.Seconds.Low
		if x.question == tune.Rings { // a knob may be as quick, racing past its target and back
			quicker = best.Seconds.Value < worse.Seconds.Value && best.Overshoot < worse.Overshoot-0.1
		}
		if best.Name != x.best || !quicker {
			t.Errorf("%s: %s %.2f s, %s %.2f s", x.question, best.Name, best.Seconds.Value, worse.Name, worse.Seconds.Value)
		}
	}
}

// The same rig twice is no difference, and is said to be none.
func TestKeysWithoutRepeatAreButtons(t *testing.T) {
	rig := demo.Rig("left-pulse")
	rig.Adjustable = scenarios.Adjustable{Settings: []scenarios.Range{{Key: "firmware.pulse", Values: []string{"40ms"}}, {Key: "firmware.gap", Values: []string{"40ms"}}, {Key: "firmware.queue", Values: []string{"8"}}}}
	s := study(panel(rig, demo.Task("vertical-speed")))
	s.Progress = func(done, all int, _ string) {
		if done < 0 || done >= all {
			t.Errorf("%d of %d trials are done", done, all)
		}
	}
	d := decide(t, s, tune.Output)
	for _, p := range d.Pairs {
		if a, b := d.Alternatives[p.A].Name, d.Alternatives[p.B].Name; a == "keys" && b == "buttons" && p.Time.P < 1-paired.Level {
			t.Errorf("keys and buttons differ by %+v", p.Time.Mean)
		}
	}
}

// What cannot be built is said to be so.
func TestWhatCannotBeBuiltIsSaid(t *testing.T) {
	for _, x := range []struct {
		name     string
		question tune.Question
		rig      func(*scenarios.Rig)
		task     string
		want     string
	}{
		{"no push", tune.Press, func(r *scenarios.Rig) { r.Knob.Push = false }, "heading", "Press-for-coarse cannot be built here: the knob has no push."},
		{"no two rings", tune.Rings, func(*scenarios.Rig) {}, "heading", "none of its numbers is dialed with two rings"},
		{"no pulses", tune.Homes, func(r *scenarios.Rig) { r.Firmware.Output = encoder.Relative; scenarios.Settle(&r.Rig) }, "heading", "Second button pair cannot be built here: its firmware makes no pulses"},
	} {
		rig := demo.Rig("left-pulse")
		rig.Adjustable = scenarios.Adjustable{}
		x.rig(rig)
		s := study(panel(rig, demo.Task(x.task)))
		s.Trials = 40
		d := decide(t, s, x.question)
		var out bytes.Buffer
		if err := d.Page().Print(&out, columns.Width); err != nil {
			t.Fatal(err)
		}
		if text := strings.Join(strings.Fields(out.String()), " "); !strings.Contains(text, x.want) {
			t.Errorf("%s: %s", x.name, out.String())
		}
		if x.question == tune.Rings && (d.Best >= 0 || !strings.Contains(d.Answer(), "cannot be answered here")) {
			t.Errorf("%s: %s", x.name, d.Answer())
		}
		if _, err := json.Marshal(d.Report()); err != nil {
			t.Errorf("%s: %v", x.name, err)
		}
	}
}

// Relative counts are shown as people have them, with nothing set, and as suits them best;
// which is never slower where that is within the caps.
func TestRelativeCountsAreShownAsPeopleHaveThemAndAsSuitsThemBest(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	s := study(panel(demo.Rig("right-relative"), demo.Task("hf-20m-50hz")))
	s.Profile = &scenarios.Profile{Name: "mine", Settings: []scenarios.Setting{{Key: "usb.poll", Value: "1ms"}}, Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 3}}}
	d := decide(t, s, tune.Output)
	best, had := alternative(t, d, "relative"), alternative(t, d, "relative, one step a click")
	if p := had.Profiles[0][0]; len(p.Settings) > 0 || !p.Acceleration.Plain() {
		t.Errorf("as people have it: %s", p.About(nil))
	}
	if best.Profiles[0][0].Acceleration.Plain() || best.Seconds.High >= had.Seconds.Low {
		t.Errorf("as suits it best %.2f s, with %s; one step a click %.2f s", best.Seconds.Value, best.Profiles[0][0].About(nil), had.Seconds.Value)
	}
}

// A smooth knob counts quarter steps.
func TestASmoothKnobCanBeDecidedAbout(t *testing.T) {
	rig := demo.Rig("right-relative")
	rig.Knob.Detents, rig.Knob.Cycles = 0, 6 // 24 quarter steps a turn
	s := study(panel(rig, demo.Task("vertical-speed")))
	s.Trials = 40
	if d := decide(t, s, tune.Output); d.Best < 0 || len(alternative(t, d, "relative").Sample) == 0 {
		t.Errorf("%s", d.Answer())
	}
}

func TestADecisionIsTheSameForAnyNumberOfWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	sameForWorkers(t, "left-pulse", func(s *tune.Study) any { return decide(t, s, tune.Rings).Report() })
}

// Interrupted, a decision compares the alternatives that were finished, and names the
// others.
func TestAnInterruptedDecisionKeepsWhatWasFinished(t *testing.T) {
	s := study(panel(demo.Rig("left-pulse"), demo.Task("heading")))
	s.Trials = 40
	begun := 0
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	s.Progress = func(_, _ int, what string) {
		if what != "" {
			if begun++; begun == 3 {
				cancel()
			}
		}
	}
	d, err := tune.Decide(ctx, s, tune.Output)
	if !errors.Is(err, context.Canceled) || d == nil || !d.Partial || len(d.Pairs) != 1 || d.Best < 0 {
		t.Fatalf("%+v, %v", d, err)
	}
	var out bytes.Buffer
	if err := d.Page().Print(&out, columns.Width); err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(strings.Fields(out.String()), " "); !strings.Contains(text, "Partial: interrupted before all were tuned; nothing is known of relative,") || !strings.Contains(text, "buttons, knob:") {
		t.Error(text)
	}
	if x, err := json.Marshal(d.Report()); err != nil || !strings.Contains(string(x), `"unfinished":["relative"`) {
		t.Errorf("%s, %v", x, err)
	}
}

func TestADecisionInterruptedAtOnceIsNone(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if d, err := tune.Decide(ctx, study(demo.Panel("quillmoor")), tune.Rings); d != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("%v, %v", d, err)
	}
}

// What a decision finds best is about what a search over all outputs finds.
func TestADecisionAgreesWithTheSearchOverTheUnion(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	for _, task := range []string{"hf-20m-50hz", "vertical-speed"} {
		rig := demo.Rig("left-pulse")
		rig.Adjustable.Homes = []scenarios.Home{encoder.InProgram}
		s := study(panel(rig, demo.Task(task)))
		s.Trials, s.MaxOvershoot = 400, 0.15
		d, r := decide(t, s, tune.Output), run(t, s)
		best := d.Alternatives[d.Best]
		set, err := scenarios.Apply(r.Knobs[0].Chosen[0], rig.Rig)
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %s %.2f s; tune %s %.2f s", task, best.Name, best.Seconds.Value, set.Firmware.Output, r.After.Seconds.Value)
		if share := best.Seconds.Value / r.After.Seconds.Value; share < 0.95 || share > 1.05 {
			t.Errorf("%s: %s %.2f s; tune %s %.2f s", task, best.Name, best.Seconds.Value, set.Firmware.Output, r.After.Seconds.Value)
		}
	}
}
