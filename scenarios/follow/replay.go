package follow

import (
	"time"

	"dialwright/encoder"
	"dialwright/scenarios/trial"
)

// Trial does a trial again and follows what the person turned. A trial with
// several dials gives one turn for each, joined in the order of time.
func Trial(b *trial.Bench, seed uint64, n int) (*Turn, trial.Result) {
	t := &Turn{}
	base, dial := 0, -1
	b.Path = func(d int, e encoder.Event) {
		if d != dial {
			base, dial = len(t.Detents), d
		}
		if e.Detent >= 0 {
			e.Detent += base
		}
		if e.Kind == encoder.Turned {
			t.Detents = append(t.Detents, Detent{time.Duration(e.At), e.Dir})
			t.Fates = append(t.Fates, encoder.Illegal)
		}
		if e.Detent >= 0 {
			t.Fates[e.Detent] = max(t.Fates[e.Detent], fateOf(e))
		}
		t.record(e)
	}
	r := b.Run(seed, n)
	b.Path = nil
	t.Account = r.Account
	if b.Holds() {
		t.Fates = nil
	}
	return t, r
}

// fateOf returns how far an event shows its detent to have come.
func fateOf(e encoder.Event) encoder.Fate {
	switch {
	case e.Kind == encoder.Lost:
		return e.Fate
	case e.Kind == encoder.Stepped && e.Cause == encoder.ByDetent:
		return encoder.Delivered
	}
	return encoder.Illegal
}
