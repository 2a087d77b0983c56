package tune

import (
	"context"
	"math"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"

	"pgregory.net/rapid"
)

// heading is a knob that dials headings, with every curve that there is.
func heading(t interface{ Fatal(...any) }) (*space, []scenarios.Served) {
	rig := demo.Rig("left-pulse")
	rig.Adjustable.Curves = accel.CurveWords()
	k := &scenarios.Knob{Name: "knob", Rings: 1, Inner: rig, Tasks: []scenarios.Use{{Task: demo.Task("heading"), PerHour: 1}}}
	x, err := newSpace(k, &scenarios.Profile{Name: "plain"})
	if err != nil {
		t.Fatal(err)
	}
	return x, served(k)
}

// Wherever a search is, the curves there and one stride away can be had and aimed with.
func TestCurvesAndTheirNeighboursCompileAndAreTame(t *testing.T) {
	x, _ := heading(t)
	rapid.Check(t, func(r *rapid.T) {
		at := make([]float64, x.size())
		for i := range at {
			at[i] = rapid.Float64Range(0, 1).Draw(r, "coordinate")
		}
		curve := x.profile(at).Acceleration.Curve
		for range 3 { // a short walk
			if _, err := (accel.Acceleration{Curve: curve}).Compile(); err != nil || !x.tame(curve) {
				r.Fatalf("%#v: %v, tame: %v", curve, err, x.tame(curve))
			}
			near := x.curvesNear(curve, rapid.SampledFrom(strides).Draw(r, "stride"))
			if len(near) == 0 {
				return
			}
			curve = rapid.SampledFrom(near).Draw(r, "next")
		}
	})
}

// A neighbour is another one: no stride ends where it began.
func TestNeighboursDiffer(t *testing.T) {
	x, uses := heading(t)
	f := &finals{KnobResult: &KnobResult{Knob: x.knob}, space: x, uses: uses}
	c := one("c", &scenarios.Profile{Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}}, 1)
	for _, n := range f.neighbors(c, strides[0]) {
		if len(x.differences(c.profiles, n.profiles)) == 0 {
			t.Errorf("%s is no other than %s", n.profiles[0].About(), c.profiles[0].About())
		}
	}
}

// sampleOf is a task's trials, with a limit of a minute.
func sampleOf(perHour float64, seconds []float64, overshot []bool) *sample.Trials {
	t := &sample.Trials{
		Use: scenarios.Served{PerHour: perHour}, Seconds: seconds, Limit: 60,
		Past: make([]int64, len(seconds)), Detents: make([]int, len(seconds)), Lost: make([]int, len(seconds)),
	}
	for i, o := range overshot {
		if o {
			t.Past[i] = 1
		}
	}
	return t
}

// Two tasks by hand: mean differences of 1 and 2 s, weighed 3 to 1, an overshoot
// more in one of two trials counting 4 s.
func TestAContrastIsAWeightedPairedDifference(t *testing.T) {
	a := sample.Panel{sampleOf(3, []float64{2, 4}, []bool{true, false}), sampleOf(1, []float64{5, math.Inf(1)}, []bool{false, false})}
	b := sample.Panel{sampleOf(3, []float64{1, 3, 9}, []bool{false, false, false}), sampleOf(1, []float64{3, 58, 9}, []bool{false, false, false})}
	mean, noise := contrast(a, b, 4)
	// First task: 1+4 and 1, mean 3, variance of the mean (4+4)/2 = 4. Second: 2 and 2.
	if mean != (3*3+2)/4. || math.Abs(noise-3*2/4.) > 1e-9 {
		t.Errorf("mean %v, standard error %v", mean, noise)
	}
}

// What cannot be told from the last that stays, stays too; what a paired test shows to
// be behind goes, though it is in the better half.
func TestTheRaceGoesByPairedTests(t *testing.T) {
	x, _ := heading(t)
	s := &search{Study: &Study{MaxOvershoot: 1, MaxLost: 1, For: Speed}}
	at := make([]float64, x.size())
	var all []*candidate
	add := func(seconds float64) {
		times := make([]float64, 40)
		for i := range times {
			times[i] = seconds + 0.001*float64(i%3) // little noise: a tenth of a second is clear
		}
		all = append(all, &candidate{at: at, sample: sample.Panel{sampleOf(1, times, make([]bool, 40))}})
	}
	for range 20 {
		add(5)
	}
	for i := range 20 {
		add(6 + 0.1*float64(i))
	}
	kept := s.quicker(x, all)
	for _, c := range kept {
		if c.sample[0].Seconds[0] > 5.5 {
			t.Errorf("%v s is kept, clearly behind 5 s", c.sample[0].Seconds[0])
		}
	}
	if len(kept) != 20 {
		t.Errorf("%d of 20 equals are kept", len(kept))
	}

	noisy := []*candidate{}
	for i := range 40 { // all the same but for luck
		times := make([]float64, 40)
		for k := range times {
			times[k] = 5 + float64((7*i+13*k+i*k)%11)
		}
		noisy = append(noisy, &candidate{at: at, sample: sample.Panel{sampleOf(1, times, make([]bool, 40))}})
	}
	if kept := s.quicker(x, noisy); len(kept) <= 20 {
		t.Errorf("%d of 40 that differ by luck alone are kept: luck decided", len(kept))
	}
}

// Near the cap the polish pays no more time than it must.
func TestTheWayBackFromTheCapIsTheShortest(t *testing.T) {
	s := &search{Study: &Study{MaxOvershoot: 0.2, MaxLost: 1, For: Speed}}
	with := func(seconds float64, overshoots int) *candidate {
		times, over := make([]float64, 100), make([]bool, 100)
		for i := range times {
			times[i], over[i] = seconds, i < overshoots
		}
		return &candidate{sample: sample.Panel{sampleOf(1, times, over)}}
	}
	from := with(5, 30)
	none, some, few := with(20, 0), with(6, 10), with(5.5, 25)
	got := s.enough(from, []*candidate{none, some, few}, totals{overshoot: 0.3, variance: 0.0001}, 1, true)
	if got[0] != some || got[2] != few {
		t.Errorf("first %v s", got[0].sample[0].Seconds[0])
	}
}

// A pulse that outlasts poll and frame is never missed (B9): none of many clicks that
// come slowly enough is lost.
func TestPulsesThatOutlastPollAndFrameAreNeverMissed(t *testing.T) {
	x, uses := heading(t)
	p := &scenarios.Profile{Name: "long", Settings: x.long()}
	rig, err := scenarios.Apply(p, x.knob.Inner.Rig)
	if err != nil {
		t.Fatal(err)
	}
	frame := rig.Program.Frames.Period()
	if least := rig.USB.Poll + frame + frame/5; rig.Firmware.Pulse < least || rig.Firmware.Gap < least {
		t.Errorf("on %v, off %v; want %v at least", rig.Firmware.Pulse, rig.Firmware.Gap, least)
	}
	o := scenarios.Practised()
	s := &search{Study: &Study{Operator: &o, Seed: 1, Workers: 2}}
	c := one("long", p, 1)
	if err := s.measure(context.Background(), uses, &o, []*candidate{c}, 1, 0, 200); err != nil {
		t.Fatal(err)
	}
	b, err := trial.NewSeat(uses[0], p, &o)
	if err != nil {
		t.Fatal(err)
	}
	for n := range 200 {
		if a := b.Run(1, n).Account; a.FrameMissed+a.PollMissed+a.Merged > 0 {
			t.Fatalf("trial %d: %+v", n, a)
		}
	}
	if rig.Program.Sampling != encoder.State {
		t.Error("the demo's rig samples levels")
	}
}
