package tune

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// The budget of a search; ours. People are few while much is tried: what is moved by
// mistake is found out by the choice, which has nine times as many.
const (
	scoutTrials = 160 // trials of what is only looked at
	moveTrials  = 256 // trials of what is moved
	calmKept    = 3   // settings, of those, that go to the finalists besides for being calm
	ownCurves   = 2   // settings, of those that were begun with, that get accelerations of their own
	walkRounds  = 5   // rounds over the settings

	promisingCost = 1.25 // what the best curve of another kind may cost in proportion, to be moved too
)

// What a whole share beyond a cap counts in the search, in mean dialings: a slope, as a
// share from few trials is noisy and a wall would throw away good settings; ours.
const (
	overshootSlope = 10 // of overshoots
	lostSlope      = 20 // of detents
)

// price is what a search makes small: the mean time with what the aim counts for an
// overshoot, and steep prices beyond the caps.
func (s *search) price(x score, most float64) float64 {
	over, lost := max(0, x.overshoot-most), max(0, x.lost-s.MaxLost)
	return billionths(x.seconds * (1 + float64(s.For.overshootCost()*x.overshoot) + float64(overshootSlope*over) + float64(lostSlope*lost)))
}

// price is that of what some uses of a point have come to, over dialings an hour.
func (p *pool) price(x point, uses []int, most float64) float64 {
	sum := 0.0
	for _, i := range uses {
		t := p.try(i, x[i])
		if t.err != nil {
			return math.Inf(1)
		}
		sum += float64(p.board.uses[i].PerHour * p.search.price(p.score(t), most))
	}
	return sum
}

// least is the point with the least price for some uses, the first of equal ones.
func (p *pool) least(list []point, uses []int, most float64) point {
	return slices.MinFunc(list, func(a, b point) int { return cmp.Compare(p.price(a, uses, most), p.price(b, uses, most)) })
}

// measurePoints lets some uses of points do their trials.
func (p *pool) measurePoints(ctx context.Context, trials int, uses []int, list ...point) error {
	var all []*try
	for _, x := range list {
		for _, i := range uses {
			all = append(all, p.try(i, x[i]))
		}
	}
	return p.measure(ctx, trials, all...)
}

// set is the point with other settings; what a profile has besides stays.
func (x point) set(settings []scenarios.Setting) point {
	return x.change(x.all(), func(p *scenarios.Profile) { p.Settings = settings })
}

// begin are the points that a search begins with: under each of the space's starts, in
// every home, all uses with each of the accelerations that there are to begin with.
func (b *board) begin(more [][]scenarios.Setting) (list [][]point) {
	settings := b.space.starts(b.now[0].Settings)
	for _, m := range more {
		for _, set := range settings[:len(settings):len(settings)] {
			settings = append(settings, b.space.with(set, m...))
		}
	}
	for n, set := range settings {
		base := b.now.set(set)
		for i := range base {
			base[i].Name = "tuned"
		}
		if len(b.space.curves) == 0 {
			list = append(list, []point{base})
			continue
		}
		for _, home := range b.space.homes {
			var points []point
			for _, a := range b.space.accelerations(n > 0, home) {
				points = append(points, base.change(base.all(), func(p *scenarios.Profile) {
					p.Home, p.Acceleration, p.PressCoarse = home, a, 0
				}))
			}
			list = append(list, points)
		}
	}
	return list
}

