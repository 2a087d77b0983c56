package trial

import (
	"cmp"
	"fmt"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/radio"
)

// courses are cells whose trials have dials, slips, pushes and waiting pulses of every
// kind.
func courses() map[string]Cell {
	slow := encoder.Default()
	slow.Firmware.Output, slow.Firmware.Pulse, slow.Firmware.Gap, slow.Firmware.Queue = encoder.Buttons, 40*time.Millisecond, 40*time.Millisecond, 4
	forgetful := scenarios.Practised()
	forgetful.WrongRing = 0.5
	return map[string]Cell{
		"two rings":     {Task: radio.COM25(), Rings: 2, Inner: &slow, Operator: &forgetful},
		"digits":        {Task: scenarios.Transponder(), Inner: &slow},
		"pushes":        {Task: numberTask(0), Profile: &scenarios.Profile{Name: "press", PressCoarse: 10}},
		"many at a key": {Task: numberTask(2), Others: 1},
	}
}

// A trial is what the hand does, one thing after the other: it reacts, turns, goes to
// the next dial, and at last presses the key that says that it is done.
func TestTheActsOfATrialFollowEachOther(t *testing.T) {
	for name, c := range courses() {
		b := bench(t, c)
		var log Log
		for n := range 60 {
			b.Record(&log, 2, n)
			w := b.people.Draw(b.Source(2, n))
			at, was := w.Reaction, scenarios.Inner
			if c.Others > 0 {
				at += w.KeyPress + w.EyeMove
			}
			strokes, turns, pushes := 0, 0, 0
			for i, r := range log.Runs {
				what := fmt.Sprintf("%s, trial %d, run %d", name, n, i)
				acts := r.Acts
				meant := r.Ring
				if r.Mistaken {
					meant = scenarios.Outer - meant
				}
				if i > 0 {
					noticed := log.Runs[i-1].Mistaken // which takes a moment
					want := w.KeyPress
					if meant != was || noticed {
						want = w.HandMove
					}
					if a := acts[0]; a.Kind != hand.HandMove || a.Until-a.At != want || a.At < at || a.At > at && !noticed {
						t.Fatalf("%s: %v from %d to %d, the hand was free at %d and moves for %d ns", what, a.Kind, a.At, a.Until, at, want)
					}
					at, acts = acts[0].Until, acts[1:]
				}
				if d := acts[0].At - at; d < 0 || d > 1 {
					t.Fatalf("%s begins at %d, the hand was there at %d", what, acts[0].At, at)
				}
				for _, a := range acts {
					at = a.Until
					switch a.Kind {
					case hand.Stroke:
						strokes++
					case hand.Regrip:
						turns++
					case hand.Push:
						pushes++
					}
				}
				was = meant
			}
			if strokes != log.Strokes || turns != log.Regrips || pushes != log.Pushes {
				t.Fatalf("%s, trial %d: %d strokes, %d regrips, %d pushes were made and %d, %d, %d counted", name, n, strokes, turns, pushes, log.Strokes, log.Regrips, log.Pushes)
			}
			if !log.Timeout && log.Confirmed != at+w.Confirm {
				t.Fatalf("%s, trial %d: confirmed at %d, the hand was free at %d", name, n, log.Confirmed, at)
			}
		}
	}
}

// Every detent of every path has one end, also those of a ring that was turned for the
// other.
func TestTheAccountOfATrialIsThatOfItsRuns(t *testing.T) {
	for name, c := range courses() {
		b := bench(t, c)
		var log Log
		for n := range 60 {
			b.Record(&log, 2, n)
			detents, delivered := 0, 0
			for i := range log.Runs {
				detents += len(log.Runs[i].Turned)
				for _, f := range log.Runs[i].Fates(nil) {
					if f == encoder.Delivered {
						delivered++
					}
				}
			}
			if detents != log.Account.Detents || delivered != log.Account.Delivered {
				t.Fatalf("%s, trial %d: %d detents turned, %d delivered; the account says %d and %d", name, n, detents, delivered, log.Account.Detents, log.Account.Delivered)
			}
		}
	}
}

// The same digit on four dials is not turned by the same strokes four times.
func TestEveryDialHasStrokesOfItsOwn(t *testing.T) {
	b := bench(t, Cell{Task: scenarios.Transponder()})
	var log Log
	alike, compared := 0, 0
	for n := range 40 {
		log.Runs, b.log = log.Runs[:0], &log
		b.Dialed(b.Source(1, n), 0, 0o2222)
		var lasts []int64
		for _, r := range log.Runs {
			for _, a := range r.Acts {
				if a.Kind == hand.Stroke && a.Planned == 2 {
					lasts = append(lasts, a.Until-a.At)
					break
				}
			}
		}
		for i := 1; i < len(lasts); i++ {
			if compared++; lasts[i] == lasts[i-1] {
				alike++
			}
		}
	}
	b.log = nil
	if alike > 0 || compared < 80 {
		t.Errorf("%d of %d strokes last as long as those of the dial before", alike, compared)
	}
}

