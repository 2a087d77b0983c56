package tune

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"dialwright/accel"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/sample"
)

// How what a search found is measured before one of it is chosen; ours.
const (
	lookTrials    = 400  // trials of everything
	contestTrials = 1200 // trials of what is in question
	choiceTrials  = 2400 // trials of what may be chosen: a share of 10 % is known to 1.2 points
	contenders    = 6    // how many of a use's accelerations are in question
	favourites    = 3    // and how many of them may be chosen
	polishes      = 4    // rounds
)

// calmWithin is what may lie between the calmest that was tried and another that counts as
// calm; ours: less can hardly be told from so many trials.
const calmWithin = 0.01

// judges is the seed of the people whom the finalists meet: the same whatever the seed of
// the study, so that what is a tie, above all at the cap, does not end now so and now so.
// The search meets others under every seed, and so does the proof.
var judges = uint64(draw.NewTrial(0, "tune choice", 0))

// capMargin is how many standard errors below a cap a share must be measured: the quickest
// of many within a cap is one whose luck has kept it there; ours.
const capMargin = 0.7

// field is a board's finalists, and what each of its uses may overshoot and lose.
type field struct {
	*pool
	found      point     // the choice, where the search was interrupted before there were finalists
	most, lost []float64 // by use; the cap, or where nothing is within it, what the calmest does
	price      float64   // of an overshoot, s: where the caps are the panel's
}

// finalists measures what a search has found, by fresh people.
func (s *search) finalists(ctx context.Context, p *pool, ends []point) (*field, error) {
	b := p.board
	f := &field{pool: s.pool(b, "choice")}
	f.block = judges
	points := append([]point{b.now}, b.built()...)
	if len(b.uses) == 1 { // whatever the settings: nobody shares them
		found := slices.Clone(p.order)
		slices.SortStableFunc(found, func(a, b *try) int {
			return cmp.Compare(p.search.price(p.score(a), s.MaxOvershoot), p.search.price(p.score(b), s.MaxOvershoot))
		})
		for _, t := range found[:min(4*contenders, len(found))] {
			points = append(points, point{t.profile})
		}
	}
	for n, x := range ends {
		points = append(points, x)
		// Accelerations are chosen use by use, under the same settings.
		for _, g := range b.groups(x[0].Home) {
			if c := x[g[0]].Acceleration.Curve; c != nil && accel.KindOf(c).Flat() {
				for _, c := range line(c, 1.06) {
					points = append(points, x.change(g, func(to *scenarios.Profile) { to.Acceleration.Curve = c }))
				}
			}
			if t := p.try(g[0], x[g[0]]); n == 0 && p.score(t).overshoot > s.MaxOvershoot {
				for _, c := range milder(x[g[0]].Acceleration.Curve) {
					points = append(points, x.change(g, func(to *scenarios.Profile) { to.Acceleration.Curve = c }))
				}
			}
			found := p.under(x[0], g)
			for _, most := range []float64{s.MaxOvershoot, 0.75 * s.MaxOvershoot} {
				slices.SortStableFunc(found, func(a, b point) int { return cmp.Compare(p.price(a, g, most), p.price(b, g, most)) })
				for _, o := range found[:min(contenders, len(found))] {
					points = append(points, x.change(g, func(to *scenarios.Profile) {
						to.Acceleration, to.PressCoarse = o[g[0]].Acceleration, o[g[0]].PressCoarse
					}))
				}
			}
			slices.SortStableFunc(found, func(a, b point) int {
				return cmp.Compare(p.score(p.try(g[0], a[g[0]])).overshoot, p.score(p.try(g[0], b[g[0]])).overshoot)
			})
			for _, o := range found[:min(2, len(found))] {
				points = append(points, x.change(g, func(to *scenarios.Profile) { to.Acceleration = o[g[0]].Acceleration }))
			}
		}
	}
	if err := f.measurePoints(ctx, lookTrials, b.now.all(), points...); err != nil {
		return nil, err
	}
	if err := errors.Join(f.measurePoints(ctx, choiceTrials, b.now.all(), b.now), f.gaveUp(b.now)); err != nil {
		return nil, err
	}
	for _, stage := range []struct{ trials, few int }{{contestTrials, contenders}, {choiceTrials, favourites}, {choiceTrials, favourites}} { // what may be the calmest is known only then
		f.limit()
		if err := f.measure(ctx, stage.trials, f.inQuestion(stage.few)...); err != nil {
			return nil, err
		}
	}
	f.limit()
	return f, f.calmer(ctx)
}

