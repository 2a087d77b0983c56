package tune

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/sample"
)

// finals is a field of some uses, a knob each, with nothing tried.
func finals(uses int) *field {
	b := &board{space: &space{homes: []scenarios.Home{encoder.InProgram}}}
	for i := range uses {
		b.uses = append(b.uses, use{Served: scenarios.Served{Task: demo.Task("heading"), Knob: &scenarios.Knob{Name: fmt.Sprint(i)}, PerHour: 1}, knob: i, spots: make([]spot, 1)})
		b.now = append(b.now, scenarios.Plain())
	}
	s := &search{Study: &Study{MaxOvershoot: 0.1, MaxLost: 0.05, For: Speed}}
	f := &field{pool: s.pool(b, "choice")}
	for range uses {
		f.most, f.lost = append(f.most, s.MaxOvershoot), append(f.lost, s.MaxLost)
	}
	return f
}

// steady are trials that each take as long, of which a share overshoots and which lose a
// share of ten detents each.
func steady(n int, seconds, overshoot, lost float64) *sample.Trials {
	t := &sample.Trials{Use: scenarios.Served{PerHour: 1}, Limit: 300}
	over, gone := 0, 0
	for i := 1; i <= n; i++ {
		past, missed := int64(0), 0
		if float64(over) < math.Round(overshoot*float64(i)*1e6)/1e6 {
			past, over = 3, over+1
		}
		for float64(gone) < math.Round(lost*float64(10*i)*1e6)/1e6 {
			missed, gone = missed+1, gone+1
		}
		t.Seconds, t.Past, t.Detents, t.Lost = append(t.Seconds, seconds), append(t.Past, past), append(t.Detents, 10), append(t.Lost, missed)
	}
	return t
}

// gain is a profile with a constant gain and some settings.
func gain(g float64, settings ...string) *scenarios.Profile {
	return &scenarios.Profile{Name: "tuned", Settings: set(settings...), Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: g}}}
}

// did is a try that has done some trials.
func (f *field) did(use int, p *scenarios.Profile, n int, seconds, overshoot, lost float64) *try {
	t := f.try(use, p)
	t.sample = sample.Panel{steady(n, seconds, overshoot, lost)}
	return t
}

// A score is the mean over rigs and people of mean time, share of overshoots and of lost
// detents; a timeout lasts as long as its limit; for the worst the slowest counts.
func TestAScoreIsTheMeanOverRigsAndPeople(t *testing.T) {
	f := finals(1)
	x := f.try(0, gain(2))
	slow := steady(20, 6, 0.5, 0.2)
	slow.Seconds[0], slow.Limit = math.Inf(1), 46
	x.sample = sample.Panel{steady(20, 4, 0.1, 0.1), slow}
	if got, want := f.score(x), (score{20, 6, 0.3, 0.15}); got != want { // 4 and 6 + 40/20 s
		t.Errorf("%+v, want %+v", got, want)
	}
	if got, want := f.first(x, 10), (score{10, 7, 0.3, 0.15}); got != want { // 4 and 6 + 40/10 s
		t.Errorf("the first ten: %+v, want %+v", got, want)
	}
	if f.For = Worst; f.first(x, 20).seconds != 8 {
		t.Errorf("the slowest: %+v", f.first(x, 20))
	}
	x.sample[1] = steady(15, 6, 0.5, 0.2)
	if n := x.trials(); n != 15 {
		t.Errorf("%d trials with everybody", n)
	}
	x.sample[1] = nil
	if n := x.trials(); n != 0 {
		t.Errorf("interrupted before the second: %d trials", n)
	}
}

