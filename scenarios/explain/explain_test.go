package explain

import (
	"context"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/trial"
	"dialwright/testdata/golden"
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
	// Output: pulses and queue is the costliest link; on left-pulse pulses of 30 ms and gaps of 30 ms carry 16.7 clicks a second; 8 may wait, the next is refused
}

// The Shapley values add up to the difference between all links real and all
// ideal, in time, overshoot and lost detents; a link that is ideal already costs
// nothing at all.
func TestBlamesAddUpAndIdealLinksCostNothing(t *testing.T) {
	profiles := scenarios.Profiles()
	for i := range 3 * 2 * 6 {
		name, profile := []string{"left-pulse", "middle-keys", "right-relative"}[i%3], profiles[i/6]
		rig := demo.Rig(name)
		rig.Display.Latency = time.Duration(i/3%2) * 60 * time.Millisecond
		r := run(t, on(rig, profile, 10))
		var seconds, overshoot, lost float64
		for _, b := range r.Blames {
			seconds += b.Seconds.Value
			overshoot += b.Overshoot.Value
			lost += b.Lost.Value
			ideal := b.Link == scenarios.KeyRepeat && rig.Firmware.Output != encoder.Keys || b.Link == scenarios.DisplayLag && rig.Display.Latency == 0 ||
				b.Link == scenarios.PulsesAndQueue && rig.Firmware.Output == encoder.Relative || b.Link == scenarios.Acceleration && profile.Name == "plain"
			if ideal && (b.Seconds.Value != 0 || b.Overshoot.Value != 0 || b.Lost.Value != 0) {
				t.Errorf("%s, %s: %s is ideal already and costs %v", name, profile.Name, b.Link, b.Seconds)
			}
		}
		for what, d := range map[string]float64{
			"time": seconds - r.Total.Seconds.Value, "overshoot": overshoot - r.Total.Overshoot.Value, "lost": lost - r.Total.Lost.Value,
			"real less ideal": r.Real.Seconds.Value - r.Ideal.Seconds.Value - r.Total.Seconds.Value,
		} {
			if math.Abs(d) > 1e-9 {
				t.Errorf("%s, %s: %s: the blames miss the total by %g", name, profile.Name, what, d)
			}
		}
		if r.Total.Seconds.Value == 0 {
			t.Errorf("%s, %s: nothing costs anything", name, profile.Name)
		}
	}
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
		f.Output, f.Pulse, f.Gap, f.Queue = output, on, off, 40
	}
	for _, x := range []struct {
		link    scenarios.Link
		spoil   func(*scenarios.Rig)
		profile string
	}{
		{scenarios.ContactAndScan, func(r *scenarios.Rig) { r.Firmware.Scan = 7 * time.Millisecond }, "plain"},
		{scenarios.ContactAndScan, func(r *scenarios.Rig) { // every edge that chatters counts
			r.Knob.Bounce, r.Firmware.Decoder = 2*time.Millisecond, encoder.Edge
			r.Firmware.Scan, r.Firmware.Debounce = 100*time.Microsecond, 1
		}, "plain"},
		{scenarios.PulsesAndQueue, func(r *scenarios.Rig) { pulses(r, encoder.Buttons, 70*time.Millisecond, 70*time.Millisecond) }, "plain"},
		{scenarios.USBPoll, func(r *scenarios.Rig) { r.USB.Poll = 400 * time.Millisecond }, "plain"},
		{scenarios.KeyRepeat, func(r *scenarios.Rig) {
			// Presses that cost nothing by themselves, and a system that repeats
			// every key at once.
			f := &r.Firmware
			f.Output, f.Pulse, f.Gap, f.Queue = encoder.Keys, instant, instant, 1<<13
			r.USB.Reports = encoder.QueuedReports
			r.System.Repeat = encoder.Repeat{Rate: 30}
		}, "plain"},
		{scenarios.ProgramSampling, func(r *scenarios.Rig) { r.Program = encoder.Program{Frames: 3} }, "plain"},
		{scenarios.DisplayLag, func(r *scenarios.Rig) { r.Display.Latency = 400 * time.Millisecond }, "plain"},
		{scenarios.Acceleration, func(*scenarios.Rig) {}, "steep"},
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

// Short pulses into slow frames: either alone costs next to nothing, together they
// lose four clicks in ten, and the output says that it is the two of them.
func TestTwoLinksThatOnlyHurtTogetherAreNamedTogether(t *testing.T) {
	rig := ideal()
	f := &rig.Firmware
	f.Output, f.Pulse, f.Gap, f.Queue = encoder.Buttons, 20*time.Millisecond, 20*time.Millisecond, 40
	rig.Program = encoder.Program{Frames: 30}
	r := run(t, on(rig, scenarios.Profile{Name: "plain"}, 200))
	if len(r.Pairs) != 1 || r.Pairs[0].A != scenarios.PulsesAndQueue || r.Pairs[0].B != scenarios.ProgramSampling || r.Pairs[0].Seconds.Low <= 0 {
		t.Fatalf("pairs: %v", r.Pairs)
	}
	if r.Pairs[0].Seconds.Value < 0.8*r.Total.Seconds.Value {
		t.Errorf("together %.2f of %.2f s", r.Pairs[0].Seconds.Value, r.Total.Seconds.Value)
	}
	var out strings.Builder
	if err := r.Detail().Print(&out, columns.Width); err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(out.String()), " ")
	for _, want := range []string{
		"looks 30 times a second and your pulses last 20 ms: four clicks in ten are never seen",
		"pulses and queue together with program sampling: they cost more than each by itself",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, out.String())
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
	s.WhatIf = []scenarios.Setting{{Key: "firmware.pulse", Value: "40ms"}, {Key: "program.frames", Value: "60/s"}}
	change := run(t, s).WhatIf.Seconds.Value
	changed := demo.Rig("left-pulse")
	changed.Firmware.Pulse, changed.Program.Frames = 40*time.Millisecond, 60
	after := run(t, on(changed, scenarios.Profile{Name: "plain"}, 60)).Real.Seconds.Value
	if math.Abs(after-before-change) > 1e-9 {
		t.Errorf("what if says %+.4f s, running it %+.4f s", change, after-before)
	}
	s.WhatIf = []scenarios.Setting{{Key: "firmware.axis.bits", Value: "10"}}
	if _, err := Run(context.Background(), s); err == nil {
		t.Error("a setting that no rig uses is no error")
	}
}

