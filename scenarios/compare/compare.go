// Package compare lets candidates do the same dialings and says which is better,
// by how much, and how sure that is.
//
// A candidate is a profile, or a rig, or an operator; what is not compared is the
// same for all. All candidates meet the same people, targets, phases and noise,
// so the differences are paired (package paired). Where a profile cannot be set on
// a knob (it needs a key that the knob's rig does not use), that knob stays plain;
// the cell says why.
//
// What the comparison leaves out: that people get used to a setting, and that
// they do not like one.
package compare

import (
	"cmp"
	"context"
	"errors"
	"math"
	"sync/atomic"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
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
	Progress   func(done, all int) // may be nil; called from several goroutines
}

// Result is what a comparison found, candidate by candidate, task by task. The
// differences are against the first candidate.
type Result struct {
	Study   *Study
	Uses    []scenarios.Served
	Cells   [][]*Cell // [candidate][use]
	Overall []Overall // by candidate
	Ranking []int     // candidates that can be set on some knob, best first
	Partial bool
}

// Cell is one candidate on one task.
type Cell struct {
	Stays    error // why the profile cannot be set on this knob, which stays plain; nil
	Trials   int
	Timeouts int
	Limit    float64 // s

	Seconds  []float64 // by trial, +Inf for a timeout
	Overshot []bool    // by trial
	Detents  int
	Lost     int // detents without a step of their own; 0 where detents have no fate

	Time           paired.Estimate // median, s
	P90, P95, Mean float64         // s; Mean counts a timeout as the limit
	Overshoot      paired.Estimate // share of trials
	OvershootP90   float64         // steps, over the trials that overshot; 0 without any
	LostShare      paired.Estimate

	AgainstFirst *paired.Verdict // nil for the first candidate
	overshoots   []float64
}

// Overall is a candidate over all tasks, weighted by how often each is done.
type Overall struct {
	Seconds   paired.Estimate // mean time per dialing, timeouts as the limit
	Overshoot float64
	Lost      float64
	Against   paired.Average // mean difference to the first candidate, s; zero for it
}

// Run does all trials. When the context ends it returns what was finished, marked
// as partial, with the context's error; without a single finished trial per cell
// the result is nil.
func Run(ctx context.Context, s *Study) (*Result, error) {
	r := &Result{Study: s, Uses: s.Panel.Served()}
	if len(r.Uses) == 0 {
		return nil, errors.New("the panel has no tasks")
	}
	var done atomic.Int64
	all := len(s.Candidates) * len(r.Uses) * s.Trials
	report := func(n int) {
		if s.Progress != nil {
			s.Progress(int(done.Add(int64(n))), all)
		}
	}
	r.Cells = make([][]*Cell, len(s.Candidates))
	for i := range r.Cells {
		r.Cells[i] = make([]*Cell, len(r.Uses))
	}
	cells := len(s.Candidates) * len(r.Uses)
	benches, faults := make([]*trial.Bench, cells), make([]error, cells)
	err := trial.Each(ctx, s.Workers, cells, func(n int) {
		i, j := n/len(r.Uses), n%len(r.Uses)
		c, cell := s.Candidates[i], &Cell{}
		r.Cells[i][j] = cell
		if benches[n], cell.Stays = c.bench(r.Uses[j], c.Profile); cell.Stays != nil {
			benches[n], faults[n] = c.bench(r.Uses[j], &scenarios.Profile{Name: "plain"})
		}
		if faults[n] == nil {
			cell.Limit = benches[n].Limit().Seconds()
		}
	})
	if err = cmp.Or(append(faults, err)...); err != nil {
		return nil, err
	}
	// All cells get on together, block by block, so that an interrupted study has the
	// same trials for all candidates. Few cells share the workers.
	const block = 256
	shared := (max(1, s.Workers) + cells - 1) / cells
	for first := 0; first < s.Trials && ctx.Err() == nil; first += block {
		last := min(first+block, s.Trials)
		_ = trial.Each(ctx, s.Workers, cells, func(n int) { // ctx is asked below
			did, err := trial.Batch(ctx, benches[n], s.Seed, first, last, shared, r.Cells[n/len(r.Uses)][n%len(r.Uses)].take)
			if ctx.Err() == nil {
				faults[n] = err
			}
			report(did)
		})
		if err := cmp.Or(faults...); err != nil {
			return nil, err
		}
	}
	if ctx.Err() != nil {
		if !r.cut() {
			return nil, ctx.Err()
		}
		r.Partial = true
	}
	r.sum()
	return r, ctx.Err()
}

// bench makes a candidate ready for a task with a profile.
func (c Candidate) bench(u scenarios.Served, p *scenarios.Profile) (*trial.Bench, error) {
	cell := trial.Cell{Task: u.Task, Rings: u.Knob.Rings, Profile: p, Operator: c.Operator, Others: u.Others}
	inner, outer := u.Knob.Inner, u.Knob.Outer
	if c.Rig != nil {
		inner, outer = c.Rig, nil
	}
	cell.Inner = &inner.Rig
	if outer != nil {
		cell.Outer = &outer.Rig
	}
	return trial.NewBench(cell)
}

// take adds a trial to the cell.
func (c *Cell) take(_ int, t *trial.Result) {
	s := t.Seconds()
	if t.Timeout {
		s = math.Inf(1)
		c.Timeouts++
	}
	c.Seconds = append(c.Seconds, s)
	c.Overshot = append(c.Overshot, t.Overshot())
	if t.Overshot() {
		c.overshoots = append(c.overshoots, float64(t.Overshoot))
	}
	if a := &t.Account; a.Delivered+a.Lost() > 0 && !(a.Pulses == 0 && a.Presses > 0) {
		c.Detents += a.Detents
		c.Lost += a.Lost()
	}
}

// cut shortens all cells to the trials that every cell has. It returns false
// where there are none.
func (r *Result) cut() bool {
	n := r.Study.Trials
	for _, cells := range r.Cells {
		for _, c := range cells {
			n = min(n, len(c.Seconds))
		}
	}
	for _, cells := range r.Cells {
		for _, c := range cells {
			c.Seconds, c.Overshot = c.Seconds[:n], c.Overshot[:n]
			c.Timeouts = 0
			for _, s := range c.Seconds {
				if math.IsInf(s, 1) {
					c.Timeouts++
				}
			}
		}
	}
	return n > 0
}

// Source is what the statistics of a comparison draw from.
func Source(seed uint64, task string) draw.Trial { return draw.NewTrial(seed, task, -1) }
