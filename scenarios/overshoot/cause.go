package overshoot

import (
	"slices"

	"dialwright/accel"
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
	FromPlan                 // planned past the target: no quicker way was seen
	FromGain                 // gain higher than planned
	FromPerson               // wrong estimate of the person
	causes
)

var causeNames = [causes]string{
	"run-on from repeat", "run-on from backlog", "lag", "stroke noise", "landing rule", "planned past the target", "gain higher than planned", "wrong estimate of the person",
}

// String returns the cause in words.
func (c Cause) String() string { return causeNames[c] }

// handStep is what hand counts a task step as.
const handStep = 256

// story is what happened on one dial of one trial.
type story struct {
	acts    []hand.Act
	steps   []encoder.Event // Stepped
	waited  map[int]bool    // detents whose pulse waited
	turned  []int64         // when each detent was complete
	lands   []int64         // gains, task steps, whose multiples the profile lands on; nil without landing
	latency int64           // ns from a step to the screen
	scale   encoder.Scale
	start   int64
	target  int64
	within  int64 // tolerance, steps
}

// crossing returns the step that took the number past the target for the first
// time, the step that brought it back (or how many steps there were), and by how
// much it went past between; false if it never did.
func (s *story) crossing() (index, back int, size int64, ok bool) {
	off := -s.scale.Distance(s.start, s.target)
	side := sign(off)
	value := s.start
	index = -1
	for i, e := range s.steps {
		off += s.scale.Distance(value, e.Value)
		value = e.Value
		if s.scale.Wrap && 2*max(off, -off) > s.scale.Count { // once around: see trial
			if off, side = -s.scale.Distance(value, s.target), -side; index >= 0 {
				return index, i, size, true
			}
		}
		past := off - min(max(off, -s.within), s.within)
		switch {
		case index < 0 && past != 0 && sign(past) == -side:
			index, size = i, max(past, -past)
		case index >= 0 && sign(past) == -side:
			size = max(size, past, -past)
		case index >= 0:
			return index, i, size, true
		}
	}
	return index, len(s.steps), size, index >= 0
}

// speed returns the detents a second of the stroke that first brought the number to
// the target or past it; 0 if none did.
func (s *story) speed() float64 {
	off := -s.scale.Distance(s.start, s.target)
	side := sign(off)
	value := s.start
	for _, e := range s.steps {
		off += s.scale.Distance(value, e.Value)
		value = e.Value
		if side*off > s.within {
			continue
		}
		a, ok := s.strokeBefore(e)
		if !ok || a.Until <= a.At {
			return 0
		}
		return float64(max(a.Turned, -a.Turned)) * 1e9 / float64(a.Until-a.At)
	}
	return 0
}

// repeated returns by how many steps key repeat and the program's own repeat
// carried the number on between a stroke's begin and a step.
func (s *story) repeated(from int64, before int, dir int64) (steps int64) {
	for _, e := range s.steps[:before] {
		if e.At > from && (e.Cause == encoder.ByRepeat || e.Cause == encoder.ByHold) {
			steps += dir * int64(e.Dir) * e.Count
		}
	}
	return steps
}

// cause finds why the number went past. The rules are asked in turn; the first
// that explains at least half of the excess is the cause.
func (s *story) cause() Cause {
	i, back, size, ok := s.crossing()
	if !ok {
		return FromPerson // past only on the way back: the approach from the other side was misjudged
	}
	crossed := s.steps[i]
	if crossed.Cause == encoder.ByRepeat || crossed.Cause == encoder.ByHold {
		return FromRepeat
	}
	stroke, found := s.strokeBefore(crossed)
	if !found {
		return FromLag // it came from what was turned before the person looked at all
	}
	dir := sign(stroke.Turned)
	if 2*s.repeated(stroke.At, back, dir) >= size {
		return FromRepeat
	}
	// What the person believed to be missing, less what really was once all that
	// was turned before had arrived.
	arrived := s.start
	for _, e := range s.steps {
		if e.Detent >= 0 && e.Detent < len(s.turned) && s.turned[e.Detent] < stroke.At {
			arrived = s.scale.Add(arrived, int64(e.Dir)*e.Count)
		}
	}
	unseen := dir * (stroke.Missing - s.scale.Distance(arrived, s.target)*handStep)
	if 2*unseen >= size*handStep {
		switch {
		case 2*s.onTheWay(stroke, dir)*handStep < unseen: // the own clicks before brought something else
			before, ok := s.before(stroke)
			if !ok {
				return FromPerson
			}
			noise, most := s.noise(before)
			if most {
				return FromNoise
			}
			return s.higherOrWrong(before, noise)
		case s.waitedAt(stroke.At):
			return FromBacklog
		}
		return FromLag
	}
	noise, most := s.noise(stroke)
	if most {
		return FromNoise
	}
	if count := s.landed(crossed.Detent); 2*count >= size && count > 0 {
		return FromLanding
	}
	if planned := dir * (stroke.Travel - stroke.Missing); 2*planned >= size*handStep {
		return FromPlan
	}
	return s.higherOrWrong(stroke, noise)
}

