package tune

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// unnoticedShare is the share of time that nobody would notice.
const unnoticedShare = 0.005

// proofTimes is how many times as many fresh dialings say whether a cap holds.
const proofTimes = 4

// samples are the first trials of a point, every use with every rig and person.
func (p *pool) samples(x point, trials int) (list sample.Panel) {
	for _, t := range p.of(x) {
		for _, s := range t.sample {
			first := *s
			sample.Cut(trials, &first)
			list = append(list, &first)
		}
	}
	return list
}

// settle keeps the settings of now unless a point is proven to beat them by more than
// [Worth], or they are beyond a limit that it keeps; and puts back what does not pay.
func (f *field) settle(ctx context.Context, x point) (point, []string, error) {
	all := x.all()
	if err := f.measurePoints(ctx, choiceTrials, all, x); err != nil {
		return x, nil, err
	}
	if f.gaveUp(x) != nil || slices.Equal(x, f.board.now) || !f.beyond(x) && f.less(x, 1-Worth).Mean.High >= 0 {
		return f.board.now, nil, nil
	}
	var put []string
	keep := func(what string, y point) error {
		if err := f.measurePoints(ctx, choiceTrials, all, y); err != nil {
			return err
		}
		if f.cost(y, all) <= (1+unnoticedShare)*f.cost(x, all) {
			x = y
			put = append(put, what)
		}
		return nil
	}
	if !f.board.space.always {
		for _, g := range f.board.groups(x[0].Home) {
			if x[g[0]].Acceleration.Plain() || f.board.now[g[0]].Acceleration.Plain() && len(g) == len(all) {
				continue // below
			}
			// A curve that never acts is none.
			y := x.change(g, func(p *scenarios.Profile) { p.Acceleration.Curve = nil })
			if err := keep("the acceleration for "+f.board.uses[g[0]].Task.Name, y); err != nil {
				return x, put, err
			}
		}
	}
	for _, d := range f.board.space.differences(x, f.board.now) {
		y := x.change(all, func(*scenarios.Profile) {})
		for i, p := range y {
			d.apply(p, i)
		}
		what := d.setting.Key
		if what == "" {
			what = d.what
		}
		if err := keep(what, y); err != nil {
			return x, put, err
		}
	}
	return x, put, nil
}

// beyond says whether the settings of now are beyond a limit and shown to be farther from
// it than a point, which is also nearer the two caps in sum: where no try keeps them, a
// little less lost is not worth many more overshoots.
func (f *field) beyond(x point) bool {
	for i, t := range f.of(f.board.now) {
		now, then := f.first(t, choiceTrials), f.first(f.try(i, x[i]), choiceTrials)
		further := now.overshoot-then.overshoot > float64(1.64*noise(now.overshoot, choiceTrials))
		if (now.overshoot > f.most[i] && further || now.lost > f.lost[i]+calmWithin/2 && now.lost > then.lost) && f.excess(then) < f.excess(now) {
			return true
		}
	}
	return false
}

// excess is how far a use is beyond the caps that each use has, shares.
func (f *field) excess(x score) float64 {
	if f.Caps == Whole {
		x.overshoot = 0
	}
	return billionths(f.overCaps(x))
}

// less is what a point takes less a share of what the settings of now take, in what
// the aim counts.
func (f *field) less(x point, share float64) paired.Average {
	now := f.samples(f.board.now, choiceTrials)
	mean, _, _ := now.Means()
	counts := float64(mean * f.For.overshootCost())
	return less(priced(f.samples(x, choiceTrials), counts), priced(now, counts), share, f.Seed)
}

// priced returns trials whose times have what the aim counts for an overshoot in
// them, which is a share of some mean time.
func priced(s sample.Panel, share float64) sample.Panel {
	list := make(sample.Panel, len(s))
	for i, t := range s {
		c := &sample.Trials{Use: t.Use, Limit: t.Limit + share, Seconds: t.Capped()}
		for n, past := range t.Past {
			if past > 0 {
				c.Seconds[n] += share
			}
		}
		list[i] = c
	}
	return list
}

// difference is one thing in which two sets of profiles differ.
type difference struct {
	what    string
	setting scenarios.Setting
	apply   func(p *scenarios.Profile, i int) // makes the i-th use's profile of now that of the choice in this thing
}

