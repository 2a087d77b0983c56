package tune

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// What differs is each key that another value is set of, and the acceleration as a whole;
// applied one after the other they make one of the other.
func TestDifferencesMakeOnePointOfAnother(t *testing.T) {
	s := spaceOf(t, nil, pulsing())
	now := point{gain(1, "firmware.pulse=60ms"), gain(1, "firmware.pulse=60ms")}
	chosen := point{gain(1, "firmware.gap=30ms", "firmware.pulse=70ms"), gain(2, "firmware.gap=30ms", "firmware.pulse=70ms")}
	list := s.differences(now, chosen)
	var names []string
	got := now.change(now.all(), func(*scenarios.Profile) {})
	for _, d := range list {
		names = append(names, d.what)
		for i, p := range got {
			d.apply(p, i)
		}
	}
	if want := "firmware.pulse 70ms, firmware.gap 30ms, the acceleration"; strings.Join(names, ", ") != want {
		t.Errorf("%q, want %s", names, want)
	}
	for i := range got {
		if !same(got[i], chosen[i]) {
			t.Errorf("use %d: %+v, want %+v", i, got[i], chosen[i])
		}
	}
	if list := s.differences(chosen, chosen); list != nil {
		t.Errorf("the same differ in %v", list)
	}
	for _, change := range []func(*scenarios.Profile){
		func(p *scenarios.Profile) { p.Home = encoder.InFirmware }, func(p *scenarios.Profile) { p.PressCoarse = 10 },
		func(p *scenarios.Profile) { p.Acceleration.Curve = accel.Constant{Gain: 3} },
	} {
		if list := s.differences(chosen, chosen.change([]int{1}, change)); len(list) != 1 || list[0].what != "the acceleration" {
			t.Errorf("%+v", list)
		}
	}
	if list := s.differences(now[:1], chosen[:1]); len(list) != 2 || list[0].setting != (scenarios.Setting{Key: "firmware.pulse", Value: "70ms"}) || list[1].setting.Key != "firmware.gap" {
		t.Errorf("of one use: %+v", list)
	}
	// What goes back to the rig's own is a difference, too.
	if list := s.differences(now, now.set(nil)); len(list) != 1 || list[0].what != "firmware.pulse 40ms" {
		t.Errorf("%+v", list)
	}
}

// With a price on overshoots a trial that overshot takes longer by it, however long it
// took, and no other does.
func TestAPricedTrialTakesLonger(t *testing.T) {
	x := steady(4, 5, 0.5, 0)
	x.Seconds[0] = 900 // of 300
	over := priced(sample.Panel{x}, 2)[0]
	for i, want := range []float64{302, 5, 7, 5} {
		if x.Past[i] > 0 != (want == 302 || want == 7) || over.Seconds[i] != want {
			t.Errorf("trial %d takes %g, want %g", i, over.Seconds[i], want)
		}
	}
	if over.Limit != 302 || x.Seconds[1] != 5 {
		t.Errorf("the limit is %g, and the trials themselves took %g", over.Limit, x.Seconds[1])
	}
}

// The settings of now are beyond a limit where another point is shown to be nearer it.
func TestSettingsBeyondALimit(t *testing.T) {
	for _, x := range []struct {
		now, then [2]float64 // overshoot, lost
		want      bool
	}{
		{[2]float64{0.09, 0}, [2]float64{0.01, 0}, false},
		{[2]float64{0.2, 0}, [2]float64{0.1, 0}, true},
		{[2]float64{0.11, 0}, [2]float64{0.105, 0}, false}, // by chance
		{[2]float64{0, 0.0549}, [2]float64{0, 0}, false},   // half a point is no matter
		{[2]float64{0, 0.0551}, [2]float64{0, 0.05}, true},
		{[2]float64{0, 0.1}, [2]float64{0, 0.1}, false},
		{[2]float64{0.21, 0.19}, [2]float64{0.3, 0.16}, false}, // more overshoots than lost clicks are saved
		{[2]float64{0.04, 0.21}, [2]float64{0.16, 0.02}, true},
	} {
		f := finals(1)
		f.did(0, f.board.now[0], choiceTrials, 5, x.now[0], x.now[1])
		p := gain(2)
		f.did(0, p, choiceTrials, 5, x.then[0], x.then[1])
		if got := f.beyond(point{p}); got != x.want {
			t.Errorf("%v, then %v: %t", x.now, x.then, got)
		}
	}
}

