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

// unimportant is the share of time that nobody would notice.
const unimportant = 0.005

// finals is a knob whose finalists have met fresh people.
type finals struct {
	*KnobResult
	space *space
	uses  []scenarios.Served
	all   []*candidate // now first
	beats []bool       // by more than 3 %, proven
	share float64      // of the panel's dialings
}

// knob searches the settings of a knob. When the context ends it is a matter of what
// was found until then.
func (s *search) knob(ctx context.Context, k *scenarios.Knob, number int) (*finals, error) {
	f := &finals{KnobResult: &KnobResult{Knob: k}}
	for _, u := range s.Panel.Served() {
		if u.Knob == k {
			f.uses = append(f.uses, u)
		}
	}
	var err error
	if f.space, err = newSpace(k, s.Profile); err != nil {
		return nil, err
	}
	hours, tasks := 0.0, s.Panel.Served()
	for _, u := range tasks {
		hours += u.PerHour
	}
	if hours > 0 {
		f.space.effort = min(1.5, max(0.5, math.Sqrt(f.hours()/hours*float64(len(s.Panel.Knobs)))))
	}
	if f.all, err = s.candidates(ctx, f.space, f.uses, number); err != nil && ctx.Err() == nil {
		return nil, err
	}
	s.hurry(ctx)
	ctx = context.WithoutCancel(ctx) // what an interrupted search has found still meets the fresh people
	// Where the profile of now cannot be set on this knob, the knob is plain.
	if f.all[0].failed {
		f.all[0] = one("now", scenarios.Plain(), len(f.uses))
	}
	if err := s.measure(ctx, f.uses, s.Operator, f.all, s.block("finalists", 0), 0, s.Trials); err != nil {
		return nil, err
	}
	now := f.all[0]
	if now.failed {
		_, err := trial.NewSeat(f.uses[0], scenarios.Plain(), s.Operator)
		return nil, fmt.Errorf("the settings of now cannot be tried: %w", errors.Join(err, errDead))
	}
	f.Now = now.profiles
	f.all = slices.DeleteFunc(f.all, func(c *candidate) bool { return c.failed })
	f.Finalists = len(f.all)
	return f, nil
}

// judge tests which finalists beat the settings of now by more than 3 % in what
// the aim counts, with Holm over the finalists of all knobs.
func (s *search) judge(knobs []*finals) {
	var ps []float64
	for _, f := range knobs {
		now := f.all[0]
		mean, _, _ := now.sample.Means()
		share := float64(mean * s.For.overshootCost())
		for _, c := range f.all[1:] {
			g := less(priced(c.sample, share), priced(now.sample, share), 1-Worth, s.Seed)
			if g.Mean.Value >= 0 {
				g.P = 1
			}
			ps = append(ps, g.P)
		}
	}
	ps = paired.Holm(ps)
	hours := 0.0
	for _, f := range knobs {
		hours += f.hours()
	}
	for _, f := range knobs {
		f.share = f.hours() / hours
		f.beats = make([]bool, len(f.all))
		for i, c := range f.all {
			p := 1.0
			if i > 0 {
				p, ps = ps[0], ps[1:]
			}
			f.beats[i] = p < 1-paired.Level
			f.Front = append(f.Front, Finalist{Name: c.name, Profiles: c.profiles, Score: c.sample.Score(), P: p})
		}
		f.Front = front(f.Front)
	}
}

// combination is a candidate for each of the first knobs of a panel, and what they
// come to, summed over dialings an hour.
type combination struct {
	chosen                []int
	cost, overshoot, lost float64
	variance              float64 // of overshoot
}

// widest is how many combinations are kept from knob to knob.
const widest = 200

// choose takes a candidate for each knob, so that the panel as a whole is within
// the caps and the aim is met best: settings of now and those proven to beat them
// where that is possible, any finalist where it is not, the nearest to the caps
// where nothing is within them. The cap on overshoot must hold by as much as the
// estimate may flatter; whoever fails that alone is measured four times as long.
func (s *search) choose(ctx context.Context, knobs []*finals) ([]*candidate, error) {
	hopeful, careful := s.combine(knobs, -1), s.combine(knobs, 1)
	more := false
	for i, f := range knobs {
		if hopeful[i] != careful[i] && hopeful[i] != 0 && !s.hurried {
			if err := s.measure(ctx, f.uses, s.Operator, f.all[hopeful[i]:hopeful[i]+1], s.block("finalists", 0), s.Trials, 4*s.Trials); err != nil {
				return nil, err
			}
			more = true
		}
	}
	if more {
		careful = s.combine(knobs, 1)
	}
	chosen := make([]*candidate, len(knobs))
	for i, n := range careful {
		chosen[i] = knobs[i].all[n]
	}
	return chosen, nil
}

