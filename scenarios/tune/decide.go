package tune

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
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
	Partial      bool // the context ended before all alternatives were finished
}

// Alternative is one of the answers.
type Alternative struct {
	Name     string
	Cannot   string // why it could not be built on any knob; then the rest is empty, as where it was not finished
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

// Decide answers a question of design on a panel. Every alternative is given the
// settings that are its best: what the rig's owner can change (but the output, unless
// that is the question) and the acceleration that the alternative has, if any, are
// searched for each of them as [Run] does. Then all of them meet the
// same fresh people. The p values of all pairs are adjusted together by Holm.
//
// Knobs where one of the alternatives cannot be built, and others can, are left out,
// so that all are compared on the same numbers; an alternative that no knob can have
// is said to be impossible. When the context ends, the alternatives that were finished
// are compared, marked as partial, and returned with its error; where none was, the
// decision is nil.
func Decide(ctx context.Context, study *Study, q Question) (*Decision, error) {
	s := &search{Study: study}
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
		knob *scenarios.Knob
		now  *scenarios.Profile
		err  error
	}
	all := make([][]built, len(list)) // by alternative and knob
	for i, a := range list {
		d.Alternatives = append(d.Alternatives, &Alternative{Name: a.name})
		for n := range study.Panel.Knobs {
			k := &study.Panel.Knobs[n]
			var b built
			if len(k.Tasks) == 0 {
				b.err = errors.New("it dials nothing")
			} else if b.knob, b.now, b.err = a.of(k, study.Profile.On(k.Name, "")); b.err == nil {
				b.err = s.cannot(a, b.knob, b.now)
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
	s.planned = int64(d.possible() * len(knobs) * trialsAUse)
	for i, a := range d.Alternatives {
		if a.Cannot != "" {
			continue
		}
		err := s.answer(ctx, list[i], a, knobs, func(n int) (*scenarios.Knob, *scenarios.Profile) { return all[i][n].knob, all[i][n].now })
		if err != nil && ctx.Err() == nil {
			return nil, err
		}
		if err != nil {
			d.Partial = true
			continue
		}
		a.Score = a.Sample.Score()
		a.Meets = study.meets(a.Sample, a.Score)
		if d.Best < 0 || a.before(d.Alternatives[d.Best], s.For) {
			d.Best = i
		}
	}
	if d.Partial && d.Best < 0 {
		return nil, ctx.Err()
	}
	d.compare()
	d.Trials, d.Evaluations = int(s.trials.Load()), int(s.evaluations.Load())
	return d, ctx.Err()
}

// answer searches the settings that suit an answer on the knobs that are compared,
// and lets fresh people dial with them.
func (s *search) answer(ctx context.Context, as alternative, a *Alternative, knobs []int, built func(n int) (*scenarios.Knob, *scenarios.Profile)) error {
	var fields []*field
	for _, numbers := range s.Panel.Boards() {
		numbers = slices.DeleteFunc(numbers, func(n int) bool { return !slices.Contains(knobs, n) })
		if len(numbers) == 0 {
			continue
		}
		var alike []*scenarios.Knob
		var now []*scenarios.Profile
		for _, n := range numbers {
			knob, p := built(n)
			alike, now = append(alike, knob), append(now, p)
		}
		b, err := s.boardOf(as, numbers, alike, now)
		if err != nil {
			return err
		}
		if err := s.afford([]*board{b}); err != nil {
			return err
		}
		f, err := s.field(ctx, b, as.others(alike[0]))
		if err := cmp.Or(err, ctx.Err()); err != nil {
			return err
		}
		fields = append(fields, f)
	}
	chosen, err := s.decide(ctx, fields)
	if err := cmp.Or(err, ctx.Err()); err != nil {
		return err
	}
	byKnob := map[int]*field{}
	for n, f := range fields {
		if chosen[n], err = f.sized(ctx, chosen[n], as.sizes); err != nil {
			return err
		}
		for _, k := range f.board.knobs {
			byKnob[k] = f
		}
	}
	done := *a
	for _, n := range knobs {
		f := byKnob[n]
		x := chosen[slices.Index(fields, f)]
		proof := s.pool(f.board, "")
		proof.block = s.Seed
		var profiles []*scenarios.Profile
		for u := range f.board.uses {
			if f.board.uses[u].knob != n {
				continue
			}
			t := proof.try(u, x[u])
			if err := proof.measure(ctx, s.Trials, t); err != nil {
				return err
			}
			if t.err != nil {
				return fmt.Errorf("knob %s: %s cannot be tried: %w", scenarios.Shown(f.board.uses[u].Knob.Name), a.Name, t.err)
			}
			profiles = append(profiles, x[u])
			done.Sample = append(done.Sample, t.sample...)
		}
		knob, _ := built(n)
		done.Knobs, done.Profiles = append(done.Knobs, knob), append(done.Profiles, profiles)
	}
	*a = done
	return nil
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
		return billionths(x.Seconds.Value * (1 + float64(aim.overshootCost()*x.Overshoot)))
	}
	return price(a) < price(b)
}

// compare tests all pairs.
func (d *Decision) compare() {
	var ps []float64
	for i, a := range d.Alternatives {
		for j, b := range d.Alternatives[:i] {
			if len(a.Sample) == 0 || len(b.Sample) == 0 {
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

// boardOf is knobs of a board as an alternative has them.
func (s *search) boardOf(a alternative, numbers []int, knobs []*scenarios.Knob, now []*scenarios.Profile) (*board, error) {
	b := &board{knobs: numbers}
	var rigs []*scenarios.Rig
	for n, k := range knobs {
		rigs = append(rigs, k.Inner)
		if k.Outer != nil && k.Outer != k.Inner {
			rigs = append(rigs, k.Outer)
		}
		for _, u := range served(k) {
			b.uses = append(b.uses, use{u, numbers[n], []spot{{u, s.Operator}}})
			b.now = append(b.now, now[n])
		}
	}
	var err error
	b.space, err = newSpace(rigs, s.Change)
	if err == nil {
		b.space.always = a.curves == mustCurve
		b.stay()
	}
	return b, err
}

// others are the settings that an alternative begins with besides those of its knob.
func (a alternative) others(k *scenarios.Knob) [][]scenarios.Setting {
	if a.starts == nil {
		return nil
	}
	return a.starts(k)[1:]
}

// cannot says why an alternative cannot be set on a knob, or nil.
func (s *search) cannot(a alternative, k *scenarios.Knob, now *scenarios.Profile) error {
	b, err := s.boardOf(a, []int{0}, []*scenarios.Knob{k}, []*scenarios.Profile{now})
	if err != nil {
		return err
	}
	for _, points := range b.begin(nil) {
		for _, x := range points {
			ok := true
			for i := range b.uses {
				if err = s.untriable(&b.uses[i], x[i]); err != nil {
					ok = false
					break
				}
			}
			if ok {
				return nil
			}
		}
	}
	return err
}

// sized is the point with the best of some sizes of press-for-coarse, where there are.
func (f *field) sized(ctx context.Context, x point, sizes []int64) (point, error) {
	best := x
	for _, size := range sizes {
		y := x.change(x.all(), func(p *scenarios.Profile) { p.PressCoarse = size })
		if err := f.measurePoints(ctx, choiceTrials, x.all(), y); err != nil {
			return x, err
		}
		if f.cost(y, x.all()) < f.cost(best, x.all()) {
			best = y
		}
	}
	return best, nil
}