// What a search makes small: the mean time, what the aim counts for an overshoot, ten mean
// dialings for a whole share of overshoots beyond the cap and twenty for one of lost clicks.
func TestThePriceOfATry(t *testing.T) {
	f := finals(1)
	for _, x := range []struct {
		aim  Aim
		of   score
		want float64
	}{
		{Speed, score{100, 4, 0.1, 0.05}, 4},
		{Speed, score{100, 4, 0.2, 0.05}, 4 + 4*10*0.1},
		{Speed, score{100, 4, 0.1, 0.1}, 4 + 4*20*0.05},
		{Balance, score{100, 4, 0.1, 0.05}, 4 + 4*0.5*0.1},
		{Calm, score{100, 4, 0.1, 0.05}, 4 + 4*4*0.1},
	} {
		if f.For = x.aim; math.Abs(f.search.price(x.of, 0.1)-x.want) > 1e-9 {
			t.Errorf("%s, %+v: %g, want %g", x.aim, x.of, f.search.price(x.of, 0.1), x.want)
		}
	}
	f = finals(2)
	f.board.uses[1].PerHour = 3
	x := point{gain(2), gain(2)}
	f.did(0, x[0], 100, 4, 0, 0)
	f.did(1, x[1], 100, 5, 0, 0)
	if got := f.pool.price(x, x.all(), 0.1); got != 4+3*5 {
		t.Errorf("over dialings an hour: %g", got)
	}
	if got := f.pool.price(x, []int{1}, 0.1); got != 3*5 {
		t.Errorf("of one use: %g", got)
	}
	if f.order[1].err = errDead; !math.IsInf(f.pool.price(x, x.all(), 0.1), 1) {
		t.Error("what cannot be tried has a price")
	}
}

// Tries whose first trials came to the same count once among those that are kept.
func TestTriesThatDoTheSameAreOne(t *testing.T) {
	f := finals(1)
	a, b := f.did(0, gain(2), 500, 4, 0.1, 0), f.did(0, gain(2, "firmware.gap=40ms"), 600, 4, 0.1, 0)
	c, few := f.did(0, gain(3), 500, 4, 0.11, 0), f.did(0, gain(4), lookTrials-1, 4, 0.1, 0)
	if a.does() == 0 || a.does() != b.does() || a.does() == c.does() || few.does() != 0 {
		t.Errorf("they do %d, %d, %d, %d", a.does(), b.does(), c.does(), few.does())
	}
	if got := distinct([]*try{a, b, few, c}, 3); !slices.Equal(got, []*try{a, few, c}) {
		t.Errorf("%d kept", len(got))
	}
	if got := distinct([]*try{a, b, few, c}, 2); !slices.Equal(got, []*try{a, few}) {
		t.Errorf("%d kept of two", len(got))
	}
	fewer := f.did(0, gain(5), lookTrials-1, 4, 0.1, 0)
	if got := distinct([]*try{few, fewer, a}, 9); !slices.Equal(got, []*try{few, fewer, a}) {
		t.Error("what two do is not known, and they are taken for the same")
	}
	if got := f.try(0, gain(2)); got != a {
		t.Error("the same profile is another try")
	}
	home := gain(2)
	if home.Home = encoder.InFirmware; f.try(0, home) == a {
		t.Error("an acceleration in the firmware is one in the program")
	}
	plain := scenarios.Plain()
	there := *plain
	if there.Home = encoder.InFirmware; f.try(0, plain) != f.try(0, &there) {
		t.Error("without an acceleration the home matters")
	}
}

// What a use may overshoot and lose are the caps; where everything loses more, a tenth
// more than the least and a point; where nothing is within the cap, what the calmest does
// and at most a point more.
func TestTheLimitsOfAUse(t *testing.T) {
	for _, x := range []struct {
		name       string
		tries      [][2]float64 // overshoot, lost
		caps       Caps
		most, lost float64
	}{
		{"within both", [][2]float64{{0.3, 0.2}, {0.05, 0.01}}, Each, 0.1, 0.05},
		{"clicks are lost", [][2]float64{{0.05, 0.2}, {0.01, 0.3}}, Each, 0.1, 1.1*0.2 + 0.01},
		{"the calmest is beyond the cap", [][2]float64{{0.4, 0}, {0.2, 0}, {0.02, 0.4}}, Each, 0.2 + 0.7*math.Sqrt(0.2*0.8/2400) + 0.01, 0.05},
		{"hardly beyond the cap", [][2]float64{{0.4, 0}, {0.1, 0}}, Each, 0.1 + 2*0.7*math.Sqrt(0.1*0.9/2400), 0.05},
		{"the caps are the panel's", [][2]float64{{0.4, 0}}, Whole, 1, 0.05},
		{"nothing was tried", nil, Each, 1, 1},
	} {
		f := finals(1)
		f.Caps = x.caps
		for i, y := range x.tries {
			f.did(0, gain(float64(2+i)), choiceTrials, 4, y[0], y[1])
		}
		if f.limit(); math.Abs(f.most[0]-x.most) > 1e-6 || x.tries != nil && math.Abs(f.lost[0]-x.lost) > 1e-6 {
			t.Errorf("%s: at most %g and %g, want %g and %g", x.name, f.most[0], f.lost[0], x.most, x.lost)
		}
	}
}