// find searches a board: what it begins with, then every use's acceleration under the
// best settings, then the settings around them, and the accelerations again. It returns
// what is worth meeting fresh people, the best first, also where the context ended.
func (p *pool) find(ctx context.Context, more [][]scenarios.Setting) (ends []point, err error) {
	b, most := p.board, p.MaxOvershoot
	begun := b.begin(more)
	if err := p.measurePoints(ctx, scoutTrials, b.now.all(), slices.Concat(begun...)...); err != nil {
		return nil, err
	}
	var best []point
	for _, points := range begun {
		x := slices.Clone(points[0])
		for _, g := range b.groups(x[0].Home) {
			from := p.least(points, g, most)
			for _, i := range g {
				x[i] = from[i]
			}
		}
		best = append(best, x)
	}
	slices.SortStableFunc(best, func(a, b point) int {
		return cmp.Compare(p.price(a, a.all(), most), p.price(b, b.all(), most))
	})
	best = slices.DeleteFunc(best, func(x point) bool { return math.IsInf(p.price(x, x.all(), most), 1) })
	if len(best) == 0 {
		return nil, nil
	}
	var names []string
	for _, n := range b.knobs {
		names = append(names, p.Panel.Knobs[n].Name)
	}
	p.say(fmt.Sprintf("%s: %d settings tried so far", strings.Join(names, ", "), len(p.order)))
	ends = p.different(best, ownCurves, func(x point) float64 { return p.price(x, x.all(), most) })
	for n, x := range ends {
		if ends[n], err = p.accelerate(ctx, x, []float64{1.6, 1.25}, most); err != nil {
			return ends, err
		}
	}
	if err := p.measurePoints(ctx, moveTrials, b.now.all(), ends...); err != nil {
		return ends, err
	}
	x := p.least(ends, b.now.all(), most)
	ends = append([]point{x}, slices.DeleteFunc(ends, func(o point) bool { return &o[0] == &x[0] })...)
	for range 2 {
		walked, err := p.walk(ctx, x)
		if err != nil {
			return ends, err
		}
		moved := walked[0].Settings
		if walked, err = p.accelerate(ctx, walked, []float64{1.25, 1.1}, most); err != nil {
			return ends, err
		}
		stays := slices.Equal(moved, x[0].Settings)
		x = walked
		ends[0] = x
		if stays {
			break
		}
	}
	for _, level := range levels {
		if level == most {
			continue
		}
		// What else can be had, for whoever allows more or less.
		y := slices.Clone(x)
		for _, g := range b.groups(x[0].Home) {
			from := p.least(p.under(x[0], g), g, level)
			for _, i := range g {
				y[i] = from[i]
			}
		}
		if y, err = p.accelerate(ctx, y, []float64{1.25}, level); err != nil {
			return ends, err
		}
		ends = append(ends, y)
	}
	// Settings that are slower but calmer, and the calmest: the caps are for each task.
	calm := append(p.different(best, 2*calmKept, p.strict), p.different(best, calmKept, p.beyondCaps)...)
	if err := p.measurePoints(ctx, 3*moveTrials, b.now.all(), calm...); err != nil {
		return ends, err
	}
	ends = append(ends, p.different(calm, calmKept, p.strict)...)
	return append(ends, p.different(calm, 1, p.beyondCaps)...), nil
}

// different are the first few points by some price, one of equal ones.
func (p *pool) different(list []point, few int, price func(point) float64) (kept []point) {
	sorted := slices.Clone(list)
	slices.SortStableFunc(sorted, func(a, b point) int { return cmp.Compare(price(a), price(b)) })
	for i, x := range sorted {
		if i > 0 && price(x) == price(sorted[i-1]) {
			continue
		}
		if kept = append(kept, x); len(kept) == few {
			break
		}
	}
	return kept
}

// strict is the price of a point where hardly anything but the caps counts.
func (p *pool) strict(x point) float64 {
	sum := 0.0
	for _, i := range x.all() {
		sc := p.score(p.try(i, x[i]))
		sum += float64(p.board.uses[i].PerHour * (sc.seconds + float64(100*sc.seconds*p.overCaps(sc))))
	}
	return sum
}

// beyondCaps is by how much a point is beyond the caps, whatever its time.
func (p *pool) beyondCaps(x point) float64 {
	sum := 0.0
	for _, i := range x.all() {
		sum += float64(p.board.uses[i].PerHour * p.overCaps(p.score(p.try(i, x[i]))))
	}
	return sum
}

// overCaps is the shares by which a score is beyond the caps.
func (p *pool) overCaps(x score) float64 {
	return max(0, x.overshoot-p.MaxOvershoot) + max(0, x.lost-p.MaxLost)
}

// under are the points that were tried for all of some uses with what a profile shares
// with its board.
func (p *pool) under(with *scenarios.Profile, uses []int) (list []point) {
	settings := shared(with)
	for _, t := range p.order {
		if t.use != uses[0] || t.settings != settings || t.trials() == 0 || !t.at(with.Home) {
			continue
		}
		from := *t.profile
		from.Home = with.Home
		x, all := make(point, len(p.board.uses)), true
		for _, i := range uses {
			x[i] = &from
			all = all && p.try(i, &from).trials() > 0
		}
		if all {
			list = append(list, x)
		}
	}
	return list
}

