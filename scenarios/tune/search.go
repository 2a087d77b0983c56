package tune

import (
	"context"
	"fmt"
	"reflect"
	"slices"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/tune/cma"
)

// The budget of a search, per knob, at an effort of 1.
const (
	trying = 4  // generations before the better one goes on
	other  = 3  // generations after a change of words
	own    = 4  // generations for a task's own acceleration
	lambda = 10 // candidates in a generation
	told   = 64 // trials a task in a generation
)

// plan is about how many trials a knob with some tasks takes, for progress.
func (s *search) plan(k *scenarios.Knob) int64 {
	goals, tasks := int64(len(s.goals())), int64(len(k.Tasks))
	n := screened*heat*3 + goals*3*(trying+other)*lambda*told + polishing*10*polished + 30*int64(s.Trials)
	if tasks > 1 {
		n += goals * own * lambda * told * 3 / 2
	}
	return tasks * n
}

// candidates finds what is worth meeting fresh people: the race's best and where
// the clouds ended, behind the settings of now and all built-in profiles, also with
// pulses that are never missed. Those
// stay out of the race: no cloud could start from them. When the context ends, what was
// found so far comes with its error.
func (s *search) candidates(ctx context.Context, space *space, uses []scenarios.Served, number int) ([]*candidate, error) {
	now := one("now", space.now, len(uses))
	found := []*candidate{now}
	for _, p := range scenarios.Profiles() {
		with := p
		with.Settings = space.under(p.Settings, space.now.Settings)
		found = append(found, one(p.Name, &with, len(uses)))
	}
	long := space.long()
	for _, p := range scenarios.Profiles() {
		if with := p; len(with.Settings) == 0 {
			with.Settings = long
			found = append(found, one(p.Name+", no pulse missed", &with, len(uses)))
		}
	}
	source := draw.NewTrial(s.Seed, "tune", number)
	add := func(more []*candidate) {
		for _, e := range more {
			if !slices.ContainsFunc(found, func(c *candidate) bool { return reflect.DeepEqual(c.profiles, e.profiles) }) {
				found = append(found, e)
			}
		}
	}
	all, err := s.race(ctx, space, uses, now, source.Stream(draw.Search))
	if err != nil {
		return found, err
	}
	for i, g := range s.goals() {
		ends, err := s.clouds(ctx, &leg{space: space, uses: uses, goal: g, number: 1000 * i, stream: func(n int) draw.Stream { return source.Stream(draw.Search + 1 + draw.Purpose(n)) }}, all)
		if err != nil {
			if len(all) > 0 {
				add([]*candidate{s.least(all, g)})
			}
			return found, err
		}
		add(ends)
	}
	return found, nil
}

// leg is the search for one goal.
type leg struct {
	space  *space
	uses   []scenarios.Served
	goal   goal
	number int // of its first cloud
	stream func(cloud int) draw.Stream
}

