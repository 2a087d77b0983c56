package hand

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/testdata/golden"
)

// seat is a person at a knob, ready to dial.
type seat struct {
	people *People
	path   *encoder.Path
	dial   Dial
	hand   Hand
}

func sit(t testing.TB, s encoder.Setup) *seat {
	t.Helper()
	p := people(t, scenarios.Practised())
	path, err := encoder.NewPath(s)
	if err != nil {
		t.Fatal(err)
	}
	return &seat{
		people: p, path: path, hand: Hand{People: p},
		dial: Dial{Path: path, Grip: gripOf(t, s, p), Limit: int64(300 * time.Second)},
	}
}

// turn lets person n dial a number and returns what was done.
func (s *seat) turn(n int, target int64) Done {
	source := draw.NewTrial(1, "dial", n)
	w := s.people.Draw(source)
	s.hand.Start(w, source)
	s.path.Start(source, 0)
	done := s.hand.Run(&s.dial, w.Reaction, 0, target)
	s.path.Finish()
	return done
}

func TestEveryDialingEndsAtItsTarget(t *testing.T) {
	for name, curve := range map[string]accel.Curve{
		"plain": nil, "ladder": accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 3}, {Above: 16, Gain: 10}}, Hysteresis: 0.15},
		"power": accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10},
	} {
		s := sit(t, onIdeal(curve))
		for n := range 400 {
			target := int64(1 + n%150)
			if n%2 == 1 {
				target = -target
			}
			done := s.turn(n, target)
			if got := s.path.Shown(1 << 62); done.Timeout || got != target {
				t.Fatalf("%s, person %d: %d instead of %d, timeout %v", name, n, got, target, done.Timeout)
			}
		}
	}
}

// Who is as wrong about the gain as an operator's file allows believes that it brings
// little, and nobody that it brings less than nothing.
func TestWhoMisjudgesTheGainWidelyStillGetsThere(t *testing.T) {
	o := scenarios.Practised()
	for o.GainError.Mean = 0.4; o.GainError.Mean <= 1; o.GainError.Mean += 0.05 {
		p := people(t, o)
		s := onIdeal(power)
		g := gripOf(t, s, p)
		path, err := encoder.NewPath(s)
		if err != nil {
			t.Fatal(err)
		}
		h := Hand{People: p}
		for n := range 60 {
			source := draw.NewTrial(1, "misjudged", n)
			h.Start(p.Draw(source), source)
			path.Start(source, 0)
			if d := h.Run(&Dial{Path: path, Grip: g, Limit: 300e9}, 0, 0, int64(1+3*n)); d.Timeout {
				t.Errorf("gain error %.2f: %d was not reached", o.GainError.Mean, 1+3*n)
			}
			path.Finish()
		}
	}
}

// Rule 4: with detents the strokes near the target are planned from a number that
// has stood for 150 ms, or after a second without any change.
func TestStrokesNearTheTargetAreMadeFromAStandingNumber(t *testing.T) {
	setup := onIdeal(nil)
	setup.Rig.Display.Latency = 120 * time.Millisecond
	s := sit(t, setup)
	for n := range 200 {
		var looked Act
		s.dial.Trace = func(a Act) {
			switch a.Kind {
			case Look:
				looked = a
			case Stroke:
				if a.Planned != 1 || looked.At < 1e9 {
					return
				}
				if !looked.Standing {
					t.Errorf("person %d plans one click from a number that moves", n)
				}
				for _, c := range s.path.Changes() {
					if c.At > looked.At-standing && c.At <= looked.At {
						t.Errorf("person %d: looks at %d ms, %d ms after a change", n, looked.At/1e6, (looked.At-c.At)/1e6)
					}
				}
			}
		}
		s.turn(n, 40)
	}
}

// A6: no correction sooner than 105 ms after what it corrects was to be seen.
func TestNobodyActsOnWhatHeCannotHaveSeen(t *testing.T) {
	s := sit(t, onIdeal(accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}))
	for n := range 300 {
		var looked int64
		first := true
		s.dial.Trace = func(a Act) {
			switch a.Kind {
			case Look:
				looked = a.At
			case Stroke:
				if !first && a.At-looked < 105e6 {
					t.Errorf("person %d acts %d ms after the instant that was seen", n, (a.At-looked)/1e6)
				}
				first = false
			}
		}
		s.turn(n, 60)
	}
}

func TestALongWayNeedsRegrips(t *testing.T) {
	s := sit(t, onIdeal(nil))
	for n := range 100 {
		done := s.turn(n, 100)
		// 100 clicks of 15° within arcs of at most 158°
		if done.Regrips < 100*15/158-1 {
			t.Errorf("person %d turned 1500° with %d regrips", n, done.Regrips)
		}
	}
}

