package fit

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync/atomic"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// Sizes of a refit; ours.
const (
	simulatedDialings = 1600 // of one set of people, about
	leastTimes        = 4    // that each is simulated
	mostTimes         = 40
	slopeStep         = 0.15 // how far the logarithm of a quantity is moved to see what it does
	farthestFrom      = 1.2  // from the operator that it starts from, logarithm
	likenessSD        = 0.3  // standard deviation of the logarithm of a quantity over people who may be meant: novice and expert lie so far from the practised one
	trustedShare      = 0.7  // of what the simulation says of how parts of a dialing go together
	stepsASlope       = 2    // of the search on one set of slopes
	longestStep       = 0.3  // of it, logarithm
	nearSlopes        = 0.15 // how far people may be from where the slopes were taken, logarithm
	mostRounds        = 4    // of slopes
)

// refit looks for the people who dial as somebody has dialed: for whom the parts of
// [seen], simulated for the same numbers on the same paths, are on average those that
// were recorded (the method of simulated moments: McFadden, Econometrica 57 (1989)
// 995–1026, from memory). All people are simulated with the same random numbers, so that
// the averages follow the quantities smoothly, and steps of Gauss and Newton find them.
type refit struct {
	dialers []*dialer
	real    []seen // of each dialing
	groups  []int  // of each: those of a pair stand or fall together
	traits  []trait
	from    scenarios.Operator
	times   int

	progress func(done, all int)
	done     atomic.Int64 // sets of people that were simulated

	differ *mat.SymDense // covariance of the parts of dialings of the same number
	slopes [][]seen      // by trait and dialing: change of the averages with the logarithm
}

// people returns the operator whose traits lie so far from those that it starts from.
func (r *refit) people(logs []float64) *scenarios.Operator {
	o := r.from
	for k, t := range r.traits {
		if logs[k] != 0 {
			t.write(&o, t.read(&r.from)*math.Exp(min(max(logs[k], -farthestFrom), farthestFrom)))
		}
	}
	o.FastDegPerS.Mean = max(o.FastDegPerS.Mean, o.SlowDegPerS.Mean)
	return &o
}

// simulate returns what is seen of people on average, dialing by dialing.
func (r *refit) simulate(ctx context.Context, d *dialer, o *scenarios.Operator, use func(i int, s *seen)) ([]seen, error) {
	mean, n := make([]seen, len(r.real)), make([]float64, len(r.real))
	err := d.dial(ctx, o, r.times, func(i int, w *watched) {
		s := w.measure()
		if use != nil {
			use(i, &s)
		}
		n[i]++
		for k, v := range s {
			mean[i][k] += (v - mean[i][k]) / n[i]
		}
	})
	if r.progress != nil {
		const rounds = 3 // that most fits need
		all := rounds * (2*len(r.traits) + stepsASlope + 2)
		r.progress(min(int(r.done.Add(1)), all), all)
	}
	if i := slices.Index(n, 0); err == nil && i >= 0 {
		x := d.dialed[i]
		err = fmt.Errorf("line %d: no simulated person gets from %d to %d in %v with setting %s", x.Line, x.Start, x.Target, scenarios.DefaultLimit, x.Setting)
	}
	return mean, err
}

