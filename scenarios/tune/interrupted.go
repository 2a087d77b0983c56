package tune

import (
	"cmp"
	"context"
	"errors"
	"time"
)

// interrupted is how many trials a task an interrupted search still does at most to prove
// what it found, and moment for how long, as whoever interrupts it waits: what is not
// proved by then is left out.
const (
	interrupted = 400
	moment      = 250 * time.Millisecond
)

// grace is a context that ends a moment after another one. Its stop must be called.
func (s *search) grace(ctx context.Context) (later context.Context, stop func()) {
	patience := cmp.Or(s.Patience, moment) // now: hurry gives the search another study
	later, end := context.WithCancel(context.WithoutCancel(ctx))
	ended := context.AfterFunc(ctx, func() {
		select {
		case <-time.After(patience):
			end()
		case <-later.Done():
		}
	})
	return later, func() { ended(); end() }
}

// hurry cuts the trials that are still to come once the context has ended.
func (s *search) hurry(ctx context.Context) {
	if ctx.Err() != nil && !s.hurried {
		study := *s.Study
		study.Trials = min(study.Trials, interrupted)
		s.Study, s.hurried = &study, true
	}
}

// halfway is a field without finalists: its choice is the best of what a search that was
// interrupted has found. It is nil where nothing was found.
func (s *search) halfway(p *pool, ends []point) *field {
	if len(ends) == 0 {
		return nil
	}
	f := &field{pool: s.pool(p.board, "choice"), found: ends[0]}
	f.block = judges
	for range p.board.uses {
		f.most, f.lost = append(f.most, s.MaxOvershoot), append(f.lost, s.MaxLost)
	}
	return f
}

// last proves the choice of an interrupted search: it and the settings of now, no more.
func (f *field) last(proof context.Context, x point) ([]*KnobResult, error) {
	pool := f.search.pool(f.board, "")
	pool.block = f.Seed
	if err := pool.measurePoints(proof, f.Trials, x.all(), f.board.now, x); err != nil {
		return nil, err
	}
	if err := errors.Join(pool.gaveUp(f.board.now), pool.gaveUp(x)); err != nil {
		return nil, err
	}
	return f.results(x, proven{before: pool.panels(f.board.now), after: pool.panels(x), claims: f.claims(pool, x)}), nil
}
