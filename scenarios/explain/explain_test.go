package explain

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"

	"pgregory.net/rapid"
)

func run(t testing.TB, s *Study) *Result {
	r, err := Run(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// on explains one task on one rig.
func on(rig *scenarios.Rig, profile scenarios.Profile, trials int) *Study {
	o := scenarios.Practised()
	return &Study{
		Panel: &scenarios.Panel{Name: "one", Knobs: []scenarios.Knob{{
			Name: "knob", Rings: 1, Inner: rig, Tasks: []scenarios.Use{{Task: scenarios.Heading(), PerHour: 1}},
		}}},
		Profile: &profile, Operator: &o, Trials: trials, Seed: 1, Workers: 2,
	}
}

func Example() {
	operator := scenarios.Practised()
	r, err := Run(context.Background(), &Study{
		Panel: demo.Panel("quillmoor"), Profile: &scenarios.Profile{Name: "plain"}, Operator: &operator, Trials: 40, Seed: 1,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(r.Blames[0].Link, "is the costliest link;", r.Blames[0].Sentence)
	// Output: pulses and queue is the costliest link; on left-pulse pulses of 30ms and gaps of 30ms carry 16.7 clicks a second; 8 may wait, the next is refused
}

// The Shapley values add up to the difference between all links real and all
// ideal, in time, overshoot and lost detents; a link that is ideal already costs
// nothing at all.
func TestBlamesAddUpAndIdealLinksCostNothing(t *testing.T) {
	profiles := scenarios.Profiles()
	rapid.Check(t, func(t *rapid.T) {
		rig := demo.Rig(rapid.SampledFrom([]string{"left-pulse", "middle-keys", "right-relative"}).Draw(t, "rig"))
		rig.Display.Latency = time.Duration(rapid.IntRange(0, 2).Draw(t, "lag")) * 60 * time.Millisecond
		s := on(rig, profiles[rapid.IntRange(0, 5).Draw(t, "profile")], 10)
		r, err := Run(context.Background(), s)
		if err != nil {
			t.Fatal(err)
		}
		var seconds, overshoot, lost float64
		for _, b := range r.Blames {
			seconds += b.Seconds.Value
			overshoot += b.Overshoot.Value
			lost += b.Lost.Value
			ideal := b.Link == Repeat && rig.Firmware.Output != encoder.Keys || b.Link == Display && rig.Display.Latency == 0 ||
				b.Link == Pulses && rig.Firmware.Output == encoder.Relative
			if ideal && (b.Seconds.Value != 0 || b.Overshoot.Value != 0 || b.Lost.Value != 0) {
				t.Errorf("%s is ideal already and costs %v", b.Link, b.Seconds)
			}
		}
		for what, d := range map[string]float64{
			"time": seconds - r.Total.Seconds.Value, "overshoot": overshoot - r.Total.Overshoot.Value, "lost": lost - r.Total.Lost.Value,
			"real less ideal": r.Real.Seconds.Value - r.Ideal.Seconds.Value - r.Total.Seconds.Value,
		} {
			if math.Abs(d) > 1e-9 {
				t.Errorf("%s: the blames miss the total by %g", what, d)
			}
		}
	})
}

// ideal is a rig on which every link is ideal.
func ideal() *scenarios.Rig {
	r := &scenarios.Rig{Rig: setup{rig: encoder.Default()}.mend(0).rig}
	r.Name = "ideal"
	return r
}

// On rigs that are ideal but for one link, that link gets nearly all of the blame.
func TestTheOneBadLinkIsBlamed(t *testing.T) {
	pulses := func(r *scenarios.Rig, output encoder.Output, on, off time.Duration) {
		f := &r.Firmware
		f.Output, f.On, f.Off, f.Queue = output, on, off, 40
	}
	for _, x := range []struct {
		link    Link
		spoil   func(*scenarios.Rig)
		profile string
	}{
		{Contact, func(r *scenarios.Rig) { r.Firmware.Scan = 7 * time.Millisecond }, "plain"},
		{Pulses, func(r *scenarios.Rig) { pulses(r, encoder.Buttons, 70*time.Millisecond, 70*time.Millisecond) }, "plain"},
		{Poll, func(r *scenarios.Rig) { r.USB.Poll = 400 * time.Millisecond }, "plain"},
		{Repeat, func(r *scenarios.Rig) {
			// Presses that cost nothing by themselves, and a system that repeats
			// every key at once.
			f := &r.Firmware
			f.Output, f.On, f.Off, f.Queue = encoder.Keys, instant, instant, 1<<13
			r.USB.Reports = encoder.QueuedReports
			r.System.Repeat = encoder.Repeat{Rate: 30}
		}, "plain"},
		{Sampling, func(r *scenarios.Rig) { r.Program = encoder.Program{Frames: 3} }, "plain"},
		{Display, func(r *scenarios.Rig) { r.Display.Latency = 400 * time.Millisecond }, "plain"},
		{Acceleration, func(*scenarios.Rig) {}, "steep"},
	} {
		rig := ideal()
		x.spoil(rig)
		profile := scenarios.Profile{Name: "plain"}
		if x.profile == "steep" {
			profile = scenarios.Profiles()[4]
		}
		r := run(t, on(rig, profile, 200))
		share := 0.0
		for _, b := range r.Blames {
			if b.Link == x.link {
				share = b.Seconds.Value / r.Total.Seconds.Value
			}
		}
		if !found(r.Total.Seconds) {
			t.Errorf("%s: the rig is not bad: %v", x.link, r.Total.Seconds)
		}
		if share < 0.9 {
			t.Errorf("%s gets %.2f of the blame of %.2f s", x.link, share, r.Total.Seconds.Value)
		}
	}
}

func TestAnExplanationDoesNotDependOnTheWorkers(t *testing.T) {
	s := on(demo.Rig("left-pulse"), scenarios.Profiles()[1], 20)
	s.Workers = 1
	want := fmt.Sprintf("%+v", run(t, s).Report())
	s.Workers = 4
	if got := fmt.Sprintf("%+v", run(t, s).Report()); got != want {
		t.Errorf("%s\nnot\n%s", got, want)
	}
}

// The question what if is answered with what a run of the changed rig gives.
func TestWhatIfIsWhatARunGives(t *testing.T) {
	s := on(demo.Rig("left-pulse"), scenarios.Profile{Name: "plain"}, 60)
	before := run(t, s).Real.Seconds.Value
	s.WhatIf = []scenarios.Setting{{Key: "firmware.on", Value: "40ms"}, {Key: "program.frames", Value: "60/s"}}
	change := run(t, s).WhatIf.Seconds.Value
	changed := demo.Rig("left-pulse")
	changed.Firmware.On, changed.Program.Frames = 40*time.Millisecond, 60
	after := run(t, on(changed, scenarios.Profile{Name: "plain"}, 60)).Real.Seconds.Value
	if math.Abs(after-before-change) > 1e-9 {
		t.Errorf("what if says %+.4f s, running it %+.4f s", change, after-before)
	}
	s.WhatIf = []scenarios.Setting{{Key: "firmware.axis.bits", Value: "10"}}
	if _, err := Run(context.Background(), s); err == nil {
		t.Error("a setting that no rig uses is no error")
	}
}

func TestAnInterruptedExplanationIsNone(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s := on(demo.Rig("left-pulse"), scenarios.Profile{Name: "plain"}, 1_000_000)
	s.Progress = func(int, int) { cancel() }
	time.AfterFunc(50*time.Millisecond, cancel)
	if r, err := Run(ctx, s); r != nil || !errors.Is(err, context.Canceled) {
		t.Errorf("%v, %v", r != nil, err)
	}
}

func BenchmarkDemo(b *testing.B) {
	o := scenarios.Practised()
	for b.Loop() {
		run(b, &Study{Panel: demo.Panel("quillmoor"), Profile: &scenarios.Profile{Name: "plain"}, Operator: &o, Trials: 100, Seed: 1, Workers: 2})
	}
}