// noise returns what the detents brought that a stroke turned beyond its plan, and
// whether that is most of what it brought too much.
func (s *story) noise(stroke hand.Act) (noise int64, most bool) {
	dir := sign(stroke.Turned)
	actual := s.travelOf(stroke)
	per := dir * actual
	if stroke.Turned != 0 {
		per = actual / stroke.Turned // of a detent
	}
	noise = (dir*stroke.Turned - stroke.Planned) * max(per, -per)
	return noise, noise > 0 && 2*noise >= dir*(actual-stroke.Travel)
}

// higherOrWrong decides between what the person believed that a stroke brings, what its
// planned detents bring on average, and what they brought this time, less noise.
func (s *story) higherOrWrong(stroke hand.Act, noise int64) Cause {
	dir := sign(stroke.Turned)
	if dir*(s.travelOf(stroke)-stroke.Fair)-noise > dir*(stroke.Fair-stroke.Travel) {
		return FromGain
	}
	return FromPerson
}

// before returns the stroke before another one.
func (s *story) before(stroke hand.Act) (hand.Act, bool) {
	for i := len(s.acts) - 1; i >= 0; i-- {
		if a := s.acts[i]; a.Kind == hand.Stroke && a.At < stroke.At {
			return a, true
		}
	}
	return hand.Act{}, false
}

// onTheWay returns how many steps of what had been turned before the look that led
// to a stroke were not on the screen by then.
func (s *story) onTheWay(stroke hand.Act, dir int64) (steps int64) {
	look := stroke.At
	for _, a := range s.acts {
		if a.Kind == hand.Look && a.At <= stroke.At {
			look = a.At
		}
	}
	for _, e := range s.steps {
		if e.Detent >= 0 && e.Detent < len(s.turned) && s.turned[e.Detent] <= look && e.At+s.latency > look {
			steps += dir * int64(e.Dir) * e.Count
		}
	}
	return steps
}

// landed returns by how many steps a detent carried the number on if that landed
// on a multiple of a gain that lands, else 0.
func (s *story) landed(detent int) int64 {
	count, number := int64(0), int64(0)
	for _, e := range s.steps {
		if e.Detent == detent && e.Cause == encoder.ByDetent {
			count += e.Count
			number = s.scale.Low + e.Value
		}
	}
	for _, gain := range s.lands {
		if count <= gain && number%gain == 0 {
			return count
		}
	}
	return 0
}

// landsOn lists the gains, in whole task steps, above that from which on an
// acceleration lands, as the curve gives them at steady rates.
func landsOn(a *accel.Acceleration) []int64 {
	if a.Landing <= 0 {
		return nil
	}
	g, err := a.Compile()
	if err != nil {
		return nil // a bench of it was made: cannot be
	}
	var gains []int64
	for ticks := int64(0); ticks < int64(g.Rest); ticks += max(1, int64(g.TicksPerSecond)/1000) {
		if gain := g.AtInterval(ticks); gain > int64(g.Landing) {
			gains = append(gains, (gain+handStep/2)/handStep)
		}
	}
	slices.Sort(gains)
	return slices.Compact(gains)
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
			sum += int64(e.Dir) * e.Count * handStep
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