func TestWhoDoesNotKnowThatTheGainDoubledGoesTooFar(t *testing.T) {
	s := sit(t, onIdeal(accel.Constant{Gain: 2}))
	s.dial.Tolerance = 1
	past := func() (n int) {
		for i := range 200 {
			if s.turn(i, 10).First > 1 {
				n++
			}
		}
		return n
	}
	known := past()
	s.dial.Surprise = draw.One
	if unknown := past(); unknown < known+50 {
		t.Errorf("%d of 200 go too far when the gain is known, %d when it is not", known, unknown)
	}
}

func TestAPushPaysForAFarNumberOnly(t *testing.T) {
	s := sit(t, onIdeal(nil))
	s.dial.Multiple = 10
	for n := range 100 {
		if near := s.turn(n, 3); near.Pushes > 0 {
			t.Errorf("person %d pushes for 3 steps", n)
		}
		far := s.turn(n, 300)
		if got := s.path.Shown(1 << 62); got != 300 || far.Pushes != 2 {
			t.Errorf("person %d: %d pushes, %d instead of 300", n, far.Pushes, got)
		}
	}
}

func TestDialingAllocatesNothingOnceItHasSeenALongTrial(t *testing.T) {
	s := sit(t, onIdeal(nil))
	for n := range 300 {
		s.turn(n, 150)
	}
	n := 0
	if allocations := testing.AllocsPerRun(200, func() { s.turn(n%300, 150); n++ }); allocations > 0 {
		t.Errorf("%g allocations a trial", allocations)
	}
}

func TestForgottenPushesAndPushesThatTurnAreMadeGood(t *testing.T) {
	times := map[string]int64{}
	for name, change := range map[string]func(*scenarios.Operator){
		"none":       func(*scenarios.Operator) {},
		"wrong mode": func(o *scenarios.Operator) { o.WrongMode = 1 },
		"push turns": func(o *scenarios.Operator) { o.PushTurns = 1 },
	} {
		s := sit(t, onIdeal(nil))
		o := scenarios.Practised()
		change(&o)
		s.people = people(t, o)
		s.hand.People = s.people
		s.dial.Multiple = 10
		for n := range 100 {
			done := s.turn(n, 300)
			if got := s.path.Shown(1 << 62); done.Timeout || got != 300 {
				t.Fatalf("%s, person %d: %d instead of 300, timeout %v", name, n, got, done.Timeout)
			}
			if turned, own := s.path.Account().Detents, done.Detents; name == "push turns" && turned != own+done.Pushes || name != "push turns" && turned != own {
				t.Errorf("%s, person %d: %d detents turned, %d of them by strokes, and %d pushes", name, n, turned, own, done.Pushes)
			}
			if name == "wrong mode" && done.Pushes < 3 {
				t.Errorf("person %d forgot a push and made %d", n, done.Pushes)
			}
			times[name] += done.At
		}
	}
	if times["wrong mode"] <= times["none"] || times["push turns"] <= times["none"] {
		t.Errorf("mistakes cost no time: %v", times)
	}
}

// Whoever knows a knob runs past a target as often as he expects to when he plans:
// the experience has in it what the path does, and the plan what the hand does.
func TestPeopleRunPastAsOftenAsTheyExpect(t *testing.T) {
	relative := encoder.Default()
	relative.Firmware = encoder.Firmware{Scan: time.Millisecond, Debounce: 4, CountsPerDetent: 1, Output: encoder.Relative}
	pulses := encoder.Default()
	gain, err := accel.Acceleration{Curve: power}.Compile()
	if err != nil {
		t.Fatal(err)
	}
	for name, setup := range map[string]encoder.Setup{
		"plain, ideal": onIdeal(nil), "power, ideal": onIdeal(power),
		"power, counts": {Rig: &relative, Gain: gain, Home: encoder.InProgram},
		"power, pulses": {Rig: &pulses, Gain: gain, Home: encoder.InProgram},
		"plain, pulses": {Rig: &pulses},
	} {
		s := sit(t, setup)
		var expected, past, strokes, planned float64
		dir := int64(0) // of the last stroke from a standing number; 0: judged
		standing := false
		s.dial.Trace = func(a Act) {
			switch a.Kind {
			case Look:
				if a.Standing && dir != 0 && abs(s.people.gainErrors[s.hand.Error]) < draw.One/20 {
					expected, strokes = expected+planned, strokes+1
					if dir*a.Missing < 0 {
						past++
					}
				}
				if standing = a.Standing; standing {
					dir = 0
				}
			case Stroke:
				if dir = 0; !standing {
					return
				}
				dir = a.Planned * a.Missing / abs(a.Planned*a.Missing)
				h := &s.hand
				_, p := h.plans.cost(h.Speed, h.Error, h.plans.rounded(abs(a.Missing))*sub, plan{a.Pace, s.dial.Grip.nearest[a.Planned]}, 1<<62)
				planned = float64(p) / certain
			}
		}
		for n := range 4000 {
			s.turn(n, 1+int64(n)%30)
		}
		if strokes < 500 || past < 0.75*expected-5 || past > 1.25*expected+0.01*strokes {
			t.Errorf("%s: %.0f of %.0f strokes ran past, expected were %.0f", name, past, strokes, expected)
		}
		t.Logf("%s: %.1f %% ran past, expected %.1f %%", name, 100*past/strokes, 100*expected/strokes)
	}
}