// each simulates several sets of people, some at a time.
func (r *refit) each(ctx context.Context, all [][]float64) ([][]seen, error) {
	out := make([][]seen, len(all))
	errs := make([]error, len(all))
	idle := make(chan *dialer, len(r.dialers))
	for _, d := range r.dialers {
		idle <- d
	}
	if err := trial.Each(ctx, len(r.dialers), len(all), func(i int) {
		d := <-idle
		out[i], errs[i] = r.simulate(ctx, d, r.people(all[i]), nil)
		idle <- d
	}); err != nil {
		return nil, err
	}
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// one simulates one set of people.
func (r *refit) one(ctx context.Context, logs []float64) ([]seen, error) {
	all, err := r.each(ctx, [][]float64{logs})
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// spread finds how the parts of dialings of the same number vary and go together.
func (r *refit) spread(ctx context.Context, logs []float64) error {
	n := make([]int, len(r.real))
	sum := make([]seen, len(r.real))
	squares := mat.NewSymDense(timeToTarget, nil)
	_, err := r.simulate(ctx, r.dialers[0], r.people(logs), func(i int, s *seen) {
		n[i]++
		for a := range timeToTarget {
			sum[i][a] += s[a]
			for b := a; b < timeToTarget; b++ {
				squares.SetSym(a, b, squares.At(a, b)+float64(s[a]*s[b]))
			}
		}
	})
	if err != nil {
		return err
	}
	free := 0
	for i := range sum {
		free += n[i] - 1
		for a := range timeToTarget {
			for b := a; b < timeToTarget; b++ {
				squares.SetSym(a, b, squares.At(a, b)-float64(sum[i][a]*sum[i][b])/float64(n[i]))
			}
		}
	}
	for a := range timeToTarget {
		for b := a; b < timeToTarget; b++ {
			v := squares.At(a, b) / float64(max(1, free))
			if a != b {
				v *= trustedShare
			} else {
				v += 1e-4
			}
			squares.SetSym(a, b, v)
		}
	}
	r.differ = squares
	return nil
}

// slope finds how the averages change with each trait.
func (r *refit) slope(ctx context.Context, logs []float64) error {
	var all [][]float64
	for k := range r.traits {
		for _, way := range []float64{slopeStep, -slopeStep} {
			moved := slices.Clone(logs)
			moved[k] += way
			all = append(all, moved)
		}
	}
	out, err := r.each(ctx, all)
	if err != nil {
		return err
	}
	r.slopes = make([][]seen, len(r.traits))
	for k, t := range r.traits {
		up, down := out[2*k], out[2*k+1]
		between := math.Log(t.read(r.people(all[2*k])) / t.read(r.people(all[2*k+1])))
		r.slopes[k] = make([]seen, len(r.real))
		if !(between > 0) { // at the end of what people can be
			continue
		}
		for i := range r.real {
			for a := range up[i] {
				r.slopes[k][i][a] = (up[i][a] - down[i][a]) / between
			}
		}
	}
	return nil
}

// estimate is what some dialings say of some traits, and how sure that is.
type estimate struct {
	free, kept []int     // traits that were looked for, and those that stay as they are
	logs       []float64 // of all traits
	seems      []seen    // what is simulated of these people, of all dialings

	gain   *mat.Dense  // by free trait and part: what a change of the average does to the logarithm
	pull   *mat.Dense  // by free traits: what likeness does, for each unit of the logarithm
	leans  *mat.Dense  // by free and kept trait: what an error of the kept one does
	groups [][]float64 // by group of dialings and free trait: what it adds to the logarithm
	noise  []float64   // by free trait: variance of its logarithm that simulated dialings make
}

// find looks for the traits that are free, on the slopes that are known; the others are
// as logs has them. It uses only some of the dialings.
func (r *refit) find(ctx context.Context, of, free []int, logs []float64) (*estimate, error) {
	e := &estimate{free: free, logs: slices.Clone(logs)}
	for k := range r.traits {
		if !slices.Contains(free, k) {
			e.kept = append(e.kept, k)
		}
	}
	n := float64(len(of))
	slopes := func(traits []int) *mat.Dense {
		m := mat.NewDense(timeToTarget, max(1, len(traits)), nil)
		for j, k := range traits {
			for a := range timeToTarget {
				sum := 0.0
				for _, i := range of {
					sum += r.slopes[k][i][a]
				}
				m.Set(a, j, sum/n)
			}
		}
		return m
	}
	// The averages are off by what dialings differ in, and by what the kept traits are:
	// so much do they weigh.
	m, kept := slopes(free), slopes(e.kept)
	var doubt, weight, mw, square, inverse mat.Dense
	doubt.Mul(kept, kept.T())
	doubt.Scale(likenessSD*likenessSD*n, &doubt)
	doubt.Add(&doubt, r.differ)
	doubt.Scale(1/n, &doubt)
	if err := weight.Inverse(&doubt); err != nil {
		return nil, fmt.Errorf("what the dialings say of the hand cannot be weighed: %w", err)
	}
	mw.Mul(m.T(), &weight)
	square.Mul(&mw, m)
	for j := range free {
		square.Set(j, j, square.At(j, j)+1/(likenessSD*likenessSD))
	}
	if err := inverse.Inverse(&square); err != nil {
		return nil, fmt.Errorf("what the dialings say of the hand cannot be told apart: %w", err)
	}
	e.gain, e.pull, e.leans = new(mat.Dense), new(mat.Dense), new(mat.Dense)
	e.gain.Mul(&inverse, &mw)
	e.pull.Scale(1/(likenessSD*likenessSD), &inverse)
	e.leans.Mul(e.gain, kept)
	var gd, noise mat.Dense
	gd.Mul(e.gain, r.differ)
	noise.Mul(&gd, e.gain.T())
	for j := range free {
		e.noise = append(e.noise, noise.At(j, j)/n)
	}
	for step := 0; ; step++ {
		var err error
		if e.seems, err = r.one(ctx, e.logs); err != nil {
			return nil, err
		}
		if step == stepsASlope {
			break
		}
		off := mat.NewVecDense(timeToTarget, nil)
		for a := range timeToTarget {
			for _, i := range of {
				off.SetVec(a, off.AtVec(a)+(r.real[i][a]-e.seems[i][a])/n)
			}
		}
		var move, back mat.VecDense
		was := mat.NewVecDense(len(free), nil)
		for j, k := range free {
			was.SetVec(j, e.logs[k])
		}
		move.MulVec(e.gain, off)
		back.MulVec(e.pull, was)
		for j, k := range free {
			step := min(max(move.AtVec(j)-back.AtVec(j), -longestStep), longestStep)
			e.logs[k] = min(max(e.logs[k]+step, -farthestFrom), farthestFrom)
		}
		o := r.people(e.logs) // who is no more than people can be
		for _, k := range free {
			e.logs[k] = math.Round(1e6*math.Log(r.traits[k].read(o)/r.traits[k].read(&r.from))) / 1e6
		}
	}
	e.share(r, of)
	return e, nil
}

// share finds what each group of dialings adds to the logarithms.
func (e *estimate) share(r *refit, of []int) {
	var mean seen
	for _, i := range of {
		for a := range timeToTarget {
			mean[a] += (r.real[i][a] - e.seems[i][a]) / float64(len(of))
		}
	}
	sums := make([]*mat.VecDense, r.pairs())
	for _, i := range of {
		g := r.groups[i]
		if sums[g] == nil {
			sums[g] = mat.NewVecDense(timeToTarget, nil)
		}
		for a := range timeToTarget {
			sums[g].SetVec(a, sums[g].AtVec(a)+(r.real[i][a]-e.seems[i][a]-mean[a])/float64(len(of)))
		}
	}
	e.groups = make([][]float64, len(sums))
	for g, s := range sums {
		e.groups[g] = make([]float64, len(e.free))
		if s != nil {
			var x mat.VecDense
			x.MulVec(e.gain, s)
			copy(e.groups[g], x.RawVector().Data)
		}
	}
}

// pairs is how many groups of dialings there are.
func (r *refit) pairs() int { return slices.Max(r.groups) + 1 }

// sd is the standard error of what is free: what likeness does to it, what errors of the
// kept traits do, as large as people differ, and what dialings differ in: among themselves,
// with as many degrees of freedom less as there are free traits, or as simulated ones do
// where that is more, since few dialings may happen to agree.
func (e *estimate) sd(j, times int) float64 {
	v, n := 0.0, 0
	for _, g := range e.groups {
		if g[j] != 0 {
			n++
			v += g[j] * g[j]
		}
	}
	v *= float64(n) / float64(max(1, n/2, n-len(e.free)))
	v = max(v, e.noise[j]) * (1 + 1/float64(times))
	for l := range e.free {
		p := likenessSD * e.pull.At(j, l)
		v += p * p
	}
	for l := range e.kept {
		p := likenessSD * e.leans.At(j, l)
		v += p * p
	}
	return math.Sqrt(v)
}

// surely is Student's t for an interval of so many groups.
func surely(groups int) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: float64(max(1, groups-1))}.Quantile((1 + confidence) / 2)
}
