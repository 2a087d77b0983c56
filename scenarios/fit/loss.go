package fit

import (
	"cmp"
	"math"
	"slices"

	"dialwright/scenarios/paired"
)

// Loss is how many clicks of a turn did not come to the recorder.
type Loss struct {
	Turn    string  // the part of the recording
	PerS    float64 // detents per second over the turn, regrips included; 0 where the turn shows less than two reports
	Slow    bool    // it is the slow turn, beside which the fast ones stand
	Turned  int     // detents
	Assumed bool    // that it were so many, the slow turn's
	Seen    int
	Share   float64 // lost; 0 where more was seen than turned
	Low     float64 // 95 % interval of the share that such turns lose
	High    float64
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
	detents, _ := f.r.Path.Get("knob.detents")
	assumed := turned == 0 && detents.Known && guided(f.spans)
	if assumed {
		turned = int(detents.Value) * len(parts)
	}
	if turned == 0 || f.train.hold || len(parts) == 0 {
		return
	}
	if turned < len(parts) || turned%len(parts) != 0 {
		f.note("%d clicks cannot be shared among %d whole turns; they are taken as one", turned, len(parts))
		whole := span{name: "all turns"}
		for _, s := range parts {
			whole.events = events{s.events.names, append(whole.events.list, s.events.list...)}
		}
		parts = []span{whole}
	}
	each := turned / len(parts)
	if guided(f.spans) && parts[0].kind == fastTurn {
		for _, s := range f.spans {
			if s.kind == slowTurn {
				parts = append(parts, s)
			}
		}
	}
	for _, s := range parts {
		l := Loss{Turn: s.name, Slow: s.kind == slowTurn, Assumed: assumed, Turned: each, Seen: int(math.Round(float64(f.seen(s)) / f.perDetent()))}
		if l.Turn == "" {
			l.Turn = "whole recording"
		}
		l.Share = max(0, 1-float64(l.Seen)/float64(each))
		e := paired.ShareInterval(min(max(0, each-l.Seen), each), each)
		l.Low, l.High = min(e.Low, l.Share), e.High
		var first, last int64 = -1, 0
		for e := range s.events.all() {
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
	for e := range s.events.all() {
		m := f.knob.Move(e)
		n += max(m, -m)
	}
	return n
}

// fast returns how many clicks were turned fast, 0 where that is not said, and the
// share of them that was lost, below 0 where more was seen.
func (r *Result) fast() (turned int, lost float64) {
	seen := 0
	for _, l := range r.Lost {
		if !l.Slow && !l.Assumed {
			turned += l.Turned
			seen += l.Seen
		}
	}
	if turned == 0 {
		return 0, 0
	}
	return turned, 1 - float64(seen)/float64(turned)
}

// lostShare is the share of the clicks that were lost, 0 where it is not known.
func (f *fitting) lostShare() float64 {
	_, lost := f.r.fast()
	return max(0, lost)
}
