package tune

import (
	"cmp"
	"context"
	"math"
	"slices"

	"dialwright/scenarios"
)

// shown is what a sequential test has shown of a try's overshoot.
type shown uint8

// What a test can show.
const (
	nothing shown = iota
	within        // the cap, or at it
	above
)

// The sequential test of a cap (Wald, "Sequential tests of statistical hypotheses", Annals of
// Mathematical Statistics 16 (1945) 117–186): that a share is at most the cap, against that
// it is above it by what hardly matters (ours), half a point or a twentieth of the cap; either is
// missed in [testError] of the cases. What no end has come of after mostTests trials is what
// is likelier.
const (
	testError  = 0.05
	hardlyMore = 0.005
	mostTests  = 24 * choiceTrials
	sureWithin = 2.3 // standard errors above the cap, from where few trials rule out that a share is within it
)

// evidence is how many times likelier a share of some trials is above a cap than within it,
// as a logarithm.
func evidence(share float64, trials int, most float64) float64 {
	within := max(most, hardlyMore/5)
	above := within + max(hardlyMore, most/20)
	if above >= 1 {
		return math.Inf(-1)
	}
	over := math.Round(share * float64(trials))
	return billionths(float64(over*math.Log(above/within)) + float64((float64(trials)-over)*math.Log((1-above)/(1-within))))
}

// told is what so many trials show of a share's cap.
func told(share float64, trials int, most float64) shown {
	e, enough := evidence(share, trials, most), math.Log((1-testError)/testError)
	switch last := trials >= mostTests; {
	case e <= -enough, last && e <= 0:
		return within
	case e >= enough, last:
		return above
	}
	return nothing
}

// test decides whether a try is within the cap. One that does the same as another that
// was tested is not tested again.
func (f *field) test(ctx context.Context, t *try) error {
	for _, o := range f.order {
		if d := t.does(); t.shown == nothing && d != 0 && o.use == t.use && o.shown != nothing && o.does() == d {
			t.shown = o.shown
		}
	}
	for n := contestTrials; t.shown == nothing; n += contestTrials {
		if err := f.measure(ctx, n, t); err != nil {
			return err
		}
		if t.err != nil {
			t.shown = above
			break
		}
		t.shown = told(f.first(t, n).overshoot, n, f.MaxOvershoot)
	}
	return nil
}

// brinkTrials is about how many trials the tests of a group of uses take at most.
const brinkTrials = 240_000

// hold tests the caps of a choice, and where one does not hold takes what is best then.
func (f *field) hold(ctx context.Context, x point) (point, error) {
	if f.Caps == Whole || f.MaxOvershoot >= 1 || f.found != nil {
		return x, nil
	}
	for range holds {
		kept := true
		for i, t := range f.of(x) {
			if f.most[i] != f.MaxOvershoot {
				continue
			}
			if err := f.test(ctx, t); err != nil {
				return x, err
			}
			kept = kept && t.shown == within
		}
		if kept {
			break
		}
		before := f.most
		if f.limit(); !slices.Equal(before, f.most) {
			if err := f.calmer(ctx); err != nil {
				return x, err
			}
		}
		y, err := f.polish(ctx, f.choose())
		if err != nil || slices.Equal(x, y) {
			return x, err
		}
		x = y
	}
	return x, nil
}

// holds is how many choices are given up at most because a cap does not hold.
const holds = 8

// brink takes, for each group of uses that can keep the cap, the quickest of what was
// tried that a test finds within it or at it, so that the choice goes up to the cap: of the
// accelerations under the settings that all uses share, or where all uses are one group,
// of everything.
func (f *field) brink(ctx context.Context, x point) (point, error) {
	if f.Caps == Whole || f.MaxOvershoot >= 1 {
		return x, nil
	}
	groups := f.board.groups(x[0].Home)
	alone := len(groups) == 1
	if len(f.board.space.curves) == 0 && !alone {
		return x, nil
	}
	for _, g := range groups {
		if slices.ContainsFunc(g, func(i int) bool { return f.most[i] != f.MaxOvershoot }) {
			continue
		}
		budget := brinkTrials
		for budget > 0 {
			var near []point
			if len(f.board.space.curves) > 0 {
				for _, c := range f.around(x, g) {
					near = append(near, x.change(g, func(to *scenarios.Profile) { to.Acceleration.Curve = c }))
				}
			}
			if alone {
				for _, reach := range []int{1000, 6, 3} {
					for _, set := range f.board.space.neighbors(x[0].Settings, reach) {
						near = append(near, x.set(set))
					}
				}
			}
			if err := f.measurePoints(ctx, lookTrials, g, near...); err != nil {
				return x, err
			}
			y, err := f.quickest(ctx, x, g, alone, &budget)
			if err != nil {
				return x, err
			}
			if slices.Equal(x, y) {
				break
			}
			x = y
		}
	}
	return x, nil
}

