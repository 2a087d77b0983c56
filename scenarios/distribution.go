package scenarios

import (
	"math"

	"dialwright/encoder/draw"
)

// Distribution says which numbers a task starts from or asks for. Exactly one
// of its parts is used, the first that is set; the zero value is uniform over
// all numbers.
//
// None draws a number that the task does not have: a distance that would leave
// the range is taken the other way, and where that leaves it too, or the number
// is an alarm, the trial is drawn again.
type Distribution struct {
	Pairs []Pair   // rows of real changes; where both ends of a task have the same rows, start and target come from one row
	List  []Amount // each equally likely
	Near  Near     // around the start
	Move  Move     // a signed distance from the start

	MultiplesOf Amount  // uniform over all numbers, but
	Share       float64 // this share over multiples of MultiplesOf only
}

// Pair is one change of a number, from and to.
type Pair struct{ From, To Amount }

// Near is normal with a standard deviation: around Around, and where that is 0
// around the trial's start, or for the start itself around the middle of the
// range.
type Near struct{ SD, Around Amount }

// Move is a distance from the start (for the start itself: from the middle of
// the range) whose logarithm is uniform between From and To, up or down equally
// likely: small moves are as common as large ones on a logarithmic scale.
type Move struct{ From, To Amount }

// Draw returns the index of the start and of the target of a trial. They differ
// by more than the tolerance. Distributions that leave no such numbers in 64
// draws get the ends of the range (where it wraps, two opposite numbers).
func (t *Task) Draw(trial draw.Trial) (start, target int64) {
	s := trial.Stream(draw.Targets)
	scale := t.Scale()
	const tries = 64
	for i := int64(0); i < tries; i++ {
		start, ok := t.pick(t.Start, s, 8*i, t.Count()/2, false)
		if !ok || t.Alarmed(start) {
			continue
		}
		target, ok := t.pick(t.Target, s, 8*i+4, start, true)
		if !ok || t.Alarmed(target) {
			continue
		}
		if d := scale.Distance(start, target); max(d, -d) > t.ToleranceSteps() {
			return start, target
		}
	}
	if t.Wrap {
		return 0, t.Count() / 2
	}
	return 0, t.Count() - 1
}

// pick draws one end of a trial, or false where it is no number of the task. It
// uses indexes at to at+3 of the stream, and for pairs at rounded down to a
// multiple of 8, which is the same for both ends.
func (t *Task) pick(d Distribution, s draw.Stream, at, around int64, target bool) (i int64, ok bool) {
	switch {
	case d.Pairs != nil:
		row := d.Pairs[s.Below(at&^7, int64(len(d.Pairs)))]
		if target {
			return t.Index(row.To)
		}
		return t.Index(row.From)
	case d.List != nil:
		return t.Index(d.List[s.Below(at, int64(len(d.List)))])
	case d.Near.SD > 0:
		if d.Near.Around != 0 {
			if around, ok = t.Index(d.Near.Around); !ok {
				return 0, false
			}
		}
		return t.eitherSide(around, float64(s.Normal(at))/draw.One*d.Near.SD.Float())
	case d.Move.To > 0:
		u := float64(s.Unit(at)) / draw.Share
		far := d.Move.From.Float() * math.Pow(float64(d.Move.To)/float64(d.Move.From), u)
		if s.Below(at+1, 2) == 0 {
			far = -far
		}
		return t.eitherSide(around, far)
	case d.MultiplesOf > 0 && float64(s.Unit(at+1))/draw.Share < d.Share:
		first := -floorDiv(-t.At(0), d.MultiplesOf)
		last := floorDiv(t.At(t.Count()-1), d.MultiplesOf)
		if first > last {
			return 0, false
		}
		return t.Index((first + Amount(s.Below(at, int64(last-first)+1))) * d.MultiplesOf)
	}
	return s.Below(at, t.Count()), true
}

// eitherSide returns the number so many units from number i, or where the range
// ends before that as many the other way.
func (t *Task) eitherSide(i int64, units float64) (int64, bool) {
	if j, ok := t.beside(i, units); ok {
		return j, true
	}
	return t.beside(i, -units)
}

func floorDiv(a, b Amount) Amount {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