// An interruption leaves what a shorter study would have said, without advice; or
// nothing, where not all combinations had been run.
func TestAnInterruptedExplanationSaysWhatWasFinished(t *testing.T) {
	for _, x := range []struct{ after, trials int }{{1, 0}, {2, blockSize}, {3, 2 * blockSize}} {
		ctx, cancel := context.WithCancel(context.Background())
		s := on(demo.Rig("left-pulse"), scenarios.Profile{Name: "plain"}, 1_000_000)
		s.Workers = 1
		s.Progress = func(done, all int) {
			if combinations := all * blockSize / s.Trials; done == (x.after-1)*combinations+combinations/2 {
				cancel()
			}
		}
		r, err := Run(ctx, s)
		if !errors.Is(err, context.Canceled) || (r == nil) != (x.trials == 0) {
			t.Errorf("cancelled in block %d: %v, %v", x.after, r != nil, err)
		}
		if r == nil {
			continue
		}
		want := run(t, on(demo.Rig("left-pulse"), scenarios.Profile{Name: "plain"}, x.trials))
		if !r.Partial || r.Trials != x.trials || r.Total != want.Total || r.Advice != nil {
			t.Errorf("cancelled in block %d: partial %v, %d trials, %v, want %v", x.after, r.Partial, r.Trials, r.Total, want.Total)
		}
	}
}

// What is advised is what a run of the changed rig does to people that the choice
// has not met.
func TestAdviceIsMeasuredOnOtherPeople(t *testing.T) {
	s := on(demo.Rig("left-pulse"), scenarios.Profile{Name: "plain"}, 60)
	r := run(t, s)
	if len(r.Advice) == 0 {
		t.Fatal("no advice for the button-pulse rig")
	}
	for _, a := range r.Advice {
		if a.Link == scenarios.Acceleration {
			continue // TestACurveThatSavesTimeIsSaid
		}
		changed := demo.Rig("left-pulse")
		if err := scenarios.Set(&changed.Rig, a.Setting.Key, a.Setting.Value); err != nil {
			t.Fatal(err)
		}
		mean := func(rig *scenarios.Rig, first, last int) (sum float64) {
			o := scenarios.Practised()
			b, err := trial.NewBench(trial.Cell{Task: scenarios.Heading(), Rings: 1, Inner: &rig.Rig, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o})
			if err != nil {
				t.Fatal(err)
			}
			for n := first; n < last; n++ {
				r := b.Run(s.Seed, n)
				sum += r.Seconds() / float64(last-first)
			}
			return sum
		}
		want := mean(changed, 60, 120) - mean(demo.Rig("left-pulse"), 60, 120)
		if math.Abs(a.Seconds.Value-want) > 1e-9 {
			t.Errorf("%s %s: %+.4f s, other people %+.4f s", a.Setting.Key, a.Setting.Value, a.Seconds.Value, want)
		}
	}
}

