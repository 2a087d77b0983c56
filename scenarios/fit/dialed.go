package fit

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"

	"dialwright/scenarios"
)

// Dialed is what dialings on the page say of a person, and how well the person whom they
// say predicts them.
type Dialed struct {
	Used  int // dialings that were right, and not for practice
	Pairs int // that these are of

	Practice, Wrong, GaveUp, Away int // dialings that were left out

	Predictions []Prediction
	Verdict     string // what was missed
}

// Bounds of a fit of dialings; ours.
const (
	leastPairs     = 10  // so that each half of them can be predicted from the other
	widestInterval = 0.5 // interval of a quantity that is claimed, as a share of it
)

// dialed fits a person to dialings.
func (f *fitting) dialed(ctx context.Context) error {
	r := &refit{from: f.start(), progress: f.Progress}
	d := r.take(f.Dialings, f.Seed)
	if d.Pairs < leastPairs {
		return fmt.Errorf("too few dialings: %s; %d pairs would do", d.counted(), leastPairs)
	}
	f.r.Dialed = d
	all := make([]int, len(r.real))
	for i := range all {
		all[i] = i
	}
	every := make([]int, len(r.traits))
	for k := range every {
		every[k] = k
	}
	e, err := r.claimed(ctx, all)
	if err != nil {
		return err
	}
	f.r.Operator = *r.people(e.logs)
	f.r.Operator.Name = "dialed"
	f.r.Hand = r.values(e, d)
	return r.predict(ctx, f.Dialings, d, e)
}

// claimed finds what the dialings show, and keeps the rest.
func (r *refit) claimed(ctx context.Context, all []int) (e *estimate, err error) {
	free, logs := make([]int, len(r.traits)), make([]float64, len(r.traits))
	for k := range free {
		free[k] = k
	}
	// First everything at once, on the slopes where people start, and again on those where
	// they are, until that is the same place.
	for round := 1; ; round++ {
		if e, err = r.settle(ctx, all, free, logs); err != nil {
			return nil, err
		}
		moved := 0.0
		for k := range logs {
			moved = max(moved, math.Abs(e.logs[k]-logs[k]))
		}
		if logs = e.logs; moved < nearSlopes || round == mostRounds {
			break
		}
	}
	for {
		var sure []int
		logs = make([]float64, len(logs))
		for j, k := range e.free {
			if v := r.value(e, j); v.High-v.Low <= widestInterval*v.Value && math.Abs(e.logs[k]) < 0.99*farthestFrom {
				sure = append(sure, k)
				logs[k] = e.logs[k]
			}
		}
		if len(sure) == 0 {
			return nil, errors.New("the dialings show nothing of the hand for sure: they differ too much from one another, or from what simulated people do; more of them, or another --operator to start from, would do")
		}
		if len(sure) == len(e.free) && len(e.free) < len(r.traits) {
			return e, nil
		}
		look := r.find
		if len(e.free) == len(r.traits) { // then people are elsewhere
			look = r.settle
		}
		if e, err = look(ctx, all, sure, logs); err != nil {
			return nil, err
		}
	}
}

// settle looks for the traits that are free on the slopes at a place.
func (r *refit) settle(ctx context.Context, all, free []int, logs []float64) (*estimate, error) {
	if err := r.spread(ctx, logs); err != nil {
		return nil, err
	}
	if err := r.slope(ctx, logs); err != nil {
		return nil, err
	}
	return r.find(ctx, all, free, logs)
}

// value is what an estimate says of a trait that was free.
func (r *refit) value(e *estimate, j int) Value {
	k := e.free[j]
	t := &r.traits[k]
	o := r.people(e.logs)
	v, margin := t.read(o), surely(r.pairs())*e.sd(j, r.times)
	end := func(v float64) float64 { // no further than people can be
		t.write(o, v)
		return t.value(o, t.read(o))
	}
	x := known(cmp.Or(t.sum, t.key), t.unit, t.value(o, v), end(v*math.Exp(-margin)), end(v*math.Exp(margin)), "it shows %s", t.shows)
	x.Carried = t.parts
	return x
}

// values are what was found, and what was not.
func (r *refit) values(e *estimate, d *Dialed) (all Values) {
	for k := range r.traits {
		if j := slices.Index(e.free, k); j >= 0 {
			all = append(all, r.value(e, j))
			continue
		}
		t := &r.traits[k]
		all = append(all, unknown(cmp.Or(t.sum, t.key), t.unit, "%d dialings leave more than a quarter of it open either way, or no simulated person has it, so it stays as of the %s operator", d.Used, r.from.Name))
	}
	return all
}

// take takes the dialings that can be used.
func (r *refit) take(of *scenarios.Dialings, seed uint64) *Dialed {
	d := &Dialed{}
	var used []*scenarios.Dialing
	pairs := map[int]int{}
	narrow := false
	for i := range of.All {
		switch x := &of.All[i]; {
		case x.Pair == 0:
			d.Practice++
		case x.Outcome == scenarios.Wrong:
			d.Wrong++
		case x.Outcome == scenarios.GaveUp:
			d.GaveUp++
		case x.Outcome == scenarios.Away:
			d.Away++
		default:
			if _, ok := pairs[x.Pair]; !ok {
				pairs[x.Pair] = len(pairs)
			}
			used = append(used, x)
			r.groups = append(r.groups, pairs[x.Pair])
			narrow = narrow || of.Tasks[x.Task].Tolerance == 0
		}
	}
	d.Used, d.Pairs = len(used), len(pairs)
	r.traits = slices.DeleteFunc(traits(narrow), func(t trait) bool { return !(t.read(&r.from) > 0) }) // no share of nothing is anything
	r.times = min(max(simulatedDialings/max(1, len(used)), leastTimes), mostTimes)
	for range runtime.NumCPU() {
		r.dialers = append(r.dialers, &dialer{Dialings: of, dialed: used, seed: seed})
	}
	for _, x := range used {
		r.real = append(r.real, r.dialers[0].watch(x).measure())
	}
	return d
}

// counted says which dialings there are.
func (d *Dialed) counted() string {
	s := fmt.Sprintf("%d used, of %d pairs", d.Used, d.Pairs)
	var out []string
	for _, x := range []struct {
		n    int
		what string
	}{{d.Practice, "for practice"}, {d.Wrong, "wrong"}, {d.GaveUp, "given up"}, {d.Away, "looked away from"}} {
		if x.n > 0 {
			out = append(out, fmt.Sprintf("%d %s", x.n, x.what))
		}
	}
	if len(out) > 0 {
		s += "; left out: " + strings.Join(out, ", ")
	}
	return s
}
