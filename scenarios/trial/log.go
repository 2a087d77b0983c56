package trial

import (
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// Log is a trial written down. It is used again for the next one, whose room it
// keeps.
type Log struct {
	Result
	Runs  []Run      // in the order of time
	moves []hand.Act // of the hand, before the run to come
}

// Run is the turning of one dial, until its path is empty. A dial that was turned
// for the other, and turned back later, has several.
type Run struct {
	scenarios.Dial
	Number        int   // of the dial, in the order of [Bench.Dials]
	Mistaken      bool  // it was taken for the other ring
	Start, Target int64 // numbers of the dial
	Latency       int64 // ns from a step to the screen
	Acts          []hand.Act
	Events        []encoder.Event // their detents are counted within the run
	Turned        []int64         // when each detent was complete
}

// Record does trial number n under a seed and writes it down.
func (b *Bench) Record(l *Log, seed uint64, n int) {
	l.Runs, l.moves = l.Runs[:0], l.moves[:0]
	b.log = l
	l.Result = b.Run(seed, n)
	b.log = nil
}

// begin opens a run.
func (l *Log) begin(number int, x *dial, mistaken bool, start, target int64) {
	if len(l.Runs) < cap(l.Runs) {
		l.Runs = l.Runs[:len(l.Runs)+1]
	} else {
		l.Runs = append(l.Runs, Run{})
	}
	r := l.last()
	*r = Run{
		Dial: x.Dial, Number: number, Mistaken: mistaken, Start: start, Target: target, Latency: int64(x.setup.Rig.Display.Latency),
		Acts: append(r.Acts[:0], l.moves...), Events: r.Events[:0], Turned: r.Turned[:0],
	}
	l.moves = l.moves[:0]
}

func (l *Log) last() *Run { return &l.Runs[len(l.Runs)-1] }

func (l *Log) act(a hand.Act) {
	r := l.last()
	r.Acts = append(r.Acts, a)
}

func (l *Log) event(e encoder.Event) {
	r := l.last()
	r.Events = append(r.Events, e)
	if e.Kind == encoder.Turned {
		r.Turned = append(r.Turned, e.At)
	}
}

// Fates appends where each detent of the run ended, as its events show.
func (r *Run) Fates(to []encoder.Fate) []encoder.Fate {
	first := len(to)
	for range r.Turned {
		to = append(to, encoder.Illegal)
	}
	for _, e := range r.Events {
		if e.Detent < 0 {
			continue
		}
		fate := &to[first+e.Detent]
		switch {
		case e.Kind == encoder.Lost:
			*fate = max(*fate, e.Fate)
		case e.Kind == encoder.Stepped && e.Cause == encoder.ByDetent:
			*fate = encoder.Delivered
		}
	}
	return to
}