// A share is known to its standard error, and even none among few trials is not nothing.
func TestTheNoiseOfAShare(t *testing.T) {
	for _, x := range []struct {
		share  float64
		trials int
		want   float64
	}{{0.1, 900, 0.01}, {0.5, 2500, 0.01}, {0, 25, 0.01}, {0.001, 100, 0.005}} {
		if got := noise(x.share, x.trials); math.Abs(got-x.want) > 1e-9 {
			t.Errorf("%g of %d: %g, want %g", x.share, x.trials, got, x.want)
		}
	}
	f := finals(1)
	a := f.did(0, gain(2), 900, 4, 0.1, 0)
	for shown, want := range map[shown]float64{nothing: 0.107, within: 0.1, above: 0.107} {
		if a.shown = shown; math.Abs(f.guarded(a)-want) > 1e-6 {
			t.Errorf("shown %d: %g, want %g", shown, f.guarded(a), want)
		}
	}
	a.shown = nothing
	calm := f.did(0, gain(3), 900, 4, 0.01, 0)
	if calm.shown = above; math.Abs(f.guarded(calm)-0.105) > 1e-6 {
		t.Errorf("a test showed that it is above the cap: %g", f.guarded(calm))
	}
	if got := f.calmest(0); !slices.Equal(got, []*try{calm, a}) {
		t.Error("the calmest is not the first")
	}
	f.did(0, gain(4), 900, 4, 0, 0.06)
	if got := f.calmest(0); len(got) != 2 {
		t.Error("one that loses too much is among the calmest")
	}
}

// The choice is the quickest within the caps under settings that all uses share. Those of
// now stay where nothing is better.
func TestTheChoiceIsTheQuickestWithinTheCaps(t *testing.T) {
	f := finals(2)
	slow, quick := "firmware.gap=50ms", "firmware.gap=20ms"
	for i := range 2 {
		f.did(i, f.board.now[i], choiceTrials, 9, 0, 0)
	}
	if got := f.choose(); !slices.Equal(got, f.board.now) {
		t.Error("nothing else was tried")
	}
	for i := range 2 {
		f.did(i, gain(2, slow), choiceTrials, 8, 0, 0)
		f.did(i, gain(3, slow), choiceTrials, 7, 0.05, 0)
		f.did(i, gain(4, slow), choiceTrials, 6, 0.3, 0)
		f.did(i, gain(5, slow), choiceTrials, 5, 0, 0.2)
		f.did(i, gain(6, slow), choiceTrials-1, 1, 0, 0) // not enough is known
	}
	f.did(1, gain(7, slow), choiceTrials, 6.5, 0, 0)
	f.did(0, gain(9, quick), choiceTrials, 2, 0, 0) // the other use has nothing under these
	if got := f.choose(); got[0].Acceleration.Curve.Of(1) != 3 || got[1].Acceleration.Curve.Of(1) != 7 || got[0].Settings[0].Value != "50ms" {
		t.Errorf("%+v, %+v", got[0], got[1])
	}
	f.did(1, gain(9, quick), choiceTrials, 11, 0, 0)
	if got := f.choose(); got[0].Acceleration.Curve.Of(1) != 9 || got[1].Settings[0].Value != "20ms" { // 13 s together, not 13.5
		t.Errorf("%+v, %+v", got[0], got[1])
	}
	f.board.uses[1].PerHour = 2 // 24 s together, not 20
	if got := f.choose(); got[0].Acceleration.Curve.Of(1) != 3 {
		t.Errorf("%+v, %+v", got[0], got[1])
	}
	// Where there must be an acceleration, none is no choice, however good.
	f.did(0, scenarios.Plain(), choiceTrials, 9, 0, 0)
	for i := range 2 {
		f.try(i, f.board.now[i]).sample = sample.Panel{steady(choiceTrials, 0.1, 0, 0)}
		f.try(i, f.board.now[i]).soFar = score{}
	}
	if got := f.choose(); !slices.Equal(got, f.board.now) {
		t.Errorf("%+v, %+v, though none is the quickest", got[0], got[1])
	}
	if f.board.space.always = true; slices.Equal(f.choose(), f.board.now) {
		t.Error("there must be an acceleration, and none is chosen")
	}
	found := point{gain(1), gain(1)}
	if f.found = found; !slices.Equal(f.choose(), found) {
		t.Error("an interrupted search has its choice already")
	}
}

