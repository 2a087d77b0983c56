// Package compare lets candidates do the same dialings and says which is better,
// by how much, and how sure that is.
//
// A candidate is a profile, or a rig, or an operator; what is not compared is the
// same for all. All candidates meet the same people, targets, phases and noise,
// so the differences are paired (package paired). Where a profile cannot be set on
// a knob (it needs a key that the knob's rig does not use), that knob stays plain;
// the result says why.
//
// # What is worth choosing between
//
// Time and overshoot are both prices. A candidate is beaten by another that is no
// slower to a useful degree and overshoots no more often, and is better in one of the
// two: usefully quicker, or overshooting a point less often. What nothing beats is
// worth choosing between, from the quickest to the calmest.
//
// # Many trials
//
// Up to [sample.Kept] trials a cell are kept one by one. Beyond that a comparison keeps
// sums and histograms, so that its memory does not grow: what is said of more is as
// exact but for times, which are rounded to ms, and the test of a mean difference, which
// is the normal limit of the sign-flip test ([paired.AverageOf]).
//
// What the comparison leaves out: that people get used to a setting, and that
// they do not like one.
package compare

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync/atomic"

	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// Candidate is one of the things that are compared. What is nil is taken from
// the panel or from the study.
type Candidate struct {
	Name     string
	Profile  *scenarios.Profile
	Rig      *scenarios.Rig // instead of the rig of every knob
	Operator *scenarios.Operator
}

// Study is a comparison.
type Study struct {
	Panel      *scenarios.Panel
	Candidates []Candidate
	Trials     int // per cell
	Seed       uint64
	Workers    int
	Every      bool                // keep every trial, however many there are
	Progress   func(done, all int) // may be nil; called from several goroutines
}

// Result is what a comparison found, candidate by candidate, use by use. The
// differences are against the first candidate.
type Result struct {
	Study   *Study
	Uses    []scenarios.Served
	Trials  []sample.Panel      // [candidate][use]
	Against [][]*paired.Verdict // [candidate][use]; none for the first candidate
	Overall []Overall           // by candidate
	Ranking []int               // candidates that can be set on some knob, best first
	Partial bool
}

// Overall is a candidate over all tasks, weighted by how often each is done.
type Overall struct {
	sample.Score
	Against paired.Average // mean difference to the first candidate, s; zero for it
}

// mostSummed is how many trials an interrupted comparison sums up at most, so that it ends at
// once: some tenths of a second.
const mostSummed = 250_000

// Run does all trials. When the context ends it returns what was finished, of many trials
// the first, marked as partial, with the context's error; without a single finished trial per cell
// the result is nil.
func Run(ctx context.Context, s *Study) (*Result, error) {
	r := &Result{Study: s, Uses: s.Panel.Served()}
	if len(r.Uses) == 0 {
		return nil, errors.New("the panel has no tasks")
	}
	var done atomic.Int64
	whole := len(s.Candidates) * len(r.Uses) * s.Trials
	report := func(n int) {
		if s.Progress != nil {
			s.Progress(int(done.Add(int64(n))), whole)
		}
	}
	cells := len(s.Candidates) * len(r.Uses)
	seats, faults, all := make([]*trial.Seat, cells), make([]error, cells), make(sample.Panel, cells)
	var grips trial.Grips
	err := trial.Each(ctx, s.Workers, cells, func(n int) {
		c, u := s.Candidates[n/len(r.Uses)], r.Uses[n%len(r.Uses)]
		if c.Rig != nil {
			u = u.On(c.Rig)
		}
		if seats[n], faults[n] = grips.SeatOrPlain(u, c.Profile, c.Operator); faults[n] == nil {
			all[n] = sample.Of(seats[n])
		}
	})
	if err = cmp.Or(append(faults, err)...); err != nil {
		return nil, err
	}
	// All cells get on together, block by block, so that an interrupted study has the
	// same trials for all candidates. Few cells share the workers.
	const block = 256
	fold := func() {
		_ = trial.Each(context.Background(), s.Workers, len(r.Uses), func(j int) { // never half
			var use []*sample.Trials
			for n := j; n < cells; n += len(r.Uses) {
				use = append(use, all[n])
			}
			sample.Fold(use...)
		})
	}
	shared := (max(1, s.Workers) + cells - 1) / cells
	for first := 0; first < s.Trials && ctx.Err() == nil; first += block {
		last := min(first+block, s.Trials)
		_ = trial.Each(ctx, s.Workers, cells, func(n int) { // ctx is asked below
			did, err := trial.Batch(ctx, seats[n].Bench, s.Seed, first, last, shared, all[n].Take)
			if ctx.Err() == nil {
				faults[n] = err
			}
			report(did)
		})
		if err := cmp.Or(faults...); err != nil {
			return nil, err
		}
		if ctx.Err() == nil && !s.Every && all[0].Len() > sample.Kept {
			fold()
		}
	}
	if ctx.Err() != nil {
		most := s.Trials
		if !all[0].Folded() {
			most = min(most, max(1, mostSummed/cells))
		}
		if sample.Cut(most, all...) == 0 {
			return nil, ctx.Err()
		}
		r.Partial = true
	}
	if all[0].Folded() {
		fold()
	}
	for uses := range slices.Chunk(all, len(r.Uses)) {
		r.Trials = append(r.Trials, uses)
	}
	r.sum()
	return r, ctx.Err()
}
