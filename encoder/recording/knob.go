package recording

import (
	"fmt"
	"strings"
)

// Direction is how one direction of a knob shows: a press of a button or key (Sign 0),
// or counts of a sign (Sign 1 or −1) of a relative control.
type Direction struct {
	Control string
	Sign    int64
}

// Knob says which controls belong to one knob.
type Knob struct {
	Clockwise, Counter Direction
	Push               string // of its push button; empty without one
}

// NewKnob makes a knob of the controls that a user names: a relative one, whose
// positive counts are clockwise, or two buttons or keys, clockwise first; and
// behind these, if wanted, its push button.
func NewKnob(controls ...string) (Knob, error) {
	var k Knob
	rest := controls
	switch {
	case len(controls) > 0 && relative(controls[0]):
		k.Clockwise, k.Counter = Direction{controls[0], 1}, Direction{controls[0], -1}
		rest = controls[1:]
	case len(controls) > 1 && !relative(controls[1]):
		k.Clockwise, k.Counter = Direction{controls[0], 0}, Direction{controls[1], 0}
		rest = controls[2:]
	default:
		return Knob{}, fmt.Errorf("recording: controls %q; a wheel, dial or axis (wheel, dial, rel7, abs3, axis0), "+
			"or two buttons or keys, clockwise first (btn288 and btn289, key30 and key48), would do", strings.Join(controls, ","))
	}
	if len(rest) > 0 {
		k.Push = rest[0]
	}
	if len(rest) > 1 || k.Push != "" && (relative(k.Push) || k.Push == k.Clockwise.Control || k.Push == k.Counter.Control) ||
		k.Clockwise == k.Counter {
		return Knob{}, fmt.Errorf("recording: controls %q; each control once, and at most one push button behind those of the turn, would do",
			strings.Join(controls, ","))
	}
	return k, nil
}

// Uses tells whether a control belongs to the knob.
func (k Knob) Uses(control string) bool {
	return control != "" && (control == k.Clockwise.Control || control == k.Counter.Control || control == k.Push)
}

// Move returns by how many counts an event turns the knob, clockwise positive.
func (k Knob) Move(e Event) int64 {
	switch {
	case e.Control == k.Clockwise.Control && k.Clockwise.Sign == 0 && e.Kind == Press:
		return 1
	case e.Control == k.Counter.Control && k.Counter.Sign == 0 && e.Kind == Press:
		return -1
	case e.Control == k.Clockwise.Control && k.Clockwise.Sign != 0 && e.Kind == Count:
		return e.N * k.Clockwise.Sign
	}
	return 0
}

// turnOf says which turn an event may be a movement of.
func turnOf(e Event) (Direction, bool) {
	switch {
	case e.Kind == Press:
		return Direction{Control: e.Control}, true
	case e.Kind == Count && e.N > 0:
		return Direction{e.Control, 1}, true
	case e.Kind == Count && e.N < 0:
		return Direction{e.Control, -1}, true
	}
	return Direction{}, false
}

// Limits of the learning phase; ours.
const (
	learnMoves = 6     // of one turn before it is believed
	learnRest  = 800e6 // ns without a movement that end a turn
)

// Lesson is how a learning phase stands.
type Lesson uint8

const (
	TurnClockwise Lesson = iota // the person is to turn the knob clockwise
	TurnCounter                 // and now counter-clockwise
	Learned
)

// Learner finds out which controls a knob moves from being turned some detents
// clockwise, and, after a rest, back. It counts how often each control moves and
// keeps nothing else: no order, no time, and after a turn not even the counts.
// One control must make most of the movements of a turn, at least six, so that a
// word typed on the side is not learned. Pointers and axes (rel0, abs3, axis2),
// which also move when a mouse is touched, count only where no wheel, button or
// key was moved enough. When two turns back in a row do not fit the first one, it
// begins again.
type Learner struct {
	Knob   Knob   // what was learned; whole when Lesson is Learned
	Lesson Lesson // what to ask for now
	Again  bool   // the last turn was not clear and is asked for again

	moves map[Direction]int
	last  int64
	tries int // turns back in a row that were not clear
}

// Take takes an event of the device.
func (l *Learner) Take(e Event) {
	l.Tick(e.Time)
	t, ok := turnOf(e)
	if !ok || l.Lesson == Learned {
		return
	}
	if l.moves == nil {
		l.moves = map[Direction]int{}
	}
	l.moves[t]++
	l.last = e.Time
}

// Tick tells the time (ns of the recording's clock), which ends a turn.
func (l *Learner) Tick(now int64) {
	if len(l.moves) > 0 && now-l.last >= learnRest {
		l.Finish()
	}
}

// Finish ends a turn now.
func (l *Learner) Finish() {
	turn, clear := l.clearest()
	l.moves = nil
	first := l.Knob.Clockwise
	switch {
	case l.Lesson == Learned:
		return
	case !clear:
		l.Again = true
	case l.Lesson == TurnClockwise:
		l.Knob.Clockwise, l.Lesson, l.Again = turn, TurnCounter, false
	case turn == first || (turn.Sign == 0) != (first.Sign == 0) || turn.Sign != 0 && turn.Control != first.Control:
		l.Again = true
	default:
		l.Knob.Counter, l.Lesson, l.Again = turn, Learned, false
	}
	if l.tries++; l.Lesson != TurnCounter || !l.Again {
		l.tries = 0
	} else if l.tries == 2 {
		*l = Learner{Again: true}
	}
}

// clearest returns the turn that most movements were.
func (l *Learner) clearest() (Direction, bool) {
	for _, axes := range []bool{false, true} {
		var best Direction
		sum, most := 0, 0
		for t, n := range l.moves {
			if axes != numberedAxis(t.Control) {
				continue
			}
			sum += n
			if n > most {
				most, best = n, t
			}
		}
		if most >= learnMoves && most*5 >= sum*3 {
			return best, true
		}
	}
	return Direction{}, false
}