// What people of the built-in operators do on some knobs, to the microsecond: nothing
// of experience, value, plan or movement changes unnoticed.
// go test ./scenarios/hand -run AsTheyWere -update rewrites it.
func TestDialingsAreAsTheyWere(t *testing.T) {
	counts := encoder.Default()
	counts.Firmware = encoder.Firmware{Scan: time.Millisecond, Debounce: 4, CountsPerDetent: 1, Output: encoder.Relative}
	pulses, slow, smooth := encoder.Default(), encoder.Default(), *onIdeal(nil).Rig
	slow.Display.Latency = 900 * time.Millisecond
	smooth.Knob.Detents, smooth.Knob.Cycles = 0, 100
	fine := *onIdeal(nil).Rig
	fine.Knob.Detents, fine.Knob.Cycles = 200, 200
	curve, err := accel.Acceleration{Curve: power}.Compile()
	if err != nil {
		t.Fatal(err)
	}
	ladder, err := accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 3}, {Above: 16, Gain: 10}}, Hysteresis: 0.15}, Steps: accel.Round}.Compile()
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	for _, x := range []struct {
		name      string
		setup     encoder.Setup
		tolerance int64
		multiple  int64
	}{
		{"plain, ideal", onIdeal(nil), 0, 0},
		{"gain 5, ideal, within 2", onIdeal(accel.Constant{Gain: 5}), 2, 0},
		{"power, counts", encoder.Setup{Rig: &counts, Gain: curve, Home: encoder.InProgram}, 0, 0},
		{"ladder, pulses", encoder.Setup{Rig: &pulses, Gain: ladder, Home: encoder.InProgram}, 0, 0},
		{"ladder in the firmware, pulses", encoder.Setup{Rig: &pulses, Gain: ladder, Home: encoder.InFirmware}, 0, 0},
		{"plain, pulses, late", encoder.Setup{Rig: &slow}, 0, 0},
		{"smooth, within 3", encoder.Setup{Rig: &smooth}, 3, 0},
		{"200 detents, power", encoder.Setup{Rig: &fine, Gain: curve, Home: encoder.InProgram}, 1, 0},
		{"press, ideal", encoder.Setup{Rig: onIdeal(nil).Rig, Pushes: true}, 0, 10},
	} {
		for _, o := range scenarios.Operators() {
			s := sit(t, x.setup)
			s.people = people(t, o)
			s.hand.People = s.people
			s.dial.Grip, s.dial.Tolerance, s.dial.Multiple = gripOf(t, x.setup, s.people), x.tolerance, x.multiple
			fmt.Fprintf(&got, "%s, %s: lag %d us, base %d/256\n", x.name, o.Name, s.dial.Grip.IdleLag/1000, s.dial.Grip.Base)
			for n, way := range []int64{1, -2, 4, -7, 15, -40, 90, -150} {
				d := s.turn(n, way)
				fmt.Fprintf(&got, "  %4d: %d us, %d strokes, %d detents, %d turns, %d pushes, aimed at %d us, off by %d\n",
					way, d.At/1000, d.Strokes, d.Detents, d.Regrips, d.Pushes, d.Travel/1000, d.First)
			}
		}
	}
	golden.Check(t, "testdata/dialings.txt", got.String())
}

// A click that is lost, even the first one, says nothing of the lag: nobody who has
// waited for it in vain waits longer for the next ones. With a lag of 75 ms a number is
// believed a second after the stroke at the latest.
func TestALostClickSaysNothingOfTheLag(t *testing.T) {
	pulses := encoder.Default()
	s := sit(t, encoder.Setup{Rig: &pulses})
	turned := int64(0)
	longest := int64(0)
	s.dial.Trace = func(a Act) {
		switch {
		case a.Kind == Stroke:
			turned = a.Until
		case a.Kind == Look && a.Standing:
			longest = max(longest, a.At-turned)
		}
	}
	for n := range 3000 {
		turned = 1 << 62
		s.turn(n, 1+int64(n%4))
	}
	if limit := patience + s.dial.Grip.IdleLag + 2*standing; longest > limit || longest < patience {
		t.Errorf("somebody waited %d ms for the number, %d to %d would do", longest/1e6, int64(patience/1e6), limit/1e6)
	}
}