// An ideal contact is read by a table, whatever the firmware does: a count at every
// edge is what a bad scan makes of chatter, and belongs to the blame of the contact.
func TestEveryIdealIsAsItSays(t *testing.T) {
	r := *demo.Rig("middle-keys")
	r.Firmware.Decoder, r.Firmware.Scan, r.Firmware.Debounce, r.Knob.Bounce = encoder.Edge, 3*time.Millisecond, 4, 2*time.Millisecond
	r.Program.Hold = encoder.Hold{Delay: time.Second, Period: time.Second}
	r.Display.Latency = 80 * time.Millisecond
	x := setup{rig: r.Rig, profile: scenarios.Profiles()[3]}
	if m := x.mend(all); m.key() != x.key() {
		t.Errorf("with all links real the setup is another one:\n%s\n%s", x.key(), m.key())
	}
	for l, ideal := range map[scenarios.Link]func(setup) bool{
		scenarios.ContactAndScan: func(m setup) bool {
			f := m.rig.Firmware
			return f.Decoder == encoder.Table && f.Scan == instant && f.Debounce == 1 && m.rig.Knob.Bounce == 0
		},
		scenarios.PulsesAndQueue: func(m setup) bool { return m.rig.Firmware.Pulse <= instant && m.rig.Firmware.Gap <= instant },
		scenarios.USBPoll:        func(m setup) bool { return m.rig.USB.Poll == instant },
		scenarios.KeyRepeat:      func(m setup) bool { return m.rig.System.Repeat == encoder.Repeat{} },
		scenarios.ProgramSampling: func(m setup) bool {
			return m.rig.Program.Sampling == encoder.Immediate && m.rig.Program.Hold.Period == 0
		},
		scenarios.DisplayLag:   func(m setup) bool { return m.rig.Display.Latency == 0 },
		scenarios.Acceleration: func(m setup) bool { return m.profile.Acceleration.Plain() },
	} {
		if ideal(x) {
			t.Errorf("%s is ideal to begin with", l)
		}
		if !ideal(x.mend(all &^ (1 << l))) {
			t.Errorf("%s is mended and not ideal", l)
		}
	}
}

// A link is worth advice from 3 % of the mean time of a dialing, and a setting is
// advised from half a per cent of it.
func TestAdviceIsForWhatCosts(t *testing.T) {
	if worthShare != 0.03 || noticedShare != 0.005 {
		t.Fatalf("thresholds %v and %v", worthShare, noticedShare)
	}
	s := on(demo.Rig("left-pulse"), scenarios.Profile{Name: "plain"}, 60)
	tasks, err := s.tasks(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		share  float64
		times  float64 // of a dialing as it is
		advice bool
	}{{0.029, 1, false}, {0.031, 1, true}, {0.031, 1000, false}} {
		r := run(t, s)
		for _, task := range tasks {
			for _, j := range task.jobs() {
				if j.done, err = s.run(context.Background(), nil, task.Served, j.of.inner.mend(j.set), j.of.outer.mend(j.set), true, 0, r.Trials); err != nil {
					t.Fatal(err)
				}
			}
			task.collect(r.Trials)
		}
		r.Advice = nil
		r.Real.Seconds.Value *= x.times
		for i := range r.Blames { // the same link, said to cost so much
			r.Blames[i].Seconds.Value = 0
			if r.Blames[i].Link == scenarios.PulsesAndQueue {
				r.Blames[i].Seconds.Value = x.share * r.Real.Seconds.Value
			}
		}
		if err := r.advise(context.Background(), tasks); err != nil {
			t.Fatal(err)
		}
		r.Advice = slices.DeleteFunc(r.Advice, func(a Advice) bool { return a.Link == scenarios.Acceleration })
		if got := len(r.Advice) > 0; got != x.advice {
			t.Errorf("a link that costs %.3f of %.0f s gets advice: %v", x.share, r.Real.Seconds.Value, got)
		}
		for _, a := range r.Advice {
			if a.Link != scenarios.PulsesAndQueue || -a.Seconds.Value < noticedShare*r.Real.Seconds.Value/2 {
				t.Errorf("advice %+v", a)
			}
		}
	}
}

