package tune

import (
	"cmp"
	"context"
	"fmt"
	"reflect"
	"slices"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/tune/cma"
	"dialwright/scenarios/tune/lhs"
)

// The budget of a search, per knob.
const (
	screened    = 160 // points of the hypercube, fewer in a small space
	heat        = 32  // trials a task in the first heat of the race
	heats       = 4
	starts      = 2 // clouds for each price of overshoot
	generations = 10
	more        = 6 // generations after a change of words
	lambda      = 10
	told        = 64 // trials a task in a generation
	own         = 10 // generations for a task's own acceleration
)

// prices are what an overshoot counts in a search, in dialings: each gives another
// part of the front. Where overshoot has no cap only the aim's own is of use.
func (s *search) prices() []float64 {
	if s.MaxOvershoot >= 1 {
		return []float64{s.For.overshootCost()}
	}
	return []float64{0, 4, 9, 18}
}

// points is how many points a space of so many coordinates is screened with.
func (s *space) points() int { return min(screened, 16*(len(s.settings)+len(s.homes)*len(s.curves))) }

// plan is about how many trials a knob with some tasks takes, for progress.
func (s *search) plan(k *scenarios.Knob) int64 {
	prices, tasks := int64(len(s.prices())), int64(len(k.Tasks))
	n := (screened+8)*heat*5/2 + prices*starts*generations*lambda*told + 40*int64(s.Trials)
	if tasks > 1 {
		n += prices * own * lambda * told
	}
	return tasks * n
}

// candidates finds what is worth meeting fresh people: the race's best and where
// the clouds ended, behind the settings of now and all built-in profiles. Those
// stay out of the race: no cloud could start from them.
func (s *search) candidates(ctx context.Context, space *space, uses []scenarios.Served, number int) ([]*candidate, error) {
	now := one("now", space.now, len(uses))
	always := []*candidate{now}
	for _, p := range scenarios.Profiles() {
		with := p
		with.Settings = space.under(p.Settings, space.now.Settings)
		always = append(always, one(p.Name, &with, len(uses)))
	}
	source := draw.NewTrial(s.Seed, "tune", number)
	var all []*candidate
	if space.points() > 0 {
		for i, x := range lhs.Points(space.points(), space.size(), source.Stream(draw.Search)) {
			if i%4 == 0 { // a curve by itself, with the settings of now
				space.settle(x)
			}
			c := one("searched", space.profile(x), len(uses))
			c.at = x
			all = append(all, c)
		}
	}
	for h, trials := 0, 0; h < heats; h++ {
		until := max(heat, 2*trials)
		if err := s.measure(ctx, uses, s.Operator, append(slices.Clone(all), now), s.block("screen", 0), trials, until); err != nil {
			return nil, err
		}
		trials = until
		if len(all) == 0 {
			break
		}
		s.best(space.knob, s.least(all, s.For.overshootCost()), now)
		if h+1 < heats {
			all = s.quicker(all)
		}
	}

	found := always
	stream := func(n int) draw.Stream { return source.Stream(draw.Search + 1 + draw.Purpose(n)) }
	for i, price := range s.prices() {
		var ends []*candidate
		var begun []*candidate
		s.sort(all, price)
		for _, c := range all {
			if c.failed || c.at == nil || len(begun) == starts || slices.ContainsFunc(begun, func(b *candidate) bool { return space.sameWords(b.at, c.at) }) {
				continue
			}
			n := 10*i + len(begun)
			begun = append(begun, c)
			end, err := s.cloud(ctx, space, uses, c, price, n, 0, generations, stream(n))
			if err != nil {
				return nil, err
			}
			ends = append(ends, c)
			if end != nil {
				ends = append(ends, end)
			}
		}
		if len(ends) == 0 {
			continue
		}
		tried, err := s.otherWords(ctx, space, uses, ends, price, i)
		if err != nil {
			return nil, err
		}
		if word := s.least(tried, price); !slices.Contains(ends, word) {
			end, err := s.cloud(ctx, space, uses, word, price, 10*i+5, 0, more, stream(10*i+5))
			if err != nil {
				return nil, err
			}
			if end != nil {
				ends = append(ends, end)
			}
		}
		ends = append(ends, undominated(tried, ends)...)
		if len(uses) > 1 && len(space.curves) > 0 {
			each, err := s.byTask(ctx, space, uses, ends, price, i, stream)
			if err != nil {
				return nil, err
			}
			ends = append(ends, each)
		}
		for _, e := range ends {
			if !slices.ContainsFunc(found, func(c *candidate) bool { return reflect.DeepEqual(c.profiles, e.profiles) }) {
				found = append(found, e)
			}
		}
	}
	return found, nil
}

