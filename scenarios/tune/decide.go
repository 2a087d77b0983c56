package tune

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// Decision is what a question of design came to: how the answers to it do, each with
// settings of its own.
type Decision struct {
	Study        *Study
	Question     Question
	Alternatives []*Alternative
	LeftOut      []LeftOut // knobs to which the question does not apply
	Best         int       // the quickest within the caps, else the quickest; -1 where nothing could be compared
	Pairs        []DesignPair
	Evaluations  int
	Trials       int
}

// Alternative is one of the answers.
type Alternative struct {
	Name     string
	Cannot   string // why it could not be built on any knob; then the rest is empty
	Knobs    []*scenarios.Knob
	Profiles [][]*scenarios.Profile // by knob and task
	Sample   sample.Panel           // of fresh people
	sample.Score
	Meets bool // the caps
}

// LeftOut is a knob where an answer cannot be built that can be built elsewhere, or
// to which the question does not apply.
type LeftOut struct {
	Knob, Alternative string
	Because           string
}

// DesignPair is one alternative against another one: the same people, paired.
type DesignPair struct {
	A, B      int            // among the alternatives
	Time      paired.Average // A less B, s per dialing
	Overshoot paired.Average // A less B, share of dialings
}

// The budget of a decision: its searches are shorter, its measurement is the same.
const (
	lightly = 0.4
	chosen  = 200 // trials a task for the choice of an alternative's settings
)

// Decide answers a question of design on a panel. Every alternative is given the
// settings that are its best: what the rig's owner can change (but the output, unless
// that is the question) and the acceleration that the alternative has, if any, are
// searched for each of them as [Run] does, only shorter. Then all of them meet the
// same fresh people. The p values of all pairs are adjusted together by Holm.
//
// Knobs where one of the alternatives cannot be built, and others can, are left out,
// so that all are compared on the same numbers; an alternative that no knob can have
// is said to be impossible. When the context ends, its error is returned alone: half
// a comparison is none.
func Decide(ctx context.Context, study *Study, q Question) (*Decision, error) {
	light := *study
	light.Effort = lightly * cmp.Or(study.Effort, 1)
	s, fine := &search{Study: &light}, &search{Study: study}
	s.besides, fine.besides = fine, s
	d := &Decision{Study: study, Question: q, Best: -1}
	list := alternatives(q)
	if list == nil {
		return nil, errors.New("no such question")
	}
	if len(study.Panel.Served()) == 0 {
		return nil, errors.New("the panel has no tasks")
	}
	// Where can what be built?
	type built struct {
		knob  *scenarios.Knob
		space *space
		err   error
	}
	all := make([][]built, len(list)) // by alternative and knob
	for i, a := range list {
		d.Alternatives = append(d.Alternatives, &Alternative{Name: a.name})
		for n := range study.Panel.Knobs {
			k := &study.Panel.Knobs[n]
			var b built
			if len(k.Tasks) == 0 {
				b.err = errors.New("it dials nothing")
			} else if b.knob, b.space, b.err = a.of(k, study.Profile); b.err == nil {
				b.err = s.cannot(a, b.knob, b.space)
			}
			all[i] = append(all[i], b)
		}
	}
	for i, a := range d.Alternatives {
		if !slices.ContainsFunc(all[i], func(b built) bool { return b.err == nil }) {
			a.Cannot = all[i][0].err.Error()
		}
	}
	var knobs []int
	for n, k := range study.Panel.Knobs {
		here := 0
		for i, a := range d.Alternatives {
			if err := all[i][n].err; a.Cannot != "" || list[i].optional {
				continue
			} else if err != nil {
				d.LeftOut = append(d.LeftOut, LeftOut{k.Name, a.Name, err.Error()})
			} else {
				here++
			}
		}
		if here > 1 && !slices.ContainsFunc(d.LeftOut, func(l LeftOut) bool { return l.Knob == k.Name }) {
			knobs = append(knobs, n)
		}
	}
	for i, a := range d.Alternatives {
		if !list[i].optional || a.Cannot != "" {
			continue
		}
		for _, n := range knobs {
			if err := all[i][n].err; err != nil {
				a.Cannot = "on the " + study.Panel.Knobs[n].Name + " knob, " + err.Error()
				break
			}
		}
	}
	if len(knobs) == 0 {
		return d, nil
	}
	for _, n := range knobs {
		s.planned += int64(d.possible()) * s.plan(&study.Panel.Knobs[n]) / 3
	}

	for i, a := range d.Alternatives {
		if a.Cannot != "" {
			continue
		}
		var built []*finals
		var best []*candidate
		hours := 0.0
		for _, n := range knobs {
			f := &finals{KnobResult: &KnobResult{Knob: all[i][n].knob}, space: all[i][n].space, uses: served(all[i][n].knob)}
			c, err := s.design(ctx, list[i], f, n)
			if err != nil {
				return nil, err
			}
			built, best = append(built, f), append(best, c)
			hours += f.hours()
		}
		for _, f := range built {
			f.share = f.hours() / hours
		}
		if err := fine.polish(ctx, built, best); err != nil {
			return nil, err
		}
		for n, f := range built {
			c := &candidate{profiles: best[n].profiles}
			if err := fine.measure(ctx, f.uses, s.Operator, []*candidate{c}, s.block("decision", 0), 0, s.Trials); err != nil {
				return nil, err
			}
			if c.failed {
				return nil, errors.New("knob " + scenarios.Shown(f.Knob.Name) + ": " + a.Name + " cannot be tried")
			}
			a.Knobs, a.Profiles, a.Sample = append(a.Knobs, f.Knob), append(a.Profiles, c.profiles), append(a.Sample, c.sample...)
		}
		a.Score = a.Sample.Score()
		a.Meets = a.Overshoot <= s.MaxOvershoot && a.Lost <= s.MaxLost
		if d.Best < 0 || a.before(d.Alternatives[d.Best], s.For) {
			d.Best = i
		}
	}
	d.compare()
	d.Trials, d.Evaluations = int(s.trials.Load()+fine.trials.Load()), int(s.evaluations.Load()+fine.evaluations.Load())
	return d, nil
}

