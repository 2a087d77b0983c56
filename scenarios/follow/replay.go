package follow

import (
	"time"

	"dialwright/encoder"
	"dialwright/scenarios/trial"
)

// Trial does a trial again and follows what the person turned. A trial with
// several dials gives one turn for each, joined in the order of time.
func Trial(s *trial.Seat, seed uint64, n int) (*Turn, trial.Result) {
	var log trial.Log
	s.Record(&log, seed, n)
	t := &Turn{Account: log.Account}
	for i := range log.Runs {
		r := &log.Runs[i]
		before := len(t.Detents)
		for _, e := range r.Events {
			if e.Detent >= 0 {
				e.Detent += before
			}
			if e.Kind == encoder.Turned {
				t.Detents = append(t.Detents, Detent{time.Duration(e.At), e.Dir})
			}
			t.record(e)
		}
		if !s.Holds() {
			t.Fates = r.Fates(t.Fates)
		}
	}
	return t, log.Result
}