// The cost of a try: its time, what the aim and the panel's cap count for an overshoot,
// and a wall beyond the limits, unless a test has shown on which side it is.
func TestTheCostOfATryHasAWallAtTheLimits(t *testing.T) {
	guard := 0.7 * math.Sqrt(0.1*0.9/2400)
	for _, x := range []struct {
		overshoot, lost, most, price float64
		aim                          Aim
		shown                        shown
		want                         float64
	}{
		{0.05, 0.05, 0.1, 0, Speed, nothing, 4},
		{0.05, 0.05, 0.1, 0, Balance, nothing, 4 + 4*0.5*0.05},
		{0.05, 0.06, 0.1, 0, Speed, nothing, 4 + 1e4*0.01},
		{0.1, 0, 0.1, 0, Speed, nothing, 4 + 1e4*guard},
		{0.1, 0, 0.1, 0, Speed, within, 4},
		{0.05, 0, 0.1, 0, Speed, above, 4 + 1e4*0.01},
		{0.1, 0, 0.2, 0, Speed, above, 4}, // the cap was given up
		{0.3, 0, 1, 20, Speed, nothing, 4 + 20*0.3},
	} {
		f := finals(1)
		f.For, f.price, f.most[0] = x.aim, x.price, x.most
		p := gain(2)
		f.did(0, p, choiceTrials, 4, x.overshoot, x.lost).shown = x.shown
		if got := f.cost(point{p}, []int{0}); math.Abs(got-x.want) > 1e-5 {
			t.Errorf("%+v: %g", x, got)
		}
		if got := f.costOf(point{p}, []int{0}, choiceTrials+1); !math.IsInf(got, 1) {
			t.Errorf("%g, but there are fewer trials", got)
		}
	}
	f := finals(1)
	p := gain(2)
	f.did(0, p, choiceTrials, 4, 0, 0).sample[0].Seconds[choiceTrials-1] = 1204
	if all, most := f.cost(point{p}, []int{0}), f.costOf(point{p}, []int{0}, choiceTrials-1); most != 4 || math.Abs(all-4-(300-4)/float64(choiceTrials)) > 1e-5 {
		t.Errorf("%g, without the last trial %g", all, most)
	}
}

// More trials go to the two calmest and to those that may be the best, with luck of two
// standard errors, under each of the settings.
func TestMoreTrialsGoToWhatMayBeChosen(t *testing.T) {
	f := finals(1)
	here, there := "firmware.gap=50ms", "firmware.gap=20ms"
	best := f.did(0, gain(2, here), 400, 5, 0.11, 0) // a cap of 10 %, known to 1.6 points
	calm, calmer := f.did(0, gain(3, here), 400, 9, 0.02, 0), f.did(0, gain(4, here), 400, 10, 0.01, 0)
	close := f.did(0, gain(5, here), 400, 5.1, 0.12, 0)
	f.did(0, gain(6, here), 400, 8, 0.3, 0)
	alone := f.did(0, gain(7, there), 400, 30, 0.5, 0)
	f.try(0, gain(8, there))
	got := f.inQuestion(6)
	for name, x := range map[string]*try{"the best": best, "the calmest": calmer, "the second": calm, "a close one": close, "the only one elsewhere": alone} {
		if !slices.Contains(got, x) {
			t.Errorf("%s gets no more trials", name)
		}
	}
	for _, x := range got {
		if x.trials() == 0 || x.profile.Acceleration.Curve.Of(1) == 6 {
			t.Errorf("%+v gets more trials", x.profile.Acceleration)
		}
	}
	if got := f.inQuestion(1); slices.Contains(got, close) {
		t.Error("one is asked for, and the second best gets more trials, too")
	}
	f.price = 7
	if priced := f.soft(best, 0); math.Abs(priced-5*(1+10*0.01)-7*0.11) > 1e-6 {
		t.Errorf("where an overshoot has a price: %g", priced)
	}
	f.price = 0
	if soft, hard := f.soft(best, 2), f.soft(best, 0); soft != 5 || math.Abs(hard-5*(1+10*0.01)) > 1e-6 {
		t.Errorf("with luck %g, without %g", soft, hard)
	}
}