// accelerate moves the acceleration of every group of uses by strides as long as that
// is better: of the best so far, and of the best with another kind of curve.
func (p *pool) accelerate(ctx context.Context, x point, strides []float64, most float64) (point, error) {
	x = slices.Clone(x)
	if len(p.board.space.curves) == 0 {
		return x, nil
	}
	for _, g := range p.board.groups(x[0].Home) {
		from := []point{x}
		if other := p.otherKind(x, g, most); other != nil && p.price(other, g, most) < promisingCost*p.price(x, g, most) {
			from = append(from, other)
		}
		if err := p.measurePoints(ctx, moveTrials, g, from...); err != nil {
			return x, err
		}
		for n := range from {
			var err error
			if from[n], err = p.climb(ctx, from[n], g, strides, most); err != nil {
				return x, err
			}
		}
		best := p.least(from, g, most)
		for _, i := range g {
			x[i] = best[i]
		}
	}
	return x, nil
}

// otherKind is the best point so far whose curve for some uses is of another kind than
// a point's; nil where there is none.
func (p *pool) otherKind(x point, uses []int, most float64) point {
	k := accel.KindOf(x[uses[0]].Acceleration.Curve)
	list := slices.DeleteFunc(p.under(x[uses[0]], uses), func(o point) bool {
		c := o[uses[0]].Acceleration.Curve
		return c == nil || accel.KindOf(c) == k
	})
	if len(list) == 0 {
		return nil
	}
	best := p.least(list, uses, most)
	return x.change(uses, func(to *scenarios.Profile) { to.Acceleration = best[uses[0]].Acceleration })
}

// climb moves the curve of some uses by strides as long as that is better.
func (p *pool) climb(ctx context.Context, x point, uses []int, strides []float64, most float64) (point, error) {
	for _, stride := range strides {
		for range 6 {
			var list []point
			around := near(x[uses[0]].Acceleration.Curve, stride)
			if c := x[uses[0]].Acceleration.Curve; c != nil && accel.KindOf(c).Flat() {
				around = line(c, 1.06)
			}
			for _, c := range around {
				list = append(list, x.change(uses, func(to *scenarios.Profile) { to.Acceleration.Curve = c }))
			}
			if len(list) == 0 {
				return x, nil
			}
			if err := p.measurePoints(ctx, moveTrials, uses, list...); err != nil {
				return x, err
			}
			best := p.least(list, uses, most)
			if p.price(best, uses, most) >= p.price(x, uses, most) {
				break
			}
			x = best
		}
	}
	return x, nil
}

// walk moves the settings of a board as long as that is better, with the accelerations
// that it has.
func (p *pool) walk(ctx context.Context, x point) (point, error) {
	all := x.all()
	reach := 4
	for range walkRounds {
		var list []point
		for _, set := range p.board.space.neighbors(x[0].Settings, reach) {
			list = append(list, x.set(set))
		}
		if len(list) == 0 {
			return x, nil
		}
		if err := p.measurePoints(ctx, moveTrials, all, list...); err != nil {
			return x, err
		}
		best := p.least(list, all, p.MaxOvershoot)
		if p.price(best, all, p.MaxOvershoot) >= p.price(x, all, p.MaxOvershoot) {
			if reach > 12 {
				return x, nil
			}
			reach *= 4
			continue
		}
		x = best
	}
	return x, nil
}

// built are the profiles that are built in and that the board's owner can set, as
// points.
func (b *board) built() (list []point) {
	for _, built := range scenarios.Profiles() {
		may := built.PressCoarse == 0
		for _, set := range built.Settings {
			k := b.space.key(set.Key)
			may = may && k != nil && slices.Contains(k.choices, set.Value)
		}
		if c := built.Acceleration.Curve; c != nil {
			may = may && slices.Contains(b.space.curves, accel.KindOf(c).Word)
		} else if b.space.always || len(b.space.curves) == 0 {
			may = false
		}
		if !may {
			continue
		}
		for _, home := range b.space.homes {
			list = append(list, b.now.change(b.now.all(), func(p *scenarios.Profile) {
				p.Name, p.Settings = "tuned", b.space.with(p.Settings, built.Settings...)
				p.Home, p.Acceleration, p.PressCoarse = home, built.Acceleration, 0
				if p.Acceleration.Plain() {
					p.Home = encoder.InProgram
				}
			}))
		}
	}
	return list
}
