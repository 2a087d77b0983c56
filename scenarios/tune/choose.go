package tune

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"dialwright/accel"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// How what a search found is measured before one of it is chosen.
const (
	looked   = 400  // trials of everything
	known    = 1200 // trials of what is in question
	decided  = 2400 // trials of what may be chosen: a share of 10 % is known to 1.2 points
	inline   = 6    // how many of a use's accelerations are in question
	last     = 3    // and how many of them may be chosen
	polishes = 4    // rounds
)

// Levels of overshoot, shares of dialings, at which it is said what can be had.
var levels = []float64{0.05, 0.10, 0.20, 0.30}

// calm is what may lie between the calmest that was tried and another that counts as
// calm: less can hardly be told.
const calm = 0.01

// standing is whom the finalists meet: the same people whatever the seed, as the same
// panel tastes all wines, so that what is a tie, above all at the cap, does not end now
// so and now so. The search meets others under every seed, and so does the proof.
var standing = uint64(draw.NewTrial(0, "tune choice", 0))

// guard is how many standard errors below a cap a share must be measured: the quickest
// of many within a cap is one whose luck has kept it there.
const guard = 0.7

// field is a board's finalists, and what each of its uses may overshoot and lose.
type field struct {
	*pool
	most, lost []float64 // by use; the cap, or where nothing is within it, what the calmest does
	price      float64   // of an overshoot, s: where the caps are the panel's
}

// finalists measures what a search has found, by fresh people.
func (s *search) finalists(ctx context.Context, p *pool, ends []point) (*field, error) {
	b := p.board
	f := &field{pool: s.pool(b, "choice")}
	f.block = standing
	points := append([]point{b.now}, b.built()...)
	if len(b.uses) == 1 { // whatever the settings: nobody shares them
		found := slices.Clone(p.order)
		slices.SortStableFunc(found, func(a, b *try) int {
			return cmp.Compare(p.search.price(p.score(a), s.MaxOvershoot), p.search.price(p.score(b), s.MaxOvershoot))
		})
		for _, t := range found[:min(4*inline, len(found))] {
			points = append(points, point{t.profile})
		}
	}
	for _, x := range ends {
		points = append(points, x)
		// Accelerations are chosen use by use, under the same settings.
		for _, g := range b.groups(x[0].Home) {
			if c := x[g[0]].Acceleration.Curve; c != nil && accel.KindOf(c).Flat() {
				for _, c := range line(c, 1.06) {
					points = append(points, x.change(g, func(to *scenarios.Profile) { to.Acceleration.Curve = c }))
				}
			}
			found := p.under(x[0], g)
			for _, most := range []float64{s.MaxOvershoot, 0.75 * s.MaxOvershoot} {
				slices.SortStableFunc(found, func(a, b point) int { return cmp.Compare(p.price(a, g, most), p.price(b, g, most)) })
				for _, o := range found[:min(inline, len(found))] {
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
	if err := f.measurePoints(ctx, looked, b.now.all(), points...); err != nil {
		return nil, err
	}
	if err := f.measurePoints(ctx, decided, b.now.all(), b.now); err != nil {
		return nil, err
	}
	for _, stage := range []struct{ trials, few int }{{known, inline}, {decided, last}, {decided, last}} { // what may be the calmest is known only then
		f.limit()
		if err := f.measure(ctx, stage.trials, f.inQuestion(stage.few)...); err != nil {
			return nil, err
		}
	}
	f.limit()
	return f, f.calmer(ctx)
}

// inQuestion are the tries that more trials may make the choice: for each use and what
// its board shares, the calmest and the best few by what is known.
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
		list = append(list, all[:min(2, len(all))]...)
		slices.SortStableFunc(all, func(a, b *try) int { return cmp.Compare(f.soft(a), f.soft(b)) })
		list = append(list, all[:min(few, len(all))]...)
	}
	return list
}

// soft is the price of a try as the search has it, with the limits of its use.
func (f *field) soft(t *try) float64 {
	x := f.score(t)
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
			f.lost[i] = 1.1*least + calm // a little less lost is not worth an overshoot
		}
		f.most[i] = f.MaxOvershoot
		if calmest := f.calmest(i); f.Caps == Whole {
			f.most[i] = 1
		} else if len(calmest) == 0 {
			f.most[i] = 1
		} else if t := calmest[0]; f.guarded(t) > f.MaxOvershoot {
			f.most[i] = f.guarded(t) + min(calm, f.guarded(t)-f.MaxOvershoot)
		}
	}
}