// inQuestion are the tries that more trials may make the choice: for each use and what
// its board shares, the calmest and the best few by what is known, but for
// those that can hardly be as good.
func (f *field) inQuestion(few int) (list []*try) {
	by := map[string][]*try{}
	var names []string
	for _, t := range f.order {
		if t.trials() == 0 {
			continue
		}
		name := t.settings + string(rune('0'+t.use))
		if by[name] == nil {
			names = append(names, name)
		}
		by[name] = append(by[name], t)
	}
	for _, name := range names {
		all := by[name]
		slices.SortStableFunc(all, func(a, b *try) int { return cmp.Compare(f.score(a).overshoot, f.score(b).overshoot) })
		list = append(list, distinct(all, 2)...)
		slices.SortStableFunc(all, func(a, b *try) int { return cmp.Compare(f.soft(a, 0), f.soft(b, 0)) })
		least := f.soft(all[0], 0)
		list = append(list, distinct(slices.DeleteFunc(all, func(t *try) bool { return f.soft(t, 2) > least }), few)...)
	}
	return list
}

// soft is the price of a try as the search has it, with the limits of its use and so many
// standard errors less overshoot than was measured.
func (f *field) soft(t *try, lucky float64) float64 {
	x := f.score(t)
	x.overshoot = max(0, x.overshoot-float64(lucky*noise(x.overshoot, x.trials)))
	return f.search.price(x, f.most[t.use]) + f.price*x.overshoot
}

// noise is the standard error of a share of some trials.
func noise(share float64, trials int) float64 {
	return math.Sqrt(max(0.0025, float64(share*(1-share))) / float64(trials))
}

// limit sets what each use may overshoot and lose: the caps, or where nothing that was
// tried is within them, what the calmest does, and a little more that can hardly be told
// from it.
func (f *field) limit() {
	n := len(f.board.uses)
	f.most, f.lost = make([]float64, n), make([]float64, n)
	for i := range n {
		least := math.Inf(1)
		for _, t := range f.order {
			if t.use == i && t.trials() > 0 {
				least = min(least, f.score(t).lost)
			}
		}
		f.lost[i] = f.MaxLost
		if least > f.MaxLost {
			f.lost[i] = 1.1*least + calmWithin // a little less lost is not worth an overshoot
		}
		f.most[i] = f.MaxOvershoot
		if calmest := f.calmest(i); f.Caps == Whole {
			f.most[i] = 1
		} else if len(calmest) == 0 {
			f.most[i] = 1
		} else if t := calmest[0]; f.guarded(t) > f.MaxOvershoot {
			f.most[i] = f.guarded(t) + min(calmWithin, f.guarded(t)-f.MaxOvershoot)
		}
	}
}

// guarded is the share of overshoots that a try must be taken for: none beyond the cap
// where a test has shown that, else what was measured and a little more.
func (f *field) guarded(t *try) float64 {
	x := f.score(t)
	g := x.overshoot + float64(capMargin*noise(x.overshoot, x.trials))
	switch t.shown {
	case within:
		return min(g, f.MaxOvershoot)
	case above:
		return max(g, f.MaxOvershoot+calmWithin/2)
	}
	return g
}

// calmest are a use's tries that do not lose too much, the calmest first.
func (f *field) calmest(use int) []*try {
	var list []*try
	for _, t := range f.order {
		if t.use == use && t.trials() > 0 && f.score(t).lost <= f.lost[use] {
			list = append(list, t)
		}
	}
	slices.SortStableFunc(list, func(a, b *try) int { return cmp.Compare(f.guarded(a), f.guarded(b)) })
	return list
}

// calmer looks for calmer settings where nothing that was tried is within the cap, among
// the neighbours of the calmest, and tests the calmest: a cap is given up last.
func (f *field) calmer(ctx context.Context) error {
	var loud []int
	for i, m := range f.most {
		if m > f.MaxOvershoot && f.Caps != Whole {
			loud = append(loud, i)
		}
	}
	if loud == nil {
		return nil
	}
	for _, i := range loud {
		f.most[i] = 0
	}
	if _, err := f.polish(ctx, f.choose()); err != nil {
		return err
	}
	for _, i := range loud {
		for _, t := range distinct(f.calmest(i), calmTests) {
			if err := f.test(ctx, t); err != nil {
				return err
			}
			if t.shown == within {
				break
			}
		}
	}
	f.limit()
	return nil
}