// under puts settings over those of now.
func (s *space) under(over, now []scenarios.Setting) []scenarios.Setting {
	list := slices.Clone(over)
	for _, n := range now {
		if !slices.ContainsFunc(over, func(c scenarios.Setting) bool { return c.Key == n.Key }) {
			list = append(list, n)
		}
	}
	return list
}

// sort puts the best for a price of overshoot first.
func (s *search) sort(all []*candidate, price float64) {
	slices.SortStableFunc(all, func(a, b *candidate) int { return cmp.Compare(s.price(a, price), s.price(b, price)) })
}

func (s *search) least(all []*candidate, price float64) *candidate {
	return slices.MinFunc(all, func(a, b *candidate) int { return cmp.Compare(s.price(a, price), s.price(b, price)) })
}

// quicker keeps the better half for each price of overshoot, fewer where the
// halves differ.
func (s *search) quicker(all []*candidate) []*candidate {
	prices := s.prices()
	keep := max(4, len(all)/2)
	each := (keep + len(prices) - 1) / len(prices)
	in := map[*candidate]bool{}
	for _, price := range prices {
		sorted := slices.Clone(all)
		s.sort(sorted, price)
		for _, c := range sorted[:min(each, len(sorted))] {
			in[c] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool { return !in[c] })
}

// otherWords takes the best candidate and tries every other word in it, one at a
// time. It returns all of them.
func (s *search) otherWords(ctx context.Context, space *space, uses []scenarios.Served, all []*candidate, price float64, stage int) ([]*candidate, error) {
	block := s.block("words", stage)
	if err := s.measure(ctx, uses, s.Operator, all, block, 0, 4*told); err != nil {
		return nil, err
	}
	best := s.least(all, price)
	tried := slices.Clone(all)
	for i := range best.at {
		if !space.words(i) {
			continue
		}
		n := space.count(i)
		for k := range n {
			if k == pick(best.at[i], n) {
				continue
			}
			x := slices.Clone(best.at)
			x[i] = (float64(k) + 0.5) / float64(n)
			c := one("searched", space.profile(x), len(uses))
			c.at = x
			tried = append(tried, c)
		}
	}
	if err := s.measure(ctx, uses, s.Operator, tried[len(all):], block, 0, 4*told); err != nil {
		return nil, err
	}
	return tried, nil
}

// undominated returns the candidates, other than some, that no other one beats in
// time, overshoot and lost detents at once.
func undominated(all, but []*candidate) []*candidate {
	type sums struct{ t, o, l float64 }
	of := func(c *candidate) (x sums) {
		x.t, x.o, x.l = c.sample.sums()
		return
	}
	return slices.DeleteFunc(slices.Clone(all), func(c *candidate) bool {
		if c.failed || slices.Contains(but, c) {
			return true
		}
		x := of(c)
		return slices.ContainsFunc(all, func(other *candidate) bool {
			if other.failed || other == c {
				return false
			}
			y := of(other)
			return y != x && y.t <= x.t && y.o <= x.o && y.l <= x.l
		})
	})
}

// settle puts the coordinates of the settings where they are now.
func (s *space) settle(x []float64) {
	for i, g := range s.settings {
		value := scenarios.Get(&s.knob.Inner.Rig, g.key)
		for _, n := range s.now.Settings {
			if n.Key == g.key {
				value = n.Value
			}
		}
		if k := slices.Index(g.choices, value); k >= 0 {
			x[i] = (float64(k) + 0.5) / float64(len(g.choices))
		}
	}
}

// sameWords says whether two points differ in numbers only.
func (s *space) sameWords(a, b []float64) bool {
	for i := range a {
		if s.words(i) && pick(a[i], s.count(i)) != pick(b[i], s.count(i)) {
			return false
		}
	}
	return true
}

// count is how many words a coordinate chooses from.
func (s *space) count(i int) int {
	switch i - len(s.settings) {
	case atHome:
		return len(s.homes)
	case atCurve:
		return len(s.curves) + 1
	}
	return len(s.settings[i].choices)
}

// moving lists the coordinates along which a cloud moves.
func (s *space) moving(x []float64, from int) []int {
	var list []int
	for i := from; i < len(x); i++ {
		if s.words(i) {
			continue
		}
		if k := i - len(s.settings); k >= 0 {
			n := pick(x[len(s.settings)+atCurve], len(s.curves)+1)
			if n == len(s.curves) || s.curves[n] == "constant" && k != atGain {
				continue
			}
		} else if len(s.settings[i].choices) < 2 {
			continue
		}
		list = append(list, i)
	}
	return list
}

// cloud lets CMA-ES move the numbers of a candidate, its words kept, and returns
// where it ended: the mean, because the best candidate seen would be a lucky one.
// Only the coordinates from the first on move; nil where none does.
func (s *search) cloud(ctx context.Context, space *space, uses []scenarios.Served, from *candidate, price float64, stage, first, generations int, stream draw.Stream) (*candidate, error) {
	moving := space.moving(from.at, first)
	if len(moving) == 0 {
		return nil, nil
	}
	start, least := make([]float64, len(moving)), make([]float64, len(moving))
	for i, m := range moving {
		start[i], least[i] = from.at[m], space.least(m)
	}
	cloud, err := cma.New(len(moving), stream, cma.Settings{Start: start, Sigma: 0.2, Lambda: lambda, Least: least})
	if err != nil {
		return nil, err
	}
	place := func(y []float64) *candidate {
		x := slices.Clone(from.at)
		for i, m := range moving {
			x[m] = y[i]
		}
		c := one("searched", space.profile(x), len(uses))
		if first > 0 { // the settings stay
			for i, p := range c.profiles {
				with := *p
				with.Settings = from.profiles[0].Settings
				c.profiles[i] = &with
			}
		}
		c.at = x
		return c
	}
	for range generations {
		var asked []*candidate
		for _, y := range cloud.Ask() {
			asked = append(asked, place(y))
		}
		if err := s.measure(ctx, uses, s.Operator, asked, s.block(fmt.Sprint("generation ", stage), cloud.Generation), 0, told); err != nil {
			return nil, err
		}
		costs := make([]float64, len(asked))
		for i, c := range asked {
			costs[i] = s.price(c, price)
		}
		if err := cloud.Tell(costs); err != nil {
			return nil, err
		}
	}
	return place(cloud.Mean), nil
}

// byTask gives each task of a knob an acceleration of its own, with the best
// settings so far. A firmware does not know the task: it has one for all.
func (s *search) byTask(ctx context.Context, space *space, uses []scenarios.Served, found []*candidate, price float64, stage int, stream func(int) draw.Stream) (*candidate, error) {
	if err := s.measure(ctx, uses, s.Operator, found, s.block("settings", stage), 0, 4*told); err != nil {
		return nil, err
	}
	best := s.least(found, price)
	if best.profiles[0].Home == encoder.InFirmware && !best.profiles[0].Acceleration.Plain() {
		return best, nil
	}
	each := &candidate{name: "searched, by task", profiles: slices.Clone(best.profiles)}
	for i := range uses {
		n := 100*(stage+1) + i
		end, err := s.cloud(ctx, space, uses[i:i+1], best, price, n, len(space.settings), own, stream(n))
		if err != nil {
			return nil, err
		}
		if end != nil {
			each.profiles[i] = end.profiles[0]
		}
	}
	return each, nil
}

// best tells progress what leads.
func (s *search) best(k *scenarios.Knob, leader, now *candidate) {
	a, _, _ := leader.sample.sums()
	if now.failed || leader == now {
		return
	}
	b, _, _ := now.sample.sums()
	s.say(fmt.Sprintf("%s: %.2f s a dialing so far, %.2f s now", k.Name, a, b))
}