// guarded is the share of overshoots that a try must be taken for: none beyond the cap
// where a test has shown that, else what was measured and a little more.
func (f *field) guarded(t *try) float64 {
	x := f.score(t)
	g := x.overshoot + float64(guard*noise(x.overshoot, x.trials))
	switch t.shown {
	case within:
		return min(g, f.MaxOvershoot)
	case above:
		return max(g, f.MaxOvershoot+calm/2)
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
		for _, t := range f.calmest(i)[:min(calmTests, len(f.calmest(i)))] {
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

// wall is what a whole share beyond a limit costs in the choice, s.
const wall = 1e4

// cost is what the choice makes small for some uses of a point, over dialings an hour.
func (f *field) cost(x point, uses []int) float64 { return f.costOf(x, uses, decided) }

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
			over = max(0, sc.overshoot+float64(guard*noise(sc.overshoot, trials))-f.most[i])
		}
		switch {
		case f.most[i] != f.MaxOvershoot:
		case t.shown == within:
			over = 0
		case t.shown == above:
			over = max(over, calm)
		}
		c := float64(sc.seconds*(1+float64(f.For.overshootCost()*sc.overshoot))) + float64(f.price*sc.overshoot) +
			float64(wall*(over+max(0, sc.lost-f.lost[i])))
		sum += float64(f.board.uses[i].PerHour * c)
	}
	return math.Round(sum*1e6) / 1e6
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
			for _, c := range around(x[g[0]].Acceleration.Curve) {
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

// shown is what a sequential test has shown of a try's overshoot.
type shown uint8

// What a test can show.
const (
	nothing shown = iota
	within        // the cap
	above
)

// looks are the trials after which a test may end, and sure how many standard errors
// below the cap a share must lie to be within it: with these looks that is wrong in less
// than 5 %. What is doubtful is given up sooner: others are nearly as quick. After the
// last look the share itself decides.
var looks = [...]int{known, decided, 2 * decided, 4 * decided, 7 * decided}

const (
	sure     = 2.3
	doubtful = 2.0
)

// test decides whether a try is within the cap.
func (f *field) test(ctx context.Context, t *try) error {
	for _, n := range looks {
		if t.shown != nothing {
			return nil
		}
		if err := f.measure(ctx, n, t); err != nil {
			return err
		}
		x := f.score(t)
		far := float64(sure * noise(x.overshoot, x.trials))
		switch {
		case x.overshoot+far <= f.MaxOvershoot:
			t.shown = within
		case x.overshoot-float64(doubtful*noise(x.overshoot, x.trials)) > f.MaxOvershoot:
			t.shown = above
		case n == looks[len(looks)-1] && x.overshoot <= f.MaxOvershoot:
			t.shown = within
		case n == looks[len(looks)-1]:
			t.shown = above
		}
	}
	return nil
}

// brinkTrials is about how many trials the tests of a group of uses take at most.
const brinkTrials = 240_000

// brink takes, for each group of uses that can keep the cap, the quickest of what was
// tried that a test shows to keep it, so that the choice goes up to the cap: of the
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
				for _, c := range around(x[g[0]].Acceleration.Curve) {
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
			if err := f.measurePoints(ctx, looked, g, near...); err != nil {
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
				may = may && sc.trials >= looked && sc.lost <= f.lost[i] && t.shown != above && sc.overshoot-float64(sure*noise(sc.overshoot, sc.trials)) <= f.MaxOvershoot
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

// quickest is the quickest of the candidates that tests show to be within the caps; the
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
	if err := f.measurePoints(ctx, looked, uses, list...); err != nil {
		return x, err
	}
	loose := *f
	loose.most = slices.Clone(f.most)
	for i, m := range loose.most {
		loose.most[i] = m + float64(2*noise(m, looked)) // few trials must not rule out what is at the cap
	}
	costs := map[*point]float64{}
	var left []*point
	for i := range list {
		if c := loose.costOf(list[i], uses, looked); c <= 1.03*loose.costOf(x, uses, looked) {
			costs[&list[i]] = c
			left = append(left, &list[i])
		}
	}
	slices.SortStableFunc(left, func(a, b *point) int { return cmp.Compare(costs[a], costs[b]) })
	all := []point{x}
	for _, y := range left[:min(inline/2+1, len(left))] {
		all = append(all, *y)
	}
	if err := f.measurePoints(ctx, decided, uses, all...); err != nil {
		return x, err
	}
	return slices.MinFunc(all, func(a, b point) int { return cmp.Compare(f.cost(a, uses), f.cost(b, uses)) }), nil
}

// Level is the least time that was found with at most a share of overshoots.
type Level struct {
	Most            float64            // share of dialings
	Profile         *scenarios.Profile // nil: nothing that was tried is so calm
	Seconds         float64            // mean, s
	Overshoot, Lost float64            // shares
}

// tradeOff measures what can be had at each level of overshoot, use by use, with
// whatever settings.
func (f *field) tradeOff(ctx context.Context, p *pool) error {
	var all []*try
	for i := range f.board.uses {
		for _, level := range levels {
			var list []*try
			for _, t := range p.order {
				if t.use == i && t.trials() >= scouted && p.score(t).overshoot <= level+noise(level, tried) && p.score(t).lost <= f.lost[i]+calm {
					list = append(list, t)
				}
			}
			slices.SortStableFunc(list, func(a, b *try) int { return cmp.Compare(p.score(a).seconds, p.score(b).seconds) })
			for _, t := range list[:min(2, len(list))] {
				all = append(all, f.try(i, t.profile))
			}
		}
	}
	if err := f.measure(ctx, known, all...); err != nil {
		return err
	}
	for range 2 { // the best of them is one that may be chosen
		all = nil
		for i := range f.board.uses {
			for _, l := range f.levels(i) {
				if l.Profile != nil {
					all = append(all, f.try(i, l.Profile))
				}
			}
		}
		if err := f.measure(ctx, decided, all...); err != nil {
			return err
		}
	}
	return nil
}

// levels are the best of a use's tries at each level.
func (f *field) levels(use int) (list []Level) {
	for _, level := range levels {
		best := Level{Most: level, Seconds: math.Inf(1)}
		for _, t := range f.order {
			if x := f.score(t); t.use == use && t.trials() >= known && x.overshoot+float64(guard*noise(x.overshoot, x.trials)) <= level && x.lost <= f.lost[use] && x.seconds < best.Seconds {
				best = Level{level, t.profile, x.seconds, x.overshoot, x.lost}
			}
		}
		list = append(list, best)
	}
	return list
}