// The first stroke that could end at the target is off by what stands after it.
func TestTheFirstStrokeIsOffByWhatStandsAfterIt(t *testing.T) {
	b := bench(t, Cell{Task: numberTask(0)})
	var log Log
	past, short := 0, 0
	for n := range 200 {
		log.Runs, b.log = log.Runs[:0], &log
		r := b.Dialed(b.Source(1, n), 400, 406)
		stands := int64(400)
		for _, a := range log.Runs[0].Acts {
			if stands += a.Turned; a.Kind == hand.Stroke && a.Until == r.Travel {
				if off := (stands - 406) * int64(cmp.Compare(a.Turned, 0)); r.First != off {
					t.Errorf("trial %d: the number stands %d past the target and is said to stand %d", n, off, r.First)
				}
				break
			}
		}
		switch {
		case r.First > 0:
			past++
		case r.First < 0:
			short++
		}
	}
	b.log = nil
	if past < 5 || short < 5 {
		t.Errorf("%d strokes past the target, %d short of it", past, short)
	}
}

// Press-for-coarse is for one long number: rings and digits are short without.
func TestPushesAreForNumbersInOneDial(t *testing.T) {
	press := &scenarios.Profile{Name: "press", PressCoarse: 10}
	rig := encoder.Default()
	rig.Knob.Push = true
	for _, x := range []struct {
		task  *scenarios.Task
		rings int
		want  bool
	}{{scenarios.Heading(), 1, true}, {numberTask(0), 1, true}, {scenarios.Transponder(), 1, false}, {radio.COM25(), 2, false}} {
		plain, b := bench(t, Cell{Task: x.task, Rings: x.rings, Inner: &rig}), bench(t, Cell{Task: x.task, Rings: x.rings, Inner: &rig, Profile: press})
		pushes := 0
		for n := range 40 {
			r := b.Run(1, n)
			if pushes += r.Pushes; !x.want && r != plain.Run(1, n) {
				t.Errorf("%s, trial %d: the profile changes what it does not set", x.task.Name, n)
			}
		}
		if pushes > 0 != x.want {
			t.Errorf("%s: %d pushes", x.task.Name, pushes)
		}
	}
}

// While steps are coarse nobody can come nearer than half of one, so only what is
// further is past; here all are still coarse when time is up.
func TestCoarseStepsArePastByMoreThanHalfOfOne(t *testing.T) {
	late := quickRig()
	late.Display.Latency = 600 * time.Millisecond
	task := numberTask(0)
	task.Limit = 3 * time.Second
	b := bench(t, Cell{Task: task, Inner: late, Profile: &scenarios.Profile{Name: "press", PressCoarse: 10}})
	past := 0
	for n := range 1200 {
		r := b.Dialed(b.Source(1, n), 100, 300)
		if r.Pushes == 1 && r.Overshoot > 0 {
			if past++; r.Overshoot%10 != 5 || !r.Timeout {
				t.Errorf("trial %d: coarse steps of 10 from 100 to 300 go past by %d, more than 5", n, r.Overshoot)
			}
		}
	}
	if past < 5 {
		t.Errorf("%d trials went past in coarse steps", past)
	}
}

// An overshoot counts in steps of its dial, and in steps of the whole number.
func TestAnOvershootOfADialIsWorthItsPlace(t *testing.T) {
	for name, c := range map[string]Cell{"digits": {Task: scenarios.Transponder()}, "two rings": {Task: radio.COM25(), Rings: 2}} {
		b := bench(t, c)
		places := map[int64]bool{}
		for n := range 300 {
			r := b.Run(1, n)
			if !r.Overshot() {
				continue
			}
			first := 0 // the dial that goes past the furthest
			for i, past := range r.ByDial[:len(b.dials)] {
				if past > r.ByDial[first] {
					first = i
				}
			}
			place := b.dials[first].Place
			places[place] = true
			if r.Overshoot != r.ByDial[first] || r.Past != r.Overshoot*place {
				t.Errorf("%s, trial %d: %d past on dials %v, %d steps of the number, want times %d", name, n, r.Overshoot, r.ByDial, r.Past, place)
			}
		}
		if len(places) < 2 {
			t.Errorf("%s: overshoots at places %v alone", name, places)
		}
	}
}