// possible counts the alternatives that some knob can have.
func (d *Decision) possible() (n int) {
	for _, a := range d.Alternatives {
		if a.Cannot == "" {
			n++
		}
	}
	return n
}

// before says whether an alternative is to be preferred: within the caps before
// beyond them, then by what the aim counts.
func (a *Alternative) before(b *Alternative, aim Aim) bool {
	if a.Meets != b.Meets {
		return a.Meets
	}
	price := func(x *Alternative) float64 {
		return math.Round(x.Seconds.Value*(1+float64(aim.overshootCost()*x.Overshoot))*1e9) / 1e9
	}
	return price(a) < price(b)
}

// compare tests all pairs.
func (d *Decision) compare() {
	var ps []float64
	for i, a := range d.Alternatives {
		for j, b := range d.Alternatives[:i] {
			if a.Cannot != "" || b.Cannot != "" {
				continue
			}
			p := DesignPair{A: i, B: j, Time: less(a.Sample, b.Sample, 1, d.Study.Seed), Overshoot: overshotLess(a.Sample, b.Sample, d.Study.Seed)}
			d.Pairs = append(d.Pairs, p)
			ps = append(ps, p.Time.P, p.Overshoot.P)
		}
	}
	ps = paired.Holm(ps)
	for i := range d.Pairs {
		d.Pairs[i].Time.P, d.Pairs[i].Overshoot.P = ps[2*i], ps[2*i+1]
	}
}

// overshotLess returns the share of trials that overshot less that of the same
// trials with other settings.
func overshotLess(s, other sample.Panel, seed uint64) paired.Average {
	var groups []paired.Group
	for i, t := range s {
		d := make([]float64, t.Len())
		for n := range d {
			if t.Past[n] > 0 {
				d[n]++
			}
			if other[i].Past[n] > 0 {
				d[n]--
			}
		}
		groups = append(groups, paired.Group{Weight: t.Use.PerHour, Sample: d})
	}
	return paired.AverageDifference(groups, draw.NewTrial(seed, "tune overshot against", -1))
}

// served lists the tasks of a knob that stands by itself.
func served(k *scenarios.Knob) []scenarios.Served {
	return (&scenarios.Panel{Knobs: []scenarios.Knob{*k}}).Served()
}

// cannot says why an alternative cannot be set on a knob, or nil.
func (s *search) cannot(a alternative, k *scenarios.Knob, x *space) error {
	var err error
	for _, p := range a.seeds(x) {
		ok := true
		for _, u := range served(k) {
			if _, err = trial.NewSeat(u, p, s.Operator); err != nil {
				ok = false
				break
			}
		}
		if ok {
			return nil
		}
	}
	return err
}

// design finds settings for an alternative on a knob.
func (s *search) design(ctx context.Context, a alternative, f *finals, number int) (*candidate, error) {
	var found []*candidate
	for _, p := range a.seeds(f.space) {
		found = append(found, one(p.Name, p, len(f.uses)))
	}
	source := draw.NewTrial(s.Seed, "decide", number)
	race, err := s.race(ctx, f.space, f.uses, one("now", f.space.now, len(f.uses)), source.Stream(draw.Search))
	if err != nil {
		return nil, err
	}
	l := &leg{space: f.space, uses: f.uses, goal: s.aim(), stream: func(n int) draw.Stream { return source.Stream(draw.Search + 1 + draw.Purpose(n)) }}
	ends, err := s.clouds(ctx, l, race)
	if err != nil {
		return nil, err
	}
	best := func(all []*candidate, stage int) (*candidate, error) {
		if err := s.measure(ctx, f.uses, s.Operator, all, s.block("design", stage), 0, chosen); err != nil {
			return nil, err
		}
		return s.least(all, l.goal), nil
	}
	c, err := best(append(found, ends...), 0)
	if err != nil || a.sizes == nil {
		return c, err
	}
	var sizes []*candidate
	for _, size := range a.sizes {
		with := &candidate{name: c.name, profiles: copies(c.profiles)}
		for _, p := range with.profiles {
			p.PressCoarse = size
		}
		sizes = append(sizes, with)
	}
	return best(sizes, 1)
}