// hours is how often the knob is dialed in an hour.
func (f *finals) hours() (sum float64) {
	for _, u := range f.uses {
		sum += u.PerHour
	}
	return sum
}

// room is the share of the cap on overshoot that a choice may use up. What it leaves
// the polish spends, on what saves most time for it.
func (s *search) room() float64 {
	if s.MaxOvershoot >= 1 {
		return 1
	}
	return 0.75
}

// combine chooses with so many standard errors to spare of the cap on overshoot.
func (s *search) combine(knobs []*finals, errors float64) []int {
	hours := 0.0
	for _, f := range knobs {
		hours += f.hours()
	}
	beyond := func(c combination) float64 {
		spare := float64(errors * math.Sqrt(c.variance))
		if !slices.ContainsFunc(c.chosen, func(i int) bool { return i != 0 }) {
			spare = 0 // the settings of now were not picked for their luck
		}
		return math.Max(0, c.overshoot+spare-hours*s.MaxOvershoot*s.room()) + math.Max(0, c.lost-hours*s.MaxLost)
	}
	var best *combination
	for _, proven := range []bool{true, false} {
		list := []combination{{}}
		for _, f := range knobs {
			list = s.join(list, f, proven)
		}
		for i, c := range list {
			if best == nil || beyond(c) < beyond(*best) || beyond(c) == beyond(*best) && c.cost < best.cost {
				best = &list[i]
			}
		}
		if beyond(*best) == 0 {
			break
		}
	}
	return best.chosen
}

// join gives combinations one more knob, and keeps those that no other one beats
// in everything.
func (s *search) join(list []combination, f *finals, proven bool) []combination {
	hours := f.hours()
	var all []combination
	for _, l := range list {
		for i, c := range f.all {
			if proven && i > 0 && !f.beats[i] {
				continue
			}
			seconds, overshoot, lost := c.sample.Means()
			all = append(all, combination{
				append(slices.Clone(l.chosen), i),
				l.cost + float64(hours*seconds*(1+float64(s.For.overshootCost()*overshoot))),
				l.overshoot + float64(hours*overshoot), l.lost + float64(hours*lost),
				l.variance + float64(hours*hours*overshootVariance(c.sample)),
			})
		}
	}
	slices.SortStableFunc(all, func(a, b combination) int { return cmp.Compare(a.cost, b.cost) })
	var kept []combination
	for _, c := range all {
		if !slices.ContainsFunc(kept, func(k combination) bool { return k.overshoot <= c.overshoot && k.lost <= c.lost }) {
			kept = append(kept, c)
		}
	}
	if n := len(kept); n > widest {
		few := make([]combination, widest)
		for i := range few {
			few[i] = kept[i*(n-1)/(widest-1)]
		}
		kept = few
	}
	return kept
}

// prove puts back what does not pay, and measures the choice and the settings of
// now on people that no choice has seen.
func (s *search) prove(ctx context.Context, f *finals, chosen *candidate) error {
	now := f.all[0]
	if chosen != now {
		var err error
		if chosen, err = s.putBack(ctx, f, chosen); err != nil {
			return err
		}
	}
	f.Chosen, f.Changed = chosen.profiles, len(f.space.differences(now.profiles, chosen.profiles)) > 0
	proof := s.block("proof", 0)
	before, after := &candidate{profiles: now.profiles}, &candidate{profiles: chosen.profiles}
	if err := s.measure(ctx, f.uses, s.Operator, []*candidate{before, after}, proof, 0, s.Trials); err != nil {
		return err
	}
	f.Before, f.After = before.sample, after.sample
	if err := s.changes(ctx, f, proof); err != nil {
		return err
	}
	return s.sensitivity(ctx, f, proof)
}