// candidate is a point that may be the quickest within the caps.
type candidate struct {
	point point
	tries []*try
	cost  float64 // by what the aim counts
	past  float64 // share of overshoots
}

// candidates are what was tried for some uses, and where they are alone with whatever
// settings, that may be within the caps, the quickest first.
func (f *field) candidates(x point, uses []int, alone bool) (list []candidate) {
	with := []*scenarios.Profile{x[uses[0]]}
	if alone {
		with = f.settings(uses[0])
	}
	for _, w := range with {
		for _, o := range f.under(w, uses) {
			from := o[uses[0]]
			c := candidate{point: x.change(uses, func(to *scenarios.Profile) {
				to.Settings, to.Home, to.Acceleration, to.PressCoarse = from.Settings, from.Home, from.Acceleration, from.PressCoarse
			})}
			may := true
			for _, i := range uses {
				t := f.try(i, from)
				sc := f.score(t)
				may = may && sc.trials >= lookTrials && sc.lost <= f.lost[i] && t.shown != above && sc.overshoot-float64(sureWithin*noise(sc.overshoot, sc.trials)) <= f.MaxOvershoot
				c.tries = append(c.tries, t)
				c.cost += float64(f.board.uses[i].PerHour * sc.seconds * (1 + float64(f.For.overshootCost()*sc.overshoot)))
				c.past = max(c.past, sc.overshoot)
			}
			if may {
				list = append(list, c)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b candidate) int { return cmp.Compare(a.cost, b.cost) })
	return list
}

// quickest is the quickest of the candidates that tests find within the caps or at them; the
// point itself where none is. Those that look so come first, then those that may be and
// are quicker. Tests stop when their budget is spent, trials.
func (f *field) quickest(ctx context.Context, x point, uses []int, alone bool, budget *int) (point, error) {
	list := f.candidates(x, uses, alone)
	best, least := x, math.Inf(1)
	for _, looks := range []bool{true, false} {
		for _, c := range list {
			if c.cost >= least || *budget <= 0 {
				break
			}
			if looks != (c.past <= f.MaxOvershoot) {
				continue
			}
			all := true
			for _, t := range c.tries {
				before := t.trials()
				if err := f.test(ctx, t); err != nil {
					return x, err
				}
				*budget -= t.trials() - before
				if all = t.shown == within; !all {
					break
				}
			}
			if all {
				best, least = c.point, c.cost
				break
			}
		}
	}
	if f.try(uses[0], x[uses[0]]) == f.try(uses[0], best[uses[0]]) {
		return x, nil
	}
	return best, nil
}

// better returns the best of a point and its neighbours. Those that fewer trials show to
// be well behind are not measured in full.
func (f *field) better(ctx context.Context, x point, list []point, uses []int) (point, error) {
	if err := f.measurePoints(ctx, lookTrials, uses, list...); err != nil {
		return x, err
	}
	loose := *f
	loose.most = slices.Clone(f.most)
	for i, m := range loose.most {
		loose.most[i] = m + float64(2*noise(m, lookTrials)) // few trials must not rule out what is at the cap
	}
	costs := map[*point]float64{}
	var left []*point
	for i := range list {
		if c := loose.costOf(list[i], uses, lookTrials); c <= 1.03*loose.costOf(x, uses, lookTrials) {
			costs[&list[i]] = c
			left = append(left, &list[i])
		}
	}
	slices.SortStableFunc(left, func(a, b *point) int { return cmp.Compare(costs[a], costs[b]) })
	all := []point{x}
	for _, y := range left[:min(contenders/2+1, len(left))] {
		all = append(all, *y)
	}
	if err := f.measurePoints(ctx, choiceTrials, uses, all...); err != nil {
		return x, err
	}
	return slices.MinFunc(all, func(a, b point) int { return cmp.Compare(f.cost(a, uses), f.cost(b, uses)) }), nil
}
