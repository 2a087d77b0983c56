package fit

import (
	"cmp"
	"math"
	"slices"

	"dialwright/scenarios/paired"
)

// Loss is how many clicks of a turn did not come to the recorder.
type Loss struct {
	Turn   string  // the part of the recording
	PerS   float64 // detents per second over the turn, regrips included; 0 where the turn shows less than two reports
	Turned int     // detents
	Seen   int
	Share  float64 // lost; below 0 where more was seen than turned
	Low    float64 // 95 % interval of the share that such turns lose
	High   float64
}

// losses counts what was lost where the true count is known: of a session's fast
// turns, or of a whole recording. Fast turns are whole turns: each has its share of
// the clicks turned, or without that number the clicks of the slow turn.
func (f *fitting) losses(r *Recording) {
	var parts []span
	if guided(f.spans) {
		for _, s := range f.spans {
			if s.kind == fastTurn {
				parts = append(parts, s)
			}
		}
	} else if len(f.spans) > 0 {
		parts = f.spans
	}
	turned := f.Turned
	if turned == 0 || f.train.hold || len(parts) == 0 {
		return
	}
	if turned < len(parts) || turned%len(parts) != 0 {
		f.note("%d clicks cannot be shared among %d whole turns; they are taken as one", turned, len(parts))
		whole := span{name: "all turns"}
		for _, s := range parts {
			whole.events = append(whole.events, s.events...)
		}
		parts = []span{whole}
	}
	each := turned / len(parts)
	for _, s := range parts {
		l := Loss{Turn: s.name, Turned: each, Seen: int(math.Round(float64(f.seen(s)) / f.perDetent()))}
		if l.Turn == "" {
			l.Turn = "whole recording"
		}
		l.Share = 1 - float64(l.Seen)/float64(each)
		e := paired.ShareInterval(min(max(0, each-l.Seen), each), each)
		l.Low, l.High = min(e.Low, l.Share), e.High
		var first, last int64 = -1, 0
		for _, e := range s.events {
			if r.Knob.Move(e) != 0 {
				if last = e.Time; first < 0 {
					first = e.Time
				}
			}
		}
		if last > first && first >= 0 {
			l.PerS = float64(each) / (float64(last-first) / 1e9)
		}
		f.r.Lost = append(f.r.Lost, l)
	}
	slices.SortStableFunc(f.r.Lost, func(a, b Loss) int { return cmp.Compare(a.PerS, b.PerS) })
}

// seen returns how many counts of a part the recorder saw, whichever way.
func (f *fitting) seen(s span) (n int64) {
	for _, e := range s.events {
		m := f.knob.Move(e)
		n += max(m, -m)
	}
	return n
}

// lostShare is the share of the clicks that were lost, 0 where it is not known.
func (f *fitting) lostShare() float64 {
	turned, seen := 0, 0
	for _, l := range f.r.Lost {
		turned += l.Turned
		seen += l.Seen
	}
	if turned == 0 {
		return 0
	}
	return max(0, 1-float64(seen)/float64(turned))
}
