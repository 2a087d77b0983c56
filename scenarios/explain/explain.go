package explain

import (
	"cmp"
	"context"
	"math"
	"math/bits"
	"sync/atomic"

	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
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

	grips trial.Grips
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
	Link scenarios.Link
	Cost
	Sentence string
	note     string // its figures
}

// Pair is what two links cost only together: how much less both mended save than
// the sum of each mended alone would lead one to expect is negative, more is
// positive.
type Pair struct {
	A, B    scenarios.Link
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
	Quicker []Advice // those of them that are another acceleration, the quickest first
	WhatIf  *Change
	Runs    int // combinations that were run
	Trials  int // of each that were done
	Partial bool
}

// served is a task on its knob, with everything that was run for it.
type served struct {
	scenarios.Served
	inner, outer setup
	single       bool                                 // one rig behind the knob
	job          [1 << scenarios.Links]*job           // by the set of links that are real
	by           [1 << scenarios.Links]*sample.Trials // what came of it
	fresh        func() (*sample.Trials, error)       // of all real, on people that chose nothing
}

// blockSize is how many trials of every combination are done before the next of
// any: what an interruption leaves is whole blocks.
const blockSize = 100

// Run explains. When the context ends, what was finished (the same trials of every
// combination) is explained and returned with its error, marked as partial.
func Run(ctx context.Context, s *Study) (*Result, error) {
	tasks, err := s.tasks(ctx)
	if err != nil {
		return nil, err
	}
	var jobs []*job
	for _, t := range tasks {
		jobs = append(jobs, t.jobs()...)
	}
	r := &Result{Study: s, Runs: len(jobs)}
	blocks := (s.Trials + blockSize - 1) / blockSize
	for i := range blocks {
		progress := func(done int) {
			if s.Progress != nil {
				s.Progress(i*len(jobs)+done, blocks*len(jobs))
			}
		}
		err := s.block(ctx, jobs, i*blockSize, min((i+1)*blockSize, s.Trials), progress)
		if ctx.Err() != nil {
			r.Partial = true
			break
		}
		if err != nil {
			return nil, err
		}
		r.Trials = min((i+1)*blockSize, s.Trials)
	}
	if r.Trials == 0 {
		return nil, ctx.Err()
	}
	for _, t := range tasks {
		t.collect(r.Trials)
	}
	r.blame(tasks)
	if err := r.advise(ctx, tasks); err != nil {
		if ctx.Err() == nil {
			return nil, err
		}
		r.Partial = true
	}
	return r, ctx.Err()
}

// job is one combination of a task, which may stand for several that come to the
// same setup.
type job struct {
	of   *served
	set  set
	done *sample.Trials
}

// jobs lists what is to be run for a task, every setup once.
func (t *served) jobs() []*job {
	first := map[string]*job{}
	var list []*job
	for x := range all + 1 {
		k := t.inner.mend(x).key() + t.outer.mend(x).key()
		if first[k] == nil {
			first[k] = &job{of: t, set: x}
			list = append(list, first[k])
		}
		t.job[x] = first[k]
	}
	return list
}

// block does the same trials of every job; without an error all are done.
func (s *Study) block(ctx context.Context, jobs []*job, first, last int, progress func(done int)) error {
	var done atomic.Int64
	var fail atomic.Pointer[error]
	err := trial.Each(ctx, s.Workers, len(jobs), func(i int) {
		if fail.Load() != nil {
			return
		}
		j := jobs[i]
		got, err := s.run(ctx, j.done, j.of.Served, j.of.inner.mend(j.set), j.of.outer.mend(j.set), j.of.single, first, last)
		if err != nil {
			fail.Store(&err)
			return
		}
		j.done = got
		progress(int(done.Add(1)))
	})
	if e := fail.Load(); e != nil {
		return *e
	}
	return err
}

// tasks prepares every task of the panel with the profile's settings in its rigs.
// A profile that cannot be set on a knob leaves that knob plain.
func (s *Study) tasks(ctx context.Context) ([]*served, error) {
	uses := s.Panel.Served()
	list, failed := make([]*served, len(uses)), make([]error, len(uses))
	err := trial.Each(ctx, s.Workers, len(uses), func(i int) {
		list[i], _, failed[i] = s.served(uses[i], s.Profile)
	})
	return list, cmp.Or(err, cmp.Or(failed...))
}

// served prepares a task with a profile, and says whether the profile can be set.
func (s *Study) served(u scenarios.Served, p *scenarios.Profile) (t *served, set bool, err error) {
	seat, err := s.grips.SeatOrPlain(u, p, s.Operator)
	if err != nil {
		return nil, false, err
	}
	t = &served{Served: u, single: u.Knob.Outer == nil}
	bare := *seat.Profile
	bare.Settings = nil
	for _, x := range []struct {
		rig *scenarios.Rig
		to  *setup
	}{{u.Knob.Inner, &t.inner}, {cmp.Or(u.Knob.Outer, u.Knob.Inner), &t.outer}} {
		rig, err := scenarios.Apply(seat.Profile, x.rig.Rig)
		if err != nil {
			return nil, false, err
		}
		*x.to = setup{rig, bare}
	}
	return t, seat.Stays == nil, nil
}