// At each level of overshoot stands the quickest that keeps it and loses little, of what
// is known well.
func TestWhatCanBeHadAtEachLevel(t *testing.T) {
	f := finals(2)
	f.did(0, gain(2), contestTrials, 9, 0.02, 0)
	f.did(0, gain(3), contestTrials, 8, 0.07, 0.05)
	f.did(0, gain(4), contestTrials, 5, 0.07, 0.06) // loses too much
	f.did(0, gain(5), contestTrials, 7, 0.15, 0)
	f.did(0, gain(6), contestTrials-1, 1, 0.01, 0) // hardly known
	f.did(0, gain(7), contestTrials, 7.5, 0.25, 0) // no quicker than what overshoots less
	f.did(1, gain(8), contestTrials, 1, 0.01, 0)   // of another use
	var got []string
	for _, l := range f.levels(0) {
		got = append(got, fmt.Sprintf("%.2f: %g s", l.Most, l.Seconds))
	}
	if want := []string{"0.05: 9 s", "0.10: 8 s", "0.20: 7 s", "0.30: 7 s"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	f.did(0, gain(9), contestTrials, 1, 0.05, 0) // at the level, so not known to keep it
	if l := f.levels(0); l[0].Seconds != 9 || l[1].Seconds != 1 || l[1].Profile.Acceleration.Curve.Of(1) != 9 || l[1].Overshoot != 0.05 {
		t.Errorf("%+v", l[:2])
	}
	g := finals(1)
	g.did(0, gain(9), contestTrials, 1, 0.05, 0)
	tested := g.did(0, gain(10), contestTrials, 0.5, 0.1, 0)
	for shown, want := range map[shown]float64{nothing: 1, within: 0.5, above: 1} {
		if tested.shown = shown; g.levels(0)[1].Seconds != want {
			t.Errorf("shown %d: %+v", shown, g.levels(0)[1])
		}
	}
	g.MaxOvershoot, tested.shown = 0.4, nothing
	if l := g.levels(0); len(l) != 5 || l[4].Most != 0.4 || l[4].Seconds != 0.5 {
		t.Errorf("a cap beyond all levels is one: %+v", l)
	}
	if l := finals(1).levels(0); l[0].Profile != nil || !math.IsInf(l[0].Seconds, 1) {
		t.Errorf("nothing was tried: %+v", l[0])
	}
	// What the calmest costs is told against the quickest that loses little.
	x := point{gain(2), gain(8)}
	if c := f.calmestCosts(0, x); c.Slower != 8 || c.Past != 0.05 {
		t.Errorf("%+v", c)
	}
	f.did(0, gain(10), contestTrials, 0.5, 0.4, 0.05) // as many clicks lost as may be
	if c := f.calmestCosts(0, x); c.Slower != 8.5 || c.Past != 0.4 {
		t.Errorf("%+v", c)
	}
}

// In the firmware, which does not know the task, the tasks of a knob share an
// acceleration; in the program each has its own.
func TestTheFirmwareHasOneAccelerationAKnob(t *testing.T) {
	b := finals(4).board
	b.uses[1].knob, b.uses[2].knob, b.uses[3].knob = 0, 1, 1
	if got := fmt.Sprint(b.groups(encoder.InFirmware), b.groups(encoder.InProgram)); got != "[[0 1] [2 3]] [[0] [1] [2] [3]]" {
		t.Errorf("%s", got)
	}
	x := point{gain(2), gain(2), gain(2)}
	y := x.change([]int{0, 2}, func(p *scenarios.Profile) { p.PressCoarse = 10 })
	if x[0].PressCoarse != 0 || y[0].PressCoarse != 10 || y[1] != x[1] || y[2].PressCoarse != 10 || !slices.Equal(x.all(), []int{0, 1, 2}) {
		t.Errorf("%+v", y)
	}
}
