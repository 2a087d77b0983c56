package explain

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/trial"
)

// Study is what is explained.
type Study struct {
	Panel    *scenarios.Panel
	Profile  *scenarios.Profile
	Operator *scenarios.Operator
	WhatIf   []scenarios.Setting
	Trials   int // per task and combination of links
	Seed     uint64
	Workers  int
	Progress func(done, all int) // may be nil
}

// Cost is what something costs: mean time per dialing, share of dialings that
// overshoot, share of detents without a step.
type Cost struct {
	Seconds   paired.Estimate
	Overshoot paired.Estimate
	Lost      paired.Estimate
}

// Blame is a link with its cost.
type Blame struct {
	Link Link
	Cost
	Sentence string
}

// Pair is what two links cost only together: how much less both mended save than
// the sum of each mended alone would lead one to expect is negative, more is
// positive.
type Pair struct {
	A, B    Link
	Seconds paired.Estimate
}

// Result is an explanation.
type Result struct {
	Study   *Study
	Real    Cost // all links real
	Ideal   Cost // all ideal
	Total   Cost // their difference, which the blames add up to
	Blames  []Blame
	Pairs   []Pair
	Advice  []Advice
	WhatIf  *Change
	Runs    int // combinations that were run
	Partial bool
}

// outcome is what a cost is made from, of one trial.
type outcome struct {
	seconds, overshot, lost float64
}

// served is a task on its knob, with everything that was run for it.
type served struct {
	scenarios.Served
	inner, outer setup
	single       bool                  // one rig behind the knob
	by           [1 << links][]outcome // by the set of links that were real
	collect      func()                // fills by
}

// Run explains. When the context ends there is no result: half the combinations
// explain nothing.
func Run(ctx context.Context, s *Study) (*Result, error) {
	tasks, err := s.tasks()
	if err != nil {
		return nil, err
	}
	type job struct {
		t    *served
		s    set
		into *[]outcome
	}
	var jobs []job
	for _, t := range tasks {
		first := map[string]*[]outcome{}
		for x := range all + 1 {
			k := t.inner.mend(x).key() + t.outer.mend(x).key()
			if first[k] == nil {
				first[k] = new([]outcome)
				jobs = append(jobs, job{t, x, first[k]})
			}
		}
		t.link(first)
	}
	r := &Result{Study: s, Runs: len(jobs)}
	var (
		wait sync.WaitGroup
		next atomic.Int64
		done atomic.Int64
		fail atomic.Pointer[error]
	)
	workers := s.Workers
	if workers < 1 {
		workers = runtime.NumCPU()
	}
	for range workers {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(jobs) || ctx.Err() != nil || fail.Load() != nil {
					return
				}
				j := jobs[i]
				got, err := s.run(ctx, j.t.Served, j.t.inner.mend(j.s), j.t.outer.mend(j.s), j.t.single)
				if err != nil {
					fail.Store(&err)
					return
				}
				*j.into = got
				if s.Progress != nil {
					s.Progress(int(done.Add(1)), len(jobs))
				}
			}
		})
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if e := fail.Load(); e != nil {
		return nil, *e
	}
	for _, t := range tasks {
		t.collect()
	}
	r.blame(tasks)
	if err := r.advise(ctx, tasks); err != nil {
		return nil, err
	}
	return r, nil
}

// tasks prepares every task of the panel with the profile's settings in its rigs.
// A profile that cannot be set on a knob leaves that knob plain.
func (s *Study) tasks() ([]*served, error) {
	var list []*served
	for _, u := range s.Panel.Served() {
		t := &served{Served: u, single: u.Knob.Outer == nil}
		outer := u.Knob.Outer
		if outer == nil {
			outer = u.Knob.Inner
		}
		p := s.Profile
		if _, err := scenarios.Apply(p, u.Knob.Inner.Rig); err != nil {
			p = &scenarios.Profile{Name: "plain"}
		}
		for _, x := range []struct {
			rig *scenarios.Rig
			to  *setup
		}{{u.Knob.Inner, &t.inner}, {outer, &t.outer}} {
			rig, err := scenarios.Apply(p, x.rig.Rig)
			if err != nil {
				return nil, err
			}
			bare := *p
			bare.Settings = nil
			*x.to = setup{rig, bare}
		}
		list = append(list, t)
	}
	return list, nil
}

// run does the trials of one combination.
func (s *Study) run(ctx context.Context, u scenarios.Served, inner, outer setup, single bool) ([]outcome, error) {
	cell := trial.Cell{Task: u.Task, Rings: u.Knob.Rings, Inner: &inner.rig, Profile: &inner.profile, Operator: s.Operator, Others: u.Others}
	if !single {
		cell.Outer = &outer.rig
	}
	b, err := trial.NewBench(cell)
	if err != nil {
		return nil, err
	}
	got := make([]outcome, 0, s.Trials)
	_, err = trial.Batch(ctx, b, s.Seed, 0, s.Trials, 1, func(_ int, r *trial.Result) { got = append(got, outcomeOf(r, b.Holds())) })
	return got, err
}