// run does the trials of one combination, those that were done before in front of
// them; nil where there are none.
func (s *Study) run(ctx context.Context, done *sample.Trials, u scenarios.Served, inner, outer setup, single bool, first, last int) (*sample.Trials, error) {
	knob := *u.Knob
	if knob.Inner, knob.Outer = (&scenarios.Rig{Rig: inner.rig}), nil; !single {
		knob.Outer = &scenarios.Rig{Rig: outer.rig}
	}
	u.Knob = &knob
	seat, err := s.grips.Seat(u, &inner.profile, s.Operator)
	if err != nil {
		return nil, err
	}
	if done == nil {
		done = sample.Of(seat)
	}
	_, err = trial.Batch(ctx, seat.Bench, s.Seed, first, last, 1, done.Take)
	return done, err
}

// The parts of a cost, of one trial.
type part func(t *sample.Trials, n int) float64

func seconds(t *sample.Trials, n int) float64 { return min(t.Seconds[n], t.Limit) }

func overshot(t *sample.Trials, n int) float64 {
	if t.Past[n] > 0 {
		return 1
	}
	return 0
}

func lost(t *sample.Trials, n int) float64 { return float64(t.Lost[n]) / float64(max(1, t.Detents[n])) }

// collect takes over the trials that all combinations have done.
func (t *served) collect(trials int) {
	for x, j := range t.job {
		sample.Cut(trials, j.done)
		t.by[x] = j.done
	}
}

// weights[k] is the weight of a combination of k other links in the Shapley value,
// pairWeights[k] in the interaction of two.
var weights, pairWeights = func() (one, two [scenarios.Links]float64) {
	factorial := func(n int) float64 { return math.Gamma(float64(n) + 1) }
	const links = int(scenarios.Links)
	for k := range one {
		one[k] = factorial(k) * factorial(links-k-1) / factorial(links)
	}
	for k := range links - 1 {
		two[k] = factorial(links-k-2) * factorial(k) / factorial(links-1)
	}
	return one, two
}()

// outcomes is a part of the cost of one trial, by the set of links that are real.
type outcomes [1 << scenarios.Links]float64

// averages makes figures of what a part came to in every trial, task by task, weighted
// by how often each task is done.
func averages(tasks []*served, part part, figures []func(o *outcomes) float64) []paired.Estimate {
	samples := make([][]paired.Group, len(figures))
	for _, t := range tasks {
		trials := t.by[0].Len()
		for i := range samples {
			samples[i] = append(samples[i], paired.Group{Weight: t.PerHour, Sample: make([]float64, 0, trials)})
		}
		var o outcomes
		for n := range trials {
			for x := range o {
				o[x] = part(t.by[x], n)
			}
			for i, figure := range figures {
				to := &samples[i][len(samples[i])-1].Sample
				*to = append(*to, figure(&o))
			}
		}
	}
	means := make([]paired.Estimate, len(figures))
	for i, groups := range samples {
		means[i] = paired.WeightedMean(groups)
	}
	return means
}

// blame works out every link's Shapley value, trial by trial, so that the values
// of each trial add up.
func (r *Result) blame(tasks []*served) {
	figures := []func(o *outcomes) float64{
		func(o *outcomes) float64 { return o[all] },
		func(o *outcomes) float64 { return o[0] },
		func(o *outcomes) float64 { return o[all] - o[0] },
	}
	whole := len(figures)
	for l := range scenarios.Links {
		others := without(1<<l, &weights)
		figures = append(figures, func(o *outcomes) float64 {
			v := 0.0
			for _, x := range others {
				v += float64(x.weight * (o[x.set|1<<l] - o[x.set]))
			}
			return v
		})
	}
	alone := len(figures)
	time := averages(tasks, seconds, append(figures, together()...))
	past, gone := averages(tasks, overshot, figures), averages(tasks, lost, figures)
	cost := func(i int) Cost { return Cost{time[i], past[i], gone[i]} }
	r.Real, r.Ideal, r.Total = cost(0), cost(1), cost(2)
	for l := range scenarios.Links {
		r.Blames = append(r.Blames, Blame{Link: l, Cost: cost(whole + int(l))})
	}
	r.pairs(time[alone:])
	r.rank(tasks)
}

// weighed is a combination with its weight.
type weighed struct {
	set    set
	weight float64
}

// without lists the combinations in which none of some links is real.
func without(links set, weights *[scenarios.Links]float64) (list []weighed) {
	for x := range all + 1 {
		if x&links == 0 {
			list = append(list, weighed{x, weights[bits.OnesCount8(uint8(x))]})
		}
	}
	return list
}

// together are the Shapley interactions of every two links (Grabisch, Roubens, Int. J.
// Game Theory 28 (1999) 547–565; from memory): what both real cost beyond the sum of
// each, averaged over what else is real.
func together() (figures []func(o *outcomes) float64) {
	for a := range scenarios.Links {
		for b := a + 1; b < scenarios.Links; b++ {
			others := without(1<<a|1<<b, &pairWeights)
			figures = append(figures, func(o *outcomes) float64 {
				v := 0.0
				for _, x := range others {
					v += float64(x.weight * (o[x.set|1<<a|1<<b] - o[x.set|1<<a] - o[x.set|1<<b] + o[x.set]))
				}
				return v
			})
		}
	}
	return figures
}

// pairs keeps the interactions that matter.
func (r *Result) pairs(together []paired.Estimate) {
	i := 0
	for a := range scenarios.Links {
		for b := a + 1; b < scenarios.Links; b++ {
			if m := together[i]; m.Sign() != 0 && math.Abs(m.Value) > 0.05*math.Abs(r.Total.Seconds.Value) {
				r.Pairs = append(r.Pairs, Pair{a, b, m})
			}
			i++
		}
	}
}