// clouds starts clouds at the best of the race and goes on with the best. Then every other word is tried, and each task gets an
// acceleration of its own.
func (s *search) clouds(ctx context.Context, l *leg, all []*candidate) ([]*candidate, error) {
	var ends []*candidate
	var clouds []*cloud
	for i, c := range s.begin(l.space, all, l.goal) {
		cloud, err := l.cloud(l.uses, c, i, 0)
		if err != nil {
			return nil, err
		}
		ends = append(ends, c)
		if cloud == nil {
			continue
		}
		if err := s.move(ctx, cloud, trying); err != nil {
			return nil, err
		}
		clouds = append(clouds, cloud)
		ends = append(ends, cloud.mean())
	}
	if len(ends) == 0 {
		return nil, nil
	}
	block := s.block("words", l.number)
	if err := s.measure(ctx, l.uses, s.Operator, ends, block, 0, s.scaled(2*told, l.space)); err != nil {
		return nil, err
	}
	best := s.least(ends, l.goal)
	if i := slices.IndexFunc(clouds, func(c *cloud) bool { return l.space.sameWords(c.from.at, best.at) }); i >= 0 {
		if err := s.move(ctx, clouds[i], l.goal.more); err != nil {
			return nil, err
		}
		best = clouds[i].mean()
		ends = append(ends, best)
	}
	tried := []*candidate{best}
	for i := range best.at {
		if !l.space.words(i) {
			continue
		}
		n := l.space.count(i)
		for k := range n {
			if k == pick(best.at[i], n) {
				continue
			}
			x := slices.Clone(best.at)
			x[i] = (float64(k) + 0.5) / float64(n)
			tried = append(tried, l.space.candidate(x, len(l.uses)))
		}
	}
	if err := s.measure(ctx, l.uses, s.Operator, tried, block, 0, s.scaled(2*told, l.space)); err != nil {
		return nil, err
	}
	if word := s.least(tried, l.goal); word != best {
		ends = append(ends, word)
		cloud, err := l.cloud(l.uses, word, 50, 0)
		if err != nil {
			return nil, err
		}
		if cloud != nil {
			if err := s.move(ctx, cloud, other); err != nil {
				return nil, err
			}
			ends = append(ends, cloud.mean())
		}
	}
	ends = append(ends, undominated(tried, ends)...)
	if len(l.uses) > 1 && len(l.space.curves) > 0 {
		each, err := s.byTask(ctx, l, ends)
		if err != nil {
			return nil, err
		}
		ends = append(ends, each)
	}
	return ends, nil
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

// undominated returns the candidates, other than some, that no other one beats in
// time, overshoot and lost detents at once.
func undominated(all, but []*candidate) []*candidate {
	type sums struct{ t, o, l float64 }
	of := func(c *candidate) (x sums) {
		x.t, x.o, x.l = c.sample.Means()
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

// outlast gives pulses and gaps the least length that polls and frames cannot miss:
// a poll shows a level for whole polls, one fewer than it touches, and a frame sees
// what outlasts the longest time between two frames.
func (s *space) outlast(x []float64) {
	r := &s.knob.Inner.Rig
	least := r.USB.Poll
	if r.Program.Sampling == encoder.State {
		frame := r.Program.Frames.Period()
		for _, f := range r.Program.FrameList {
			frame = max(frame, f)
		}
		least += frame + time.Duration(float64(frame)*2*r.Program.Jitter)
	}
	for i, g := range s.settings {
		if g.key != "firmware.pulse" && g.key != "firmware.gap" {
			continue
		}
		k := slices.IndexFunc(g.choices, func(c string) bool {
			t, _ := scenarios.Number(g.key, c)
			return t >= float64(least)
		})
		if k < 0 {
			k = len(g.choices) - 1
		}
		x[i] = (float64(k) + 0.5) / float64(len(g.choices))
	}
}

// usual are points that people would begin with: gains of 3 and 10 at a brisk rate,
// with the settings of now, with pulses that no poll and no frame misses, and with more
// room to wait for those.
func (s *space) usual() (list [][]float64) {
	base := slices.Repeat([]float64{0.5}, s.size())
	s.settle(base)
	long := slices.Clone(base)
	s.outlast(long)
	patient := slices.Clone(long)
	s.patient(patient)
	for _, settings := range [][]float64{base, long, patient} {
		for home := range s.homes {
			for curve := range s.kinds() {
				for _, gain := range []float64{0.12, 0.47} {
					x := slices.Clone(settings)
					a := x[len(s.settings):]
					a[atHome], a[atCurve] = (float64(home)+0.5)/float64(len(s.homes)), (float64(curve)+0.5)/float64(s.kinds())
					a[atRate], a[atGain], a[atBend] = 0.6, gain, 0.5
					if list = append(list, x); curve == len(s.curves) {
						break // none has no gain
					}
				}
			}
		}
	}
	return list
}

// long are settings with pulses that are never missed and have room to wait.
func (s *space) long() []scenarios.Setting {
	x := slices.Repeat([]float64{0.5}, s.size())
	s.settle(x)
	s.outlast(x)
	s.patient(x)
	return s.profile(x).Settings
}

// patient takes the next larger queue: longer pulses wait longer.
func (s *space) patient(x []float64) {
	for i, g := range s.settings {
		if g.key == "firmware.queue" {
			x[i] = (float64(min(len(g.choices)-1, pick(x[i], len(g.choices))+1)) + 0.5) / float64(len(g.choices))
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
		return s.kinds()
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
			n := pick(x[len(s.settings)+atCurve], s.kinds())
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

// cloud moves the numbers of a candidate by CMA-ES, its words kept.
type cloud struct {
	*cma.Search
	leg    *leg
	uses   []scenarios.Served
	from   *candidate
	moving []int
	number int
}

// cloud begins one at a candidate. Only the coordinates from the first on move; nil
// where none does.
func (l *leg) cloud(uses []scenarios.Served, from *candidate, number, first int) (*cloud, error) {
	c := &cloud{leg: l, uses: uses, from: from, moving: l.space.moving(from.at, first), number: l.number + number}
	if len(c.moving) == 0 {
		return nil, nil
	}
	start, least := make([]float64, len(c.moving)), make([]float64, len(c.moving))
	for i, m := range c.moving {
		start[i], least[i] = from.at[m], l.space.least(m)
	}
	var err error
	c.Search, err = cma.New(len(c.moving), l.stream(c.number), cma.Settings{Start: start, Sigma: 0.2, Lambda: lambda, Least: least})
	return c, err
}

// place returns the candidate at a point of the cloud.
func (c *cloud) place(y []float64) *candidate {
	x := slices.Clone(c.from.at)
	for i, m := range c.moving {
		x[m] = y[i]
	}
	return c.leg.space.candidate(x, len(c.uses))
}

// mean is where the cloud stands: the best candidate seen would be a lucky one.
func (c *cloud) mean() *candidate { return c.place(c.Mean) }

// move lets a cloud go on for some generations, each with fresh people.
func (s *search) move(ctx context.Context, c *cloud, generations int) error {
	for range generations {
		var asked []*candidate
		for _, y := range c.Ask() {
			asked = append(asked, c.place(y))
		}
		if err := s.measure(ctx, c.uses, s.Operator, asked, s.block(fmt.Sprint("generation ", c.number), c.Generation), 0, s.scaled(told, c.leg.space)); err != nil {
			return err
		}
		costs := make([]float64, len(asked))
		for i, x := range asked {
			costs[i] = s.price(x, c.leg.goal)
		}
		if err := c.Tell(costs); err != nil {
			return err
		}
	}
	return nil
}

// byTask gives each task of a knob an acceleration of its own, with the best
// settings so far. A firmware does not know the task: it has one for all.
func (s *search) byTask(ctx context.Context, l *leg, found []*candidate) (*candidate, error) {
	if err := s.measure(ctx, l.uses, s.Operator, found, s.block("settings", l.number), 0, s.scaled(2*told, l.space)); err != nil {
		return nil, err
	}
	best := s.least(found, l.goal)
	if best.profiles[0].Home == encoder.InFirmware && !best.profiles[0].Acceleration.Plain() {
		return best, nil
	}
	each := &candidate{name: "searched, by task", profiles: slices.Clone(best.profiles)}
	for i := range l.uses {
		cloud, err := l.cloud(l.uses[i:i+1], best, 100+i, len(l.space.settings))
		if err != nil {
			return nil, err
		}
		if cloud == nil {
			continue
		}
		if err := s.move(ctx, cloud, own); err != nil {
			return nil, err
		}
		each.profiles[i] = cloud.mean().profiles[0]
	}
	return each, nil
}

// best tells progress what leads.
func (s *search) best(k *scenarios.Knob, leader, now *candidate) {
	a, _, _ := leader.sample.Means()
	if now.failed || leader == now {
		return
	}
	b, _, _ := now.sample.Means()
	s.say(fmt.Sprintf("%s: %.2f s a dialing so far, %.2f s now", k.Name, a, b))
}