func outcomeOf(r *trial.Result, holds bool) outcome {
	o := outcome{seconds: r.Seconds()}
	if r.Overshot() {
		o.overshot = 1
	}
	if a := r.Account; a.Detents > 0 && !holds {
		o.lost = float64(a.Lost()) / float64(a.Detents)
	}
	return o
}

// link remembers which run belongs to which combination.
func (t *served) link(first map[string]*[]outcome) {
	t.collect = func() {
		for x := range all + 1 {
			t.by[x] = *first[t.inner.mend(x).key()+t.outer.mend(x).key()]
		}
	}
}

// weights[k] is the weight of a combination of k other links in the Shapley value.
var weights = func() (w [links]float64) {
	factorial := func(n int) float64 { return math.Gamma(float64(n) + 1) }
	for k := range w {
		w[k] = factorial(k) * factorial(int(links)-k-1) / factorial(int(links))
	}
	return w
}()

// sample makes a figure of every trial, task by task, weighted by how often each
// task is done.
func sample(tasks []*served, of func(t *served, trial int) float64) []paired.Group {
	groups := make([]paired.Group, len(tasks))
	for i, t := range tasks {
		g := paired.Group{Weight: t.PerHour, Sample: make([]float64, len(t.by[0]))}
		for n := range g.Sample {
			g.Sample[n] = of(t, n)
		}
		groups[i] = g
	}
	return groups
}

// cost averages a figure of all three kinds.
func cost(tasks []*served, of func(t *served, trial int, part func(outcome) float64) float64, source draw.Trial) Cost {
	mean := func(part func(outcome) float64) paired.Estimate {
		return paired.AverageDifference(sample(tasks, func(t *served, n int) float64 { return of(t, n, part) }), source).Mean
	}
	return Cost{
		mean(func(o outcome) float64 { return o.seconds }),
		mean(func(o outcome) float64 { return o.overshot }),
		mean(func(o outcome) float64 { return o.lost }),
	}
}

// blame works out every link's Shapley value, trial by trial, so that the values
// of each trial add up.
func (r *Result) blame(tasks []*served) {
	source := draw.NewTrial(r.Study.Seed, "explain", -1)
	of := func(x set) Cost {
		return cost(tasks, func(t *served, n int, part func(outcome) float64) float64 { return part(t.by[x][n]) }, source)
	}
	r.Real, r.Ideal = of(all), of(0)
	r.Total = cost(tasks, func(t *served, n int, part func(outcome) float64) float64 {
		return part(t.by[all][n]) - part(t.by[0][n])
	}, source)
	for l := range links {
		b := Blame{Link: l}
		b.Cost = cost(tasks, func(t *served, n int, part func(outcome) float64) float64 {
			v := 0.0
			for x := range all + 1 {
				if !x.has(l) {
					v += float64(weights[x.size()] * (part(t.by[x|1<<l][n]) - part(t.by[x][n])))
				}
			}
			return v
		}, source)
		r.Blames = append(r.Blames, b)
	}
	r.pairs(tasks, source)
	r.rank(tasks)
}

func (s set) size() int {
	n := 0
	for ; s > 0; s &= s - 1 {
		n++
	}
	return n
}

// pairs works out the Shapley interaction of every two links (Grabisch, Roubens,
// Int. J. Game Theory 28 (1999) 547–565; from memory): what both real cost beyond
// the sum of each, averaged over what else is real.
func (r *Result) pairs(tasks []*served, source draw.Trial) {
	factorial := func(n int) float64 { return math.Gamma(float64(n) + 1) }
	for a := range links {
		for b := a + 1; b < links; b++ {
			groups := sample(tasks, func(t *served, n int) float64 {
				v := 0.0
				for x := range all + 1 {
					if x.has(a) || x.has(b) {
						continue
					}
					k := x.size()
					w := factorial(int(links)-k-2) * factorial(k) / factorial(int(links)-1)
					y := t.by[x|1<<a|1<<b][n].seconds - t.by[x|1<<a][n].seconds - t.by[x|1<<b][n].seconds + t.by[x][n].seconds
					v += float64(w * y)
				}
				return v
			})
			if m := paired.AverageDifference(groups, source).Mean; m.Sign() != 0 && math.Abs(m.Value) > 0.05*math.Abs(r.Total.Seconds.Value) {
				r.Pairs = append(r.Pairs, Pair{a, b, m})
			}
		}
	}
}