// differences lists what was changed: each key, and the acceleration as a whole.
func (s *space) differences(now, chosen point) []difference {
	var list []difference
	var keys []string
	for _, p := range []*scenarios.Profile{now[0], chosen[0]} {
		for _, x := range p.Settings {
			if !slices.Contains(keys, x.Key) {
				keys = append(keys, x.Key)
			}
		}
	}
	for _, key := range keys {
		if v := s.value(chosen[0].Settings, key); v != s.value(now[0].Settings, key) && v != "" {
			set := scenarios.Setting{Key: key, Value: v}
			list = append(list, difference{key + " " + v, set, func(p *scenarios.Profile, _ int) { p.Settings = s.with(p.Settings, set) }})
		}
	}
	for i := range chosen {
		a, b := now[i], chosen[i]
		if a.Home != b.Home || a.PressCoarse != b.PressCoarse || !reflect.DeepEqual(a.Acceleration, b.Acceleration) {
			list = append(list, difference{"the acceleration", scenarios.Setting{}, func(p *scenarios.Profile, i int) {
				p.Home, p.Acceleration, p.PressCoarse = chosen[i].Home, chosen[i].Acceleration, chosen[i].PressCoarse
			}})
			break
		}
	}
	return list
}

// prove measures the choice and the settings of now on people that no choice has seen:
// those that other studies meet under the seed. It returns what was found for each of
// the board's knobs, with every rig and person.
func (f *field) prove(ctx context.Context, x point, put []string) (list []*KnobResult, err error) {
	b, all := f.board, x.all()
	proof := f.search.pool(b, "")
	proof.block = f.Seed
	if err := proof.measurePoints(ctx, f.Trials, all, b.now, x); err != nil {
		return nil, err
	}
	if err := errors.Join(proof.gaveUp(b.now), proof.gaveUp(x)); err != nil {
		return nil, err
	}
	before, after := proof.panels(b.now), proof.panels(x)
	var changed []point
	differences := b.space.differences(b.now, x)
	for _, d := range differences {
		y := b.now.change(all, func(*scenarios.Profile) {})
		for i, p := range y {
			d.apply(p, i)
		}
		changed = append(changed, y)
	}
	left := make([]point, len(differences)) // as it is now, all else as chosen
	for _, d := range b.space.differences(x, b.now) {
		y := x.change(all, func(*scenarios.Profile) {})
		for i, p := range y {
			d.apply(p, i)
		}
		for n, o := range differences {
			if o.setting.Key == d.setting.Key {
				left[n] = y
			}
		}
	}
	for _, y := range left {
		if y != nil {
			changed = append(changed, y)
		}
	}
	if err := proof.measurePoints(ctx, f.Trials, all, changed...); err != nil {
		return nil, err
	}
	of := func(y point) []sample.Panel {
		if y == nil || slices.ContainsFunc(proof.of(y), func(t *try) bool { return t.err != nil }) {
			return nil
		}
		return proof.panels(y)
	}
	is := proven{before: before, after: after, differences: differences, put: put}
	for n := range differences {
		is.alone, is.without = append(is.alone, of(changed[n])), append(is.without, of(left[n]))
	}
	if err := errors.Join(proof.measurePoints(ctx, proofTimes*f.Trials, all, x), proof.gaveUp(x)); err != nil {
		return nil, err
	}
	is.claims = f.claims(proof, x)
	if is.around, err = f.beside(ctx, x); err != nil {
		return nil, err
	}
	return f.results(x, is), nil
}

// proven is what fresh people say of a choice, by use and combination.
type proven struct {
	before, after  []sample.Panel
	claims         []Claim
	differences    []difference
	alone, without [][]sample.Panel // each difference by itself, and the choice without it
	around         []next
	put            []string // keys that were put back
}