// front keeps the finalists that no other one beats in time and overshoot at once,
// the quickest first.
func front(all []Finalist) []Finalist {
	slices.SortStableFunc(all, func(a, b Finalist) int {
		switch x, y := a.Seconds.Value, b.Seconds.Value; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	var kept []Finalist
	for _, f := range all {
		if len(kept) == 0 || f.Overshoot < kept[len(kept)-1].Overshoot {
			kept = append(kept, f)
		}
	}
	return kept
}

// difference is one thing in which two sets of profiles differ.
type difference struct {
	what    string
	setting scenarios.Setting
	apply   func(p *scenarios.Profile, i int) // makes the i-th task's profile of now that of the choice in this thing
}

// differences lists what was changed: each key, and the acceleration as a whole.
func (s *space) differences(now, chosen []*scenarios.Profile) []difference {
	var list []difference
	value := func(p *scenarios.Profile, key string) string {
		for _, x := range p.Settings {
			if x.Key == key {
				return x.Value
			}
		}
		return scenarios.Get(&s.knob.Inner.Rig, key)
	}
	var keys []string
	for _, p := range []*scenarios.Profile{now[0], chosen[0]} {
		for _, x := range p.Settings {
			if !slices.Contains(keys, x.Key) {
				keys = append(keys, x.Key)
			}
		}
	}
	for _, key := range keys {
		if v := value(chosen[0], key); v != value(now[0], key) && v != "" {
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

// with sets one more key. What the rig then does not use is left out.
func (s *space) with(settings []scenarios.Setting, set scenarios.Setting) []scenarios.Setting {
	list := slices.DeleteFunc(slices.Clone(settings), func(x scenarios.Setting) bool { return x.Key == set.Key })
	probe := *s
	probe.now = &scenarios.Profile{}
	return probe.usable(append(list, set))
}

func copies(profiles []*scenarios.Profile) []*scenarios.Profile {
	list := make([]*scenarios.Profile, len(profiles))
	for i, p := range profiles {
		c := *p
		c.Settings = slices.Clone(p.Settings)
		list[i] = &c
	}
	return list
}

// putBack takes away, one after the other, the changes without which the choice is
// as good.
func (s *search) putBack(ctx context.Context, f *finals, chosen *candidate) (*candidate, error) {
	price := goal{overshoot: s.For.overshootCost(), most: 1}
	block := s.block("put back", 0)
	chosen = &candidate{name: chosen.name, profiles: chosen.profiles}
	if err := s.measure(ctx, f.uses, s.Operator, []*candidate{chosen}, block, 0, s.Trials); err != nil {
		return nil, err
	}
	for _, d := range f.space.differences(chosen.profiles, f.Now) {
		without := &candidate{name: chosen.name, profiles: copies(chosen.profiles)}
		for i, p := range without.profiles {
			d.apply(p, i)
		}
		if err := s.measure(ctx, f.uses, s.Operator, []*candidate{without}, block, 0, s.Trials); err != nil {
			return nil, err
		}
		if without.failed {
			continue
		}
		_, o, l := chosen.sample.Means()
		_, oWithout, lWithout := without.sample.Means()
		if s.price(without, price) <= s.price(chosen, price)*(1+unimportant) && oWithout <= o+unimportant && lWithout <= l {
			chosen = without
			what := d.setting.Key
			if what == "" {
				what = d.what
			}
			f.Unimportant = append(f.Unimportant, what)
		}
	}
	return chosen, nil
}

// changes measures each change by itself.
func (s *search) changes(ctx context.Context, r *finals, proof uint64) error {
	var all []*candidate
	list := r.space.differences(r.Now, r.Chosen)
	for _, d := range list {
		c := &candidate{profiles: copies(r.Now)}
		for i, p := range c.profiles {
			d.apply(p, i)
		}
		all = append(all, c)
	}
	if err := s.measure(ctx, r.uses, s.Operator, all, proof, 0, s.Trials); err != nil {
		return err
	}
	for i, c := range all {
		if !c.failed {
			r.Changes = append(r.Changes, Change{list[i].what, list[i].setting, less(c.sample, r.Before, 1, s.Seed), c.sample.Score()})
		}
	}
	slices.SortStableFunc(r.Changes, func(a, b Change) int {
		switch x, y := a.Gain.Mean.Value, b.Gain.Mean.Value; {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return nil
}

// sensitivity measures the values next to the chosen ones.
func (s *search) sensitivity(ctx context.Context, r *finals, proof uint64) error {
	space := r.space
	var all []*candidate
	add := func(key, value string, change func(p *scenarios.Profile)) {
		c := &candidate{profiles: copies(r.Chosen)}
		for _, p := range c.profiles {
			change(p)
		}
		all = append(all, c)
		r.Sensitivity = append(r.Sensitivity, Neighbor{Key: key, Value: value})
	}
	rig, err := scenarios.Apply(r.Chosen[0], space.knob.Inner.Rig)
	if err != nil {
		return err
	}
	used := scenarios.Keys(&rig)
	for _, g := range space.settings {
		k := slices.Index(g.choices, scenarios.Get(&rig, g.key))
		if !slices.Contains(used, g.key) {
			continue
		}
		for n, v := range g.choices {
			if n != k && (g.words || k < 0 || n == k-1 || n == k+1) {
				set := scenarios.Setting{Key: g.key, Value: v}
				add(g.key, v, func(p *scenarios.Profile) { p.Settings = space.with(p.Settings, set) })
			}
		}
	}
	if slices.ContainsFunc(r.Chosen, func(p *scenarios.Profile) bool { return !p.Acceleration.Plain() }) {
		for _, f := range []float64{0.75, 1.33} {
			add("gain", fmt.Sprintf("%.0f %%", 100*f), func(p *scenarios.Profile) {
				p.Acceleration.Curve = scaled(p.Acceleration.Curve, f)
			})
		}
	}
	if err := s.measure(ctx, r.uses, s.Operator, all, proof, 0, s.Trials); err != nil {
		return err
	}
	kept := r.Sensitivity[:0]
	for i, c := range all {
		if !c.failed {
			n := r.Sensitivity[i]
			n.Gain, n.Score = less(c.sample, r.After, 1, s.Seed), c.sample.Score()
			kept = append(kept, n)
		}
	}
	r.Sensitivity = kept
	return nil
}

// robust lets other people use the recommendation, and changes what nobody sets.
func (s *search) robust(ctx context.Context, r *Result) error {
	if !slices.ContainsFunc(r.Knobs, func(k *KnobResult) bool { return k.Changed }) {
		return nil
	}
	frames := func(by float64) func(*encoder.Rig) {
		return func(x *encoder.Rig) { x.Program.Frames = encoder.PerSecond(float64(x.Program.Frames) * by) }
	}
	people := scenarios.Operators()
	for _, v := range []struct {
		name     string
		operator *scenarios.Operator
		change   func(*encoder.Rig)
	}{
		{people[0].Name, &people[0], nil},
		{people[2].Name, &people[2], nil},
		{"30 % fewer frames", s.Operator, frames(0.7)},
		{"30 % more frames", s.Operator, frames(1.3)},
		{"twice the display lag", s.Operator, func(x *encoder.Rig) { x.Display.Latency *= 2 }},
	} {
		var before, after sample.Panel
		for _, k := range r.Knobs {
			knob := *k.Knob
			for _, ring := range []**scenarios.Rig{&knob.Inner, &knob.Outer} {
				if *ring != nil && v.change != nil {
					rig := **ring
					v.change(&rig.Rig)
					*ring = &rig
				}
			}
			var uses []scenarios.Served
			for _, t := range k.Before {
				u := t.Use
				u.Knob = &knob
				uses = append(uses, u)
			}
			a, b := &candidate{profiles: k.Now}, &candidate{profiles: k.Chosen}
			if err := s.measure(ctx, uses, v.operator, []*candidate{a, b}, s.block("variants", 0), 0, s.Trials); err != nil {
				return err
			}
			if a.failed || b.failed {
				return fmt.Errorf("knob %s: cannot be tried with %s", scenarios.Shown(k.Knob.Name), v.name)
			}
			before, after = append(before, a.sample...), append(after, b.sample...)
		}
		gain := less(after, before, 1, s.Seed)
		r.Robust = append(r.Robust, Variant{v.name, before.Score(), after.Score(), gain})
		if r.Gain.Mean.High < 0 && gain.Mean.High >= 0 {
			r.OnlyHere = true
		}
	}
	return nil
}