// The front is what is quickest at ever higher prices of an overshoot: ever slower and
// calmer.
func TestTheFrontGetsSlowerAndCalmer(t *testing.T) {
	f := finals(1)
	f.did(0, f.board.now[0], choiceTrials, 9, 0.06, 0)
	for i, x := range [][2]float64{{5, 0.4}, {5.5, 0.3}, {6, 0.1}, {6.1, 0.2}, {8, 0.02}, {9, 0.02}} {
		f.did(0, gain(float64(2+i)), choiceTrials, x[0], x[1], 0)
	}
	f.did(0, gain(20), choiceTrials, 1, 0, 0.3) // loses too much
	var got []string
	for _, x := range f.front([]int{0}) {
		got = append(got, fmt.Sprintf("%g s %.2f", x.Seconds.Value, x.Overshoot))
	}
	// At a price of a fifth of 9 s an overshoot, 5.5 s come to 6.04, 5 s to 5.72, 6 s to 6.18.
	if want := []string{"5 s 0.40", "6 s 0.10", "8 s 0.02"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if f.MaxOvershoot != 0.1 || f.For != Speed {
		t.Error("who looks at what can be had searches for something else then")
	}
	if f.For = Calm; len(f.front([]int{0})) != 3 { // what can be had does not depend on who asks
		t.Errorf("who wants it calm is shown %d points", len(f.front([]int{0})))
	}
}

// The settings of now stay unless another point beats them by more than 3 %, or they are
// beyond a limit that it keeps; what does not pay is put back.
func TestSettingsOfNowStayUnlessTheyAreBeaten(t *testing.T) {
	for _, x := range []struct {
		name         string
		now, then    float64 // s
		beyond       float64 // overshoot of now
		stays        bool
		withoutPulse float64 // s, with the pulse as it is now
		put          []string
	}{
		{"by more", 9, 8.7, 0, false, 8.8, nil},
		{"by less", 9, 8.75, 0, true, 8.8, nil},
		{"slower, but within the cap", 9, 10, 0.3, false, 12, nil},
		{"a setting that does not matter", 9, 8, 0, false, 8.03, []string{"firmware.pulse"}},
		{"a setting that does", 9, 8, 0, false, 8.05, nil},
	} {
		f := finals(1)
		f.board.space = spaceOf(t, nil, pulsing())
		f.board.space.curves = []string{"constant"}
		f.did(0, f.board.now[0], choiceTrials, x.now, x.beyond, 0)
		chosen := gain(2, "firmware.pulse=60ms")
		f.did(0, chosen, choiceTrials, x.then, 0, 0)
		f.did(0, gain(2), choiceTrials, x.withoutPulse, 0, 0)
		bare := gain(2, "firmware.pulse=60ms")
		bare.Acceleration = accel.Acceleration{}
		f.did(0, bare, choiceTrials, 20, 0, 0)
		got, put, err := f.settle(t.Context(), point{chosen})
		if err != nil || slices.Equal(got, f.board.now) != x.stays || !slices.Equal(put, x.put) {
			t.Errorf("%s: stays %t, put back %v, %v", x.name, slices.Equal(got, f.board.now), put, err)
		}
		if want := map[bool]string{true: "", false: "firmware.pulse 60ms"}[x.stays || x.put != nil]; written(got[0].Settings) != want {
			t.Errorf("%s: %s", x.name, written(got[0].Settings))
		}
	}
	f := finals(1)
	f.did(0, f.board.now[0], choiceTrials, 9, 0.3, 0)
	if got, put, err := f.settle(t.Context(), f.board.now); err != nil || put != nil || !slices.Equal(got, f.board.now) {
		t.Errorf("the settings of now are chosen: %+v, %v, %v", got, put, err)
	}
}

// What each change brings by itself is told against now, what leaving it costs against the
// choice; what cannot be tried by itself is left out, what cannot be left is needed.
func TestChangesAreToldOneByOne(t *testing.T) {
	f := finals(1)
	f.board.knobs, f.board.uses[0].spots = []int{0}, []spot{{Served: f.board.uses[0].Served}}
	f.board.space = spaceOf(t, nil, pulsing())
	f.did(0, f.board.now[0], choiceTrials, 9, 0, 0)
	x := point{gain(2, "firmware.gap=30ms", "firmware.pulse=60ms")}
	f.did(0, x[0], choiceTrials, 6, 0, 0)
	panel := func(seconds float64) []sample.Panel { return []sample.Panel{{steady(40, seconds, 0.1, 0)}} }
	differences := f.board.space.differences(f.board.now, x)
	if len(differences) != 3 {
		t.Fatalf("%d differences", len(differences))
	}
	list := f.results(x, proven{
		before: panel(9), after: panel(6), claims: make([]Claim, 1), differences: differences,
		alone: [][]sample.Panel{panel(8.5), nil, panel(7)}, without: [][]sample.Panel{panel(6.4), panel(7), nil}, put: []string{"usb.poll"},
	})
	if len(list) != 1 || len(list[0].Changes) != 2 {
		t.Fatalf("%+v", list)
	}
	k := list[0]
	best, next := k.Changes[0], k.Changes[1]
	if best.What != "the acceleration" || best.Gain.Mean.Value != -2 || !best.Needed || best.Left.Mean.Value != 0 || best.Seconds.Value != 7 {
		t.Errorf("%+v", best)
	}
	if next.What != "firmware.gap 30ms" || next.Gain.Mean.Value != -0.5 || next.Needed || math.Abs(next.Left.Mean.Value-0.4) > 1e-9 {
		t.Errorf("%+v", next)
	}
	if !k.Changed || !slices.Equal(k.Unimportant, []string{"usb.poll"}) || k.Number != 0 || k.Finalists != 2 || k.Chosen[0] != x[0] || k.Now[0] != f.board.now[0] || len(k.Levels[0]) != len(levels) {
		t.Errorf("%+v", k)
	}
	if same := f.results(f.board.now, proven{before: panel(9), after: panel(9), claims: make([]Claim, 1)}); same[0].Changed {
		t.Error("nothing is changed")
	}
}

// Of sizes of press-for-coarse the one that costs least is taken.
func TestTheBestSizeOfAPushIsTaken(t *testing.T) {
	f := finals(1)
	push := func(size int64) *scenarios.Profile { return &scenarios.Profile{Name: "tuned", PressCoarse: size} }
	for size, seconds := range map[int64]float64{10: 6, 4: 7, 20: 5, 50: 8} {
		f.did(0, push(size), choiceTrials, seconds, 0, 0)
	}
	got, err := f.sized(t.Context(), point{push(10)}, []int64{4, 20, 50})
	if err != nil || got[0].PressCoarse != 20 {
		t.Errorf("%+v, %v", got[0], err)
	}
	if got, err := f.sized(t.Context(), point{push(20)}, []int64{4, 50}); err != nil || got[0].PressCoarse != 20 {
		t.Errorf("%+v, %v", got[0], err)
	}
}

// An alternative within the caps comes before one beyond them, then the quicker one, with
// what the aim counts for an overshoot.
func TestWhichAlternativeComesFirst(t *testing.T) {
	with := func(seconds, overshoot float64, meets bool) *Alternative {
		return &Alternative{Meets: meets, Score: sample.Score{Seconds: estimate(seconds, seconds, seconds), Overshoot: overshoot}}
	}
	for _, x := range []struct {
		a, b *Alternative
		aim  Aim
		want bool
	}{
		{with(9, 0.05, true), with(5, 0.3, false), Speed, true}, {with(5, 0.3, false), with(9, 0.05, true), Speed, false},
		{with(5, 0.3, true), with(6, 0.05, true), Speed, true}, {with(5, 0.3, true), with(6, 0.05, true), Calm, false},
		{with(5, 0.1, true), with(5.2, 0.1, true), Calm, true}, {with(5, 0.1, true), with(5, 0.1, true), Balance, false},
	} {
		if got := x.a.before(x.b, x.aim); got != x.want {
			t.Errorf("%+v before %+v for %s: %t", x.a.Score, x.b.Score, x.aim, got)
		}
	}
}

// Each variant is the rig, or the person, that its name says, and a gain that is not one
// in all of them is marked.
func TestVariantsAreWhatTheirNamesSay(t *testing.T) {
	o := scenarios.Practised()
	knob := scenarios.Knob{Name: "knob", Rings: 1, Inner: demo.Rig("right-relative"), Tasks: []scenarios.Use{{Task: demo.Task("heading"), PerHour: 1}}}
	s := &search{Study: &Study{Panel: &scenarios.Panel{Name: "one", Knobs: []scenarios.Knob{knob}}, Profile: scenarios.Plain(), Operator: &o, MaxOvershoot: 0.1, MaxLost: 0.05, For: Speed, Trials: 30, Seed: 1, Workers: 2}}
	boards, err := s.boards(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	chosen := point{{Name: "tuned", Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}}}
	r := &Result{Study: s.Study, Knobs: []*KnobResult{{Changed: true}}, Gain: paired.Average{Mean: estimate(-1, -2, -0.5)}}
	if err := s.robust(t.Context(), r, boards, []point{chosen}); err != nil {
		t.Fatal(err)
	}
	people := scenarios.Operators()
	only := false
	for i, x := range []struct {
		name     string
		operator *scenarios.Operator
		change   func(*encoder.Rig)
	}{
		{people[0].Name, &people[0], nil}, {people[2].Name, &people[2], nil},
		{"30 % fewer frames", &o, func(r *encoder.Rig) { r.Program.Frames = encoder.PerSecond(float64(r.Program.Frames) * 0.7) }},
		{"30 % more frames", &o, func(r *encoder.Rig) { r.Program.Frames = encoder.PerSecond(float64(r.Program.Frames) * 1.3) }},
		{"twice the display lag", &o, func(r *encoder.Rig) { r.Display.Latency += r.Display.Latency }},
	} {
		rig := *demo.Rig("right-relative")
		if x.change != nil {
			x.change(&rig.Rig)
		}
		b := *boards[0]
		b.uses, b.seats = slices.Clone(b.uses), nil
		with := knob
		with.Inner = &rig
		b.uses[0].Knob = &with
		b.uses[0].spots = []spot{{b.uses[0].Served, x.operator}}
		p := s.pool(&b, "variants")
		if err := p.measurePoints(t.Context(), 30, []int{0}, b.now, chosen); err != nil {
			t.Fatal(err)
		}
		v := r.Robust[i]
		if v.Name != x.name || v.Before != p.samples(b.now, 30).Score() || v.After != p.samples(chosen, 30).Score() || v.Cannot != nil {
			t.Errorf("%s: %+v", x.name, v)
		}
		only = only || v.Gain.Mean.High >= 0
	}
	if len(r.Robust) != 5 || r.OnlyHere != only {
		t.Errorf("%d variants, only here %t", len(r.Robust), r.OnlyHere)
	}
	r.Robust, r.Knobs[0].Changed = nil, false
	if err := s.robust(t.Context(), r, boards, []point{chosen}); err != nil || r.Robust != nil {
		t.Errorf("nothing is changed, and there are %d variants", len(r.Robust))
	}
}

// A board on which the settings of now cannot be tried gets the first that can: those of a
// search's beginning, then one key at an end of its range, then two, then three.
func TestAWayOutOfADeadBoard(t *testing.T) {
	b := &board{space: spaceOf(t, nil, pulsing(scenarios.Range{Key: "firmware.queue", Values: []string{"2", "4", "8"}}))}
	for _, want := range []string{
		"", "firmware.gap 12ms, firmware.pulse 12ms", "firmware.pulse 80ms", "firmware.gap 20ms, firmware.queue 2", "firmware.gap 80ms, firmware.pulse 20ms, firmware.queue 2",
	} {
		want = strings.ReplaceAll(want, "12ms", "20ms") // the least there is
		got, ok := b.wayOut(func(x []scenarios.Setting) bool { return written(x) == want })
		if !ok || written(got) != want {
			t.Errorf("%v, %t, want %s", written(got), ok, want)
		}
	}
	tries := 0
	if got, ok := b.wayOut(func([]scenarios.Setting) bool { tries++; return false }); ok || got != nil || tries > mostWays+20 {
		t.Errorf("%v after %d tries", got, tries)
	}
	i := Instead{"left", set("firmware.pulse=80ms", "firmware.gap=20ms"), errors.New("one\ntwo")}
	if want := "The left knob cannot be tried as it is set (one; two). Now is with firmware.pulse 80ms, firmware.gap 20ms, the first settings found with which it can be; set these where nothing else is said."; i.String() != want {
		t.Errorf("%s", i)
	}
	if d := (Dead{"left", errors.New("one\ntwo")}); d.String() != "The left knob is dead: one; two." {
		t.Errorf("%s", d)
	}
}