// results are what was found for each of the board's knobs, with every rig and person.
func (f *field) results(x point, is proven) (list []*KnobResult) {
	b := f.board
	for c, combination := range f.combinations() {
		for _, number := range b.knobs {
			uses := slices.DeleteFunc(x.all(), func(i int) bool { return b.uses[i].knob != number })
			if len(uses) == 0 {
				continue
			}
			k := &KnobResult{Knob: b.uses[uses[0]].spots[c].Knob, Number: number, Combination: combination.Name, Unimportant: is.put, Finalists: len(f.order)}
			k.Changed = len(b.space.differences(b.now, x)) > 0 || b.instead != nil
			pick := func(from []sample.Panel) (list sample.Panel) {
				for _, i := range uses {
					list = append(list, from[i][c])
				}
				return list
			}
			for _, i := range uses {
				k.Now, k.Chosen = append(k.Now, b.now[i]), append(k.Chosen, x[i])
				k.Claims, k.Levels = append(k.Claims, is.claims[i]), append(k.Levels, f.levels(i))
			}
			k.Before, k.After = pick(is.before), pick(is.after)
			for n, d := range is.differences {
				if is.alone[n] == nil {
					continue
				}
				with := pick(is.alone[n])
				c := Change{What: d.what, Setting: d.setting, Gain: less(with, k.Before, 1, f.Seed), Score: with.Score()}
				if c.Needed = is.without[n] == nil; !c.Needed {
					left := pick(is.without[n])
					c.Left, c.ForCaps = less(left, k.After, 1, f.Seed), f.breaks(uses, left, k.After)
				}
				k.Changes = append(k.Changes, c)
			}
			slices.SortStableFunc(k.Changes, func(a, b Change) int { return cmp.Compare(a.Gain.Mean.Value, b.Gain.Mean.Value) })
			if c == 0 {
				k.Front = f.front(uses)
				for _, n := range is.around {
					if y, ok := f.neighbor(n, x, uses); ok {
						k.Sensitivity = append(k.Sensitivity, y)
					}
				}
			}
			list = append(list, k)
		}
	}
	return list
}

// breaks says whether some trials of uses are beyond a limit and farther from it than
// others.
func (f *field) breaks(uses []int, some, others sample.Panel) bool {
	for n, i := range uses {
		_, past, lost := some[n : n+1].Means()
		_, past0, lost0 := others[n : n+1].Means()
		if past > f.most[i] && past-past0 > float64(1.64*noise(past, some[n].Len())) || lost > f.lost[i]+calmWithin/2 && lost > lost0 {
			return true
		}
	}
	return false
}

// panels are a point's trials, by use and combination, as far as they have been done.
func (p *pool) panels(x point) (list []sample.Panel) {
	for _, t := range p.of(x) {
		var panel sample.Panel
		for _, s := range t.sample {
			if s == nil {
				return nil
			}
			done := *s // more trials may follow
			panel = append(panel, &done)
		}
		list = append(list, panel)
	}
	return list
}

// next is a neighbour of the choice.
type next struct {
	key, value string
	x          point
}

