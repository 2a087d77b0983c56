package tune

import (
	"cmp"
	"context"
	"math"
	"slices"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/tune/lhs"
)

// The budget of the race, at an effort of 1.
const (
	screened = 120 // points of the hypercube, fewer in a small space
	heat     = 32  // trials a task in the first heat
	heats    = 4
)

// points is how many points a space of so many coordinates is screened with.
func (s *search) points(x *space) int {
	n := 16 * (len(x.settings) + len(x.homes)*len(x.curves))
	if n == 0 {
		return 0
	}
	return min(screened, max(48, n))
}

// race lets a Latin hypercube of settings, and what people usually set, meet the same
// people, and goes on with the better half for each goal. It returns those that are
// left.
func (s *search) race(ctx context.Context, space *space, uses []scenarios.Served, now *candidate, source draw.Stream) ([]*candidate, error) {
	n := s.points(space)
	if n == 0 {
		return nil, nil
	}
	var all []*candidate
	for _, x := range space.usual() {
		all = append(all, space.candidate(x, len(uses)))
	}
	for i, x := range lhs.Points(n, space.size(), source) {
		if i%4 == 0 { // a curve by itself, with the settings of now
			space.settle(x)
		}
		all = append(all, space.candidate(x, len(uses)))
	}
	for h, trials := 0, 0; h < heats; h++ {
		if len(all) == 0 {
			return nil, errDead
		}
		until := max(s.scaled(heat, space), 2*trials)
		if err := s.measure(ctx, uses, s.Operator, append(slices.Clone(all), now), s.block("screen", 0), trials, until); err != nil {
			return nil, err
		}
		trials = until
		s.best(space.knob, s.least(all, s.aim()), now)
		if h+1 < heats {
			all = s.quicker(space, all)
		}
	}
	return all, nil
}

// How sure the race must be, in standard errors of a paired difference.
const (
	clearly = 4 // behind the leader: out at once
	hardly  = 1 // behind the last that stays: stays too
)

// quicker keeps, for each goal, the better half but those that are clearly behind
// the leader, and beyond the half those that can hardly be told from its last.
// Where the halves of several goals differ, each is smaller. The best with each word
// stays too: its numbers may only not have been found yet.
func (s *search) quicker(space *space, all []*candidate) []*candidate {
	goals := s.goals()
	keep := max(12, len(all)/2)
	each := (keep + len(goals) - 1) / len(goals)
	in := map[*candidate]bool{}
	for _, g := range goals {
		sorted := slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool { return c.failed })
		if len(sorted) == 0 {
			continue
		}
		s.sort(sorted, g)
		behind := func(c, other *candidate, errors float64) bool {
			return s.price(c, g)-s.price(other, g) > float64(errors*g.noise(c, other))
		}
		last := sorted[min(each, len(sorted))-1]
		for i, c := range sorted[:min(each*3/2, len(sorted))] {
			if !behind(c, sorted[0], clearly) && (i < each || !behind(c, last, hardly)) {
				in[c] = true
			}
		}
		for _, c := range space.bestWords(sorted) {
			in[c] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool { return !in[c] })
}

// bestWords returns the first candidate with each word.
func (x *space) bestWords(sorted []*candidate) (list []*candidate) {
	for i := range x.size() {
		if !x.words(i) {
			continue
		}
		for k := range x.count(i) {
			if n := slices.IndexFunc(sorted, func(c *candidate) bool { return pick(c.at[i], x.count(i)) == k }); n >= 0 {
				list = append(list, sorted[n])
			}
		}
	}
	return list
}

// begin returns where to start clouds for a goal: the best of the race, and the best
// ones with another word where that word makes a difference, because a cloud does
// not change words. Settings come before the acceleration. Then come the next best.
func (s *search) begin(x *space, all []*candidate, g goal) (list []*candidate) {
	all = slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool { return c.failed })
	if len(all) == 0 {
		return nil
	}
	s.sort(all, g)
	best := all[0]
	list = append(list, best)
	add := func(i int, matters bool) {
		n := slices.IndexFunc(all, func(c *candidate) bool { return pick(c.at[i], x.count(i)) != pick(best.at[i], x.count(i)) })
		if n < 0 || len(list) == g.starts || slices.ContainsFunc(list, func(b *candidate) bool { return x.sameWords(b.at, all[n].at) }) {
			return
		}
		if !matters || s.price(all[n], g)-s.price(best, g) > float64(2*g.noise(all[n], best)) {
			list = append(list, all[n])
		}
	}
	for _, matters := range []bool{true, false} {
		for i := range x.size() {
			if x.words(i) {
				add(i, matters)
			}
		}
	}
	for _, c := range all {
		if len(list) < g.starts && !slices.Contains(list, c) && len(x.moving(c.at, 0)) > 0 {
			list = append(list, c)
		}
	}
	return list
}

// sort puts the best for a goal first.
func (s *search) sort(all []*candidate, g goal) {
	prices := s.pricesOf(all, g)
	slices.SortStableFunc(all, func(a, b *candidate) int { return cmp.Compare(prices[a], prices[b]) })
}

func (s *search) least(all []*candidate, g goal) *candidate {
	prices := s.pricesOf(all, g)
	return slices.MinFunc(all, func(a, b *candidate) int { return cmp.Compare(prices[a], prices[b]) })
}

func (s *search) pricesOf(all []*candidate, g goal) map[*candidate]float64 {
	prices := make(map[*candidate]float64, len(all))
	for _, c := range all {
		prices[c] = s.price(c, g)
	}
	return prices
}

// aim is the goal of the study itself.
func (s *search) aim() goal {
	return goal{overshoot: s.For.overshootCost(), most: s.MaxOvershoot, starts: 2, more: 4}
}

// cap is the cap on overshoot, as far as prices go by it: the less is allowed the more
// one counts.
func (s *search) cap() float64 { return max(0.02, s.MaxOvershoot) }

// goals are what a search is made for: each gives another part of the front. The
// cap is met by pricing alone only where the front is convex, so it is one of them.
// Where overshoot has no cap only the aim's own is of use. Where it is dear, few
// trials say little, and the search is longer.
func (s *search) goals() []goal {
	if s.MaxOvershoot >= 1 {
		return []goal{s.aim()}
	}
	return []goal{s.aim(), {0, 1, 1, 2}, {dear / s.cap(), 1, 1, 4}, {retreat / s.cap(), 1, 2, 4}}
}

// scaled returns a number of trials for the study's effort, and for a knob's share
// of it: what is seldom dialed is not worth as much.
func (s *search) scaled(trials int, x *space) int {
	effort := 1.0
	if x != nil {
		effort = x.effort
	}
	if s.Effort > 0 {
		effort *= s.Effort
	}
	return max(8, int(math.Round(float64(trials)*effort)))
}