// A plain knob on which a curve saves time is never called ideal, and what a curve is
// said to do is what a run with it does to other people.
func TestACurveThatSavesTimeIsSaid(t *testing.T) {
	s := on(demo.Rig("left-pulse"), *scenarios.Plain(), 60)
	s.Panel.Knobs[0].Tasks[0].Task = demo.Task("hf-20m-50hz")
	r := run(t, s)
	i := slices.IndexFunc(r.Blames, func(b Blame) bool { return b.Link == scenarios.Acceleration })
	if b := r.Blames[i]; !strings.HasPrefix(b.Sentence, "none is set; of the built-in ones ") {
		t.Errorf("acceleration %s", b.Sentence)
	}
	if len(r.Quicker) == 0 || r.Quicker[0].Seconds.Value > -10 {
		t.Fatalf("%+v", r.Quicker)
	}
	a := r.Quicker[0]
	mean := func(name string) (sum float64) {
		p := scenarios.Profiles()[slices.IndexFunc(scenarios.Profiles(), func(p scenarios.Profile) bool { return p.Name == name })]
		seat, err := new(trial.Grips).Seat(s.Panel.Served()[0], &p, s.Operator)
		if err != nil {
			t.Fatal(err)
		}
		for n := 60; n < 120; n++ {
			r := seat.Run(s.Seed, n)
			sum += r.Seconds() / 60
		}
		return sum
	}
	if want := mean(a.Setting.Value) - mean("plain"); math.Abs(a.Seconds.Value-want) > 1e-9 {
		t.Errorf("%s: %+.4f s, other people %+.4f s", a.Setting.Value, a.Seconds.Value, want)
	}
}

// The answer fits a small terminal and accounts for all of the time: what the lines
// say adds up to what a dialing takes.
func TestTheAnswerAccountsForAllOfTheTime(t *testing.T) {
	for _, profile := range []string{"plain", "power"} {
		p := scenarios.Profiles()[slices.IndexFunc(scenarios.Profiles(), func(p scenarios.Profile) bool { return p.Name == profile })]
		o := scenarios.Practised()
		r := run(t, &Study{Panel: demo.Panel("quillmoor"), Profile: &p, Operator: &o, Trials: 40, Seed: 1, Workers: 2})
		for _, width := range []int{80, 60} {
			var out strings.Builder
			if err := r.Page().Print(&out, width); err != nil {
				t.Fatal(err)
			}
			lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
			for _, line := range lines {
				if n := len([]rune(line)); n > width {
					t.Errorf("%d columns: %s", n, line)
				}
			}
			if width == 80 && len(lines) > 30 {
				t.Errorf("%d lines", len(lines))
			}
			golden.Check(t, fmt.Sprintf("testdata/%s-%d.txt", profile, width), out.String())
			if width == 60 {
				continue
			}
			sum, real := 0.0, 0.0
			_, where, _ := strings.Cut(out.String(), "Where ")
			if _, err := fmt.Sscanf(where, "%f", &real); err != nil {
				t.Fatal(err)
			}
			number := regexp.MustCompile(`(?m)^ (?:hand and eye|pulses and queue|program sampling|display lag|USB poll|contact and scan|key repeat|acceleration) +(−?[0-9.]+)|\(together (−?[0-9.]+) s\)`)
			for _, m := range number.FindAllStringSubmatch(where, -1) {
				x, err := strconv.ParseFloat(strings.ReplaceAll(m[1]+m[2], "−", "-"), 64)
				if err != nil {
					t.Fatal(err)
				}
				sum += x
			}
			if math.Abs(sum-real) > 0.04 { // eight roundings
				t.Errorf("%s: the lines add up to %.2f s of %.2f s:\n%s", profile, sum, real, out.String())
			}
		}
	}
}

func BenchmarkDemo(b *testing.B) {
	o := scenarios.Practised()
	for b.Loop() {
		run(b, &Study{Panel: demo.Panel("quillmoor"), Profile: &scenarios.Profile{Name: "plain"}, Operator: &o, Trials: 100, Seed: 1, Workers: 2})
	}
}