// calmTests is how many of the calmest are tested.
const calmTests = 3

// beyondLimit is what a whole share beyond a limit costs in the choice, s.
const beyondLimit = 1e4

// cost is what the choice makes small for some uses of a point, over dialings an hour.
func (f *field) cost(x point, uses []int) float64 { return f.costOf(x, uses, choiceTrials) }

// costOf is the cost by so many first trials, infinite where there are fewer.
func (f *field) costOf(x point, uses []int, trials int) float64 {
	sum := 0.0
	for _, i := range uses {
		t := f.try(i, x[i])
		if t.trials() < trials {
			return math.Inf(1)
		}
		sc := f.score(t)
		if sc.trials != trials {
			sc = f.first(t, trials)
		}
		over := 0.0
		if f.most[i] < 1 {
			over = max(0, sc.overshoot+float64(capMargin*noise(sc.overshoot, trials))-f.most[i])
		}
		switch {
		case f.most[i] != f.MaxOvershoot:
		case t.shown == within:
			over = 0
		case t.shown == above:
			over = max(over, calmWithin)
		}
		c := float64(sc.seconds*(1+float64(f.For.overshootCost()*sc.overshoot))) + float64(f.price*sc.overshoot) +
			float64(beyondLimit*(over+max(0, sc.lost-f.lost[i])))
		sum += float64(f.board.uses[i].PerHour * c)
	}
	return sample.Round(sum)
}

// settings are profiles with everything that a use's tries share with their board, in
// each home.
func (f *field) settings(use int) (list []*scenarios.Profile) {
	seen := map[string]bool{}
	for _, t := range f.order {
		for _, home := range f.board.space.homes {
			name := fmt.Sprint(t.settings, home)
			if t.use != use || seen[name] || !t.at(home) {
				continue
			}
			seen[name] = true
			list = append(list, &scenarios.Profile{Settings: t.profile.Settings, Home: home})
		}
	}
	return list
}

// choose takes the best acceleration for each group of uses under each setting that all
// of them have been tried with, and of these the best.
func (f *field) choose() point {
	if f.found != nil {
		return f.found
	}
	best, least := f.board.now, f.cost(f.board.now, f.board.now.all())
	if f.board.space.always {
		least = math.Inf(1)
	}
	for _, with := range f.settings(0) {
		x := slices.Clone(f.board.now)
		for _, g := range f.board.groups(with.Home) {
			found := f.under(with, g)
			if len(found) == 0 {
				x = nil
				break
			}
			from := slices.MinFunc(found, func(a, b point) int { return cmp.Compare(f.cost(a, g), f.cost(b, g)) })
			for _, i := range g {
				x[i] = from[i]
			}
		}
		if x == nil {
			continue
		}
		if c := f.cost(x, x.all()); c < least {
			best, least = x, c
		}
	}
	return best
}

// around are the curves around that of some uses. Beside none there is nothing where the
// cap is given up already.
func (f *field) around(x point, uses []int) []accel.Curve {
	c := x[uses[0]].Acceleration.Curve
	if c == nil && slices.ContainsFunc(uses, func(i int) bool { return f.most[i] != f.MaxOvershoot }) {
		return nil
	}
	return f.board.space.around(c)
}

// polish walks from a point to neighbours that are better among the finalists' people,
// until none is.
func (f *field) polish(ctx context.Context, x point) (point, error) {
	for range polishes {
		moved := false
		for _, g := range f.board.groups(x[0].Home) {
			if len(f.board.space.curves) == 0 {
				break
			}
			var list []point
			for _, c := range f.around(x, g) {
				list = append(list, x.change(g, func(to *scenarios.Profile) { to.Acceleration.Curve = c }))
			}
			y, err := f.better(ctx, x, list, g)
			if err != nil {
				return x, err
			}
			moved = moved || !slices.Equal(x, y)
			x = y
		}
		var list []point
		for _, set := range f.board.space.neighbors(x[0].Settings, 1000) {
			list = append(list, x.set(set))
		}
		y, err := f.better(ctx, x, list, x.all())
		if err != nil {
			return x, err
		}
		if slices.Equal(x, y) && !moved {
			break
		}
		x = y
	}
	return x, nil
}