// beside are the choice's neighbours, measured among the finalists' people.
func (f *field) beside(ctx context.Context, x point) (list []next, err error) {
	s := f.board.space
	for _, set := range s.neighbors(x[0].Settings, 1000) {
		for _, k := range s.keys {
			one := s.with(x[0].Settings, scenarios.Setting{Key: k.name, Value: s.value(set, k.name)})
			if s.value(set, k.name) != s.value(x[0].Settings, k.name) && slices.Equal(one, set) {
				list = append(list, next{k.name, s.value(set, k.name), x.set(set)})
			}
		}
	}
	if len(s.curves) > 0 && slices.ContainsFunc(x, func(p *scenarios.Profile) bool { return !p.Acceleration.Plain() }) {
		for _, by := range []float64{1 / 1.2, 1.2} {
			list = append(list, next{"gain", fmt.Sprintf("%.0f %%", 100*by), x.change(x.all(), func(p *scenarios.Profile) {
				p.Acceleration.Curve = neater(scaled(p.Acceleration.Curve, by))
			})})
		}
	}
	for _, n := range list {
		if err := f.measurePoints(ctx, lookTrials, x.all(), n.x); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// neighbor is what a neighbour comes to against the choice, for some uses.
func (f *field) neighbor(n next, x point, uses []int) (Neighbor, bool) {
	var a, b sample.Panel
	for _, i := range uses {
		t, o := f.try(i, n.x[i]), f.try(i, x[i])
		if t.trials() == 0 || o.trials() == 0 {
			return Neighbor{}, false
		}
		for c := range t.sample {
			p, q := *t.sample[c], *o.sample[c]
			sample.Cut(min(t.trials(), o.trials()), &p, &q)
			a, b = append(a, &p), append(b, &q)
		}
	}
	return Neighbor{n.key, n.value, less(a, b, 1, f.Seed), a.Score()}, true
}

// front is what can be had for some uses at ever higher prices of an overshoot, the
// quickest first; nothing that was tried is better in both.
func (f *field) front(uses []int) (list []Finalist) {
	for _, price := range []float64{0, 0.2, 0.5, 1, 2, 4, 8, 16, 1000} {
		by, measured := *f, *f.pool
		measured.search = &search{Study: &Study{For: Speed}}
		by.pool = &measured
		by.most, by.lost = make([]float64, len(f.most)), f.lost
		for i, t := range f.of(f.board.now) {
			by.most[i] = 1
			by.price = price * f.score(t).seconds
		}
		least, best := math.Inf(1), point(nil)
		for _, with := range f.settings(uses[0]) {
			x := slices.Clone(f.board.now)
			sum := 0.0
			for _, g := range f.board.groups(with.Home) {
				if !slices.Contains(uses, g[0]) {
					continue
				}
				found := f.under(with, g)
				if len(found) == 0 {
					sum = math.Inf(1)
					break
				}
				from := slices.MinFunc(found, func(a, b point) int { return cmp.Compare(by.cost(a, g), by.cost(b, g)) })
				sum += by.cost(from, g)
				for _, i := range g {
					x[i] = from[i]
				}
			}
			if sum < least {
				least, best = sum, x
			}
		}
		if best == nil {
			continue
		}
		var panel sample.Panel
		var profiles []*scenarios.Profile
		for _, i := range uses {
			panel = append(panel, f.try(i, best[i]).sample...)
			profiles = append(profiles, best[i])
		}
		list = append(list, Finalist{Name: "searched", Profiles: profiles, Score: panel.Score()})
	}
	slices.SortStableFunc(list, func(a, b Finalist) int { return cmp.Compare(a.Seconds.Value, b.Seconds.Value) })
	var kept []Finalist
	for _, x := range list {
		if len(kept) == 0 || x.Overshoot < kept[len(kept)-1].Overshoot {
			kept = append(kept, x)
		}
	}
	return kept
}

// robust lets other people use the recommendation, and changes what nobody sets.
func (s *search) robust(ctx context.Context, r *Result, boards []*board, chosen []point) error {
	if !r.Changed() || len(s.Combinations) > 0 {
		return nil
	}
	frames := func(by float64) func(*encoder.Rig) {
		return func(x *encoder.Rig) { x.Program.Frames = encoder.PerSecond(float64(x.Program.Frames) * by) }
	}
	people := scenarios.Operators()
	others := []other{
		{people[0].Name, &people[0], nil},
		{people[2].Name, &people[2], nil},
		{"30 % fewer frames", s.Operator, frames(0.7)},
		{"30 % more frames", s.Operator, frames(1.3)},
		{"twice the display lag", s.Operator, func(x *encoder.Rig) { x.Display.Latency *= 2 }},
	}
	variants, failed := make([]Variant, len(others)), make([]error, len(others))
	err := trial.Each(ctx, max(1, s.Workers), len(others), func(i int) {
		variants[i], failed[i] = s.variant(ctx, others[i], boards, chosen)
	})
	for i, v := range variants {
		if failed[i] != nil || v.Name == "" { // interrupted
			continue
		}
		r.Robust = append(r.Robust, v)
		if r.Gain.Mean.High < 0 && (v.Cannot != nil || v.Gain.Mean.High >= 0) {
			r.OnlyHere = true
		}
	}
	return cmp.Or(err, cmp.Or(failed...))
}

// other is other people, or what nobody sets otherwise.
type other struct {
	name     string
	operator *scenarios.Operator
	change   func(*encoder.Rig) // nil: nothing
}

// variant lets the recommendation be used otherwise.
func (s *search) variant(ctx context.Context, v other, boards []*board, chosen []point) (Variant, error) {
	var before, after sample.Panel
	for n, b := range boards {
		with := *b
		with.uses, with.seats = slices.Clone(b.uses), nil
		for i, u := range with.uses {
			knob := *u.Knob
			for _, ring := range []**scenarios.Rig{&knob.Inner, &knob.Outer} {
				if *ring != nil && v.change != nil {
					rig := **ring
					v.change(&rig.Rig)
					*ring = &rig
				}
			}
			u.Knob = &knob
			with.uses[i].spots = []spot{{u.Served, v.operator}}
		}
		p := s.pool(&with, "variants")
		if err := p.measurePoints(ctx, s.Trials, b.now.all(), b.now, chosen[n]); err != nil {
			return Variant{}, err
		}
		if err := errors.Join(p.gaveUp(b.now), p.gaveUp(chosen[n])); err != nil {
			return Variant{Name: v.name, Cannot: err}, nil
		}
		before, after = append(before, p.samples(b.now, s.Trials)...), append(after, p.samples(chosen[n], s.Trials)...)
	}
	return Variant{v.name, nil, before.Score(), after.Score(), less(after, before, 1, s.Seed)}, nil
}
