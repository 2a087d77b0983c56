package overshoot

import (
	"dialwright/encoder"
	"dialwright/scenarios/hand"
)

// Cause is why a number went past its target.
type Cause int

// The causes, in the order in which their rules are asked; see the package
// comment.
const (
	FromRepeat  Cause = iota // run-on from repeat
	FromBacklog              // run-on from backlog
	FromLag                  // lag, of the display or the path
	FromNoise                // stroke noise
	FromLanding              // landing rule
	FromGain                 // gain higher than planned
	FromPerson               // wrong estimate of the person
	causes
)

var causeNames = [causes]string{
	"run-on from repeat", "run-on from backlog", "lag", "stroke noise", "landing rule", "gain higher than planned", "wrong estimate of the person",
}

// String returns the cause in words.
func (c Cause) String() string { return causeNames[c] }

// fine is what hand counts a task step as.
const fine = 256

// story is what happened on one dial of one trial.
type story struct {
	acts    []hand.Act
	steps   []encoder.Event // Stepped
	waited  map[int]bool    // detents whose pulse waited
	turned  []int64         // when each detent was complete
	dirs    []int8
	landing bool // the profile has a landing rule
	scale   encoder.Scale
	start   int64
	target  int64
	within  int64 // tolerance, steps
}

// crossing returns the step that took the number past the target for the first
// time, by how much the number went past before the knob turned back, and the
// direction; false if it never did.
func (s *story) crossing() (index int, size int64, ok bool) {
	off := -s.scale.Distance(s.start, s.target)
	side := sign(off)
	value := s.start
	index = -1
	for i, e := range s.steps {
		off += s.scale.Distance(value, e.Value)
		value = e.Value
		past := off - min(max(off, -s.within), s.within)
		switch {
		case index < 0 && past != 0 && sign(past) == -side:
			index, size = i, max(past, -past)
		case index >= 0 && sign(past) == -side:
			size = max(size, past, -past)
		case index >= 0:
			return index, size, true // back again
		}
	}
	return index, size, index >= 0
}

// cause finds why the number went past. The rules are asked in turn; the first
// that explains at least half of the excess is the cause.
func (s *story) cause() (Cause, bool) {
	i, size, ok := s.crossing()
	if !ok {
		return 0, false
	}
	crossed := s.steps[i]
	if crossed.Cause == encoder.ByRepeat || crossed.Cause == encoder.ByHold {
		return FromRepeat, true
	}
	stroke, found := s.strokeBefore(crossed)
	if !found {
		return FromLag, true // it came from what was turned before the person looked at all
	}
	dir := sign(stroke.Turned)
	// What the person believed to be missing, less what really was once all that
	// was turned before had arrived.
	arrived := s.start
	for _, e := range s.steps {
		if e.Detent >= 0 && e.Detent < len(s.turned) && s.turned[e.Detent] < stroke.At {
			arrived = s.scale.Add(arrived, int64(e.Dir)*e.Count)
		}
	}
	unseen := dir * (stroke.Missing - s.scale.Distance(arrived, s.target)*fine)
	if 2*unseen >= size*fine {
		if s.waitedAt(stroke.At) {
			return FromBacklog, true
		}
		return FromLag, true
	}
	actual := s.travelOf(stroke)
	excess := dir * (actual - stroke.Travel)
	per := dir * actual
	if stroke.Turned != 0 {
		per = actual / stroke.Turned // of a detent
	}
	noise := (dir*stroke.Turned - stroke.Planned) * max(per, -per)
	if noise > 0 && 2*noise >= excess {
		return FromNoise, true
	}
	if s.landing && crossed.Count > 1 && crossed.Value%crossed.Count == 0 && 2*crossed.Count >= size {
		return FromLanding, true
	}
	// What is left lies between what the person believed, what the planned detents
	// bring on average, and what they brought this time.
	higher := dir*(actual-stroke.Fair) - noise
	wrong := dir * (stroke.Fair - stroke.Travel)
	if higher > wrong {
		return FromGain, true
	}
	return FromPerson, true
}

// strokeBefore returns the stroke that turned the detent of a step.
func (s *story) strokeBefore(step encoder.Event) (hand.Act, bool) {
	at := step.At
	if step.Detent >= 0 && step.Detent < len(s.turned) {
		at = s.turned[step.Detent]
	}
	for i := len(s.acts) - 1; i >= 0; i-- {
		if a := s.acts[i]; a.Kind == hand.Stroke && a.At <= at {
			return a, true
		}
	}
	return hand.Act{}, false
}

// travelOf returns what a stroke's detents brought, 1/256 steps, signed.
func (s *story) travelOf(stroke hand.Act) int64 {
	sum := int64(0)
	for _, e := range s.steps {
		if e.Detent >= 0 && e.Detent < len(s.turned) && s.turned[e.Detent] >= stroke.At && s.turned[e.Detent] <= stroke.Until {
			sum += int64(e.Dir) * e.Count * fine
		}
	}
	return sum
}

// waitedAt says whether pulses of earlier detents were still waiting, or their
// steps still to come, because of the queue.
func (s *story) waitedAt(at int64) bool {
	for _, e := range s.steps {
		if e.At > at && e.Detent >= 0 && e.Detent < len(s.turned) && s.turned[e.Detent] < at && s.waited[e.Detent] {
			return true
		}
	}
	return false
}

func sign(x int64) int64 {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}
