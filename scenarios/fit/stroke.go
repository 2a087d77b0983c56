package fit

import (
	"math"
	"slices"

	"dialwright/encoder/recording"
)

// Limits in the search for strokes; ours.
const (
	leastMoves  = 4   // counts of a burst whose rate is believed
	leastBursts = 4   // bursts that a claim about them rests on
	longestRest = 1e9 // ns; a longer pause is no regrip
)

// strokes is what the movements of a recording say about the hand.
type strokes struct {
	bursts []stroke
	free   bool      // of a recording in which nobody said what was turned
	slow   []float64 // intervals of the slow turn, s, rising
	turn   int64     // counts of the slow turn
}

// stroke is a burst of movement: a stroke of the hand, as far as the path let it
// through.
type stroke struct {
	recording.Burst
	pause    float64 // s since the burst before in the same turn; 0 without one
	from, to bool    // it is the first, the last of its turn
}

// rate returns the counts per second within a burst, 0 where it is too short.
func (s stroke) rate() float64 {
	if s.Notches < leastMoves || s.Reports < 3 {
		return 0
	}
	n := float64(s.Notches) * float64(s.Reports-1) / float64(s.Reports)
	return n / (float64(s.End-s.Start) / 1e9)
}

// findRest returns the pause that tells a regrip from the time between two clicks of
// a stroke: the middle of the widest gap, in proportion, between the lengths of
// intervals from a twelfth to half a second, or 0 where there is no such gap.
func (r *Recording) findRest(spans []span) int64 {
	var gaps []float64
	isFree := !guided(spans)
	for _, s := range spans {
		if s.kind != fastTurn && !isFree {
			continue
		}
		last := int64(-1)
		for e := range s.events.all() {
			if r.Knob.Move(e) == 0 {
				continue
			}
			if last >= 0 && e.Time > last {
				gaps = append(gaps, float64(e.Time-last))
			}
			last = e.Time
		}
	}
	slices.Sort(gaps)
	rest, widest := 0.0, 1.15
	for i := 1; i < len(gaps); i++ {
		low, high := max(gaps[i-1], 40e6), gaps[i]
		if mid := math.Sqrt(low * high); mid > 80e6 && mid < 500e6 && high/low > widest {
			rest, widest = mid, high/low
		}
	}
	return int64(rest)
}

// findStrokes cuts the fast turns of a session, or all of a free recording, into
// bursts, at pauses longer than rest (ns; 0: recording.Rest).
func (r *Recording) findStrokes(spans []span, rest int64) strokes {
	s := strokes{free: !guided(spans)}
	for _, part := range spans {
		moves := part.events.only(func(e recording.Event) bool { return r.Knob.Move(e) != 0 })
		switch {
		case part.kind == slowTurn:
			last := int64(math.MaxInt64 / 2) // before the first none
			for e := range moves {
				s.turn += max(r.Knob.Move(e), -r.Knob.Move(e))
				if d := float64(e.Time-last) / 1e9; d > 0 {
					s.slow = append(s.slow, d/float64(max(r.Knob.Move(e), -r.Knob.Move(e))))
				}
				last = e.Time
			}
			slices.Sort(s.slow)
		case part.kind == fastTurn, s.free:
			bs := recording.Bursts(moves, rest)
			for i, b := range bs {
				x := stroke{Burst: b, from: i == 0, to: i == len(bs)-1}
				if i > 0 {
					if x.pause = float64(b.Start-bs[i-1].End) / 1e9; x.pause > longestRest/1e9 {
						x.pause = 0
					}
				}
				s.bursts = append(s.bursts, x)
			}
		}
	}
	return s
}

// lengths returns the counts of the bursts; with full, of those only that most
// likely used the whole reach: neither the first nor the last of a turn, and where
// nobody said what was turned, not single clicks.
func (s *strokes) lengths(full bool) []float64 {
	x := make([]float64, 0, len(s.bursts))
	for _, b := range s.bursts {
		if !full || s.free && b.rate() > 0 || !s.free && !b.from && !b.to {
			x = append(x, float64(b.Notches))
		}
	}
	return x
}

func (s *strokes) rates() []float64 {
	x := make([]float64, 0, len(s.bursts))
	for _, b := range s.bursts {
		if r := b.rate(); r > 0 {
			x = append(x, r)
		}
	}
	return x
}

func (s *strokes) pauses() []float64 {
	x := make([]float64, 0, len(s.bursts))
	for _, b := range s.bursts {
		if b.pause > 0 {
			x = append(x, b.pause)
		}
	}
	return x
}

// ends returns the shares of a stroke's time at which the first and the last of n
// detents are complete, with four edges a detent.
func ends(n float64) (first, last float64) {
	return jerkTime(min(1, 0.875/n)), jerkTime(1 - 0.125/n)
}
