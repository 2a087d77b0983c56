package tune

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/survey"
)

// Over is a search for one profile for a whole population: a default. What it measures
// are surveys, so that a member, whatever it dials and however often, is one number.
//
// Searched are the accelerations that the owner of every base rig can have, and the keys
// that the owner of every base rig which uses them can change; where a member's rig does
// not use one, it is left out, and where nothing is set, each member has its own. The
// population's own profiles are candidates too, as they are. What is looked at meets few
// members, what is moved more of them, the finalists others; the choice is proved on
// members that the search never met, those that a survey meets under the same seed. The
// caps are for the dialings of the whole population; where nothing that was tried keeps
// to one, the choice is to do as well as the best that was tried does.
type Over struct {
	Population   *scenarios.Population
	Members      int     // that the choice and the others are proved on
	Trials       int     // a member
	MaxOvershoot float64 // share of all dialings, 0 to 1
	MaxLost      float64 // share of all detents, 0 to 1
	For          Aim     // Worst: least mean of the slowest tenth of members
	Change       []string
	Seed         uint64
	Workers      int
	Inputs       []file.Input
	Version      string // of the program

	Progress func(done, all int, best string) // may be nil
}

// How many members meet what is searched, and how many trials each does then; ours.
const (
	lookMembers   = 24  // everything
	moveMembers   = 72  // what is moved
	weighMembers  = 200 // what may be chosen
	memberTrials  = 8   // until then
	overFinalists = 8   // of what was moved, that are weighed
	overRounds    = 3   // over the keys
)

// OverResult is what a search over a population found.
type OverResult struct {
	Over        *Over
	Profile     *scenarios.Profile // that is recommended; its name is that in Proof
	Listed      bool               // it is one of the population's own
	Proof       *survey.Result     // on fresh members, the recommended one judged
	Most, Lost  float64            // the caps, or what the best that was tried does
	Levels      []Level            // the least time at each level of overshoot, by the finalists' members
	Keys        []string           // that were searched
	Evaluations int                // profiles that were tried
	Trials      int
	Partial     bool
}

// overSearch is a search over a population at work.
type overSearch struct {
	*Over
	space       *space
	tried       map[string]*option
	order       []*option
	most, lost  float64
	trials      int
	done, all   int // members with a profile, for progress
	evaluations int
}

// option is a profile that may become the default.
type option struct {
	profile *scenarios.Profile
	listed  bool
	members int // it met
	score
	unsure float64 // standard error of the overshoot, members as clusters
}

// RunOver searches. When the context ends it proves what was found until then on fewer
// members and returns it marked as partial, with the context's error; nil, where not
// even the beginnings were measured.
func RunOver(ctx context.Context, o *Over) (*OverResult, error) {
	s := &overSearch{Over: o, tried: map[string]*option{}, all: 4 * o.Members * (len(o.Population.Profiles) + 8)}
	var err error
	if s.space, err = overSpace(o.Population, o.Change); err != nil {
		return nil, err
	}
	err = s.begin(ctx)
	if err == nil {
		err = s.find(ctx)
	}
	finalists := s.finalists()
	if len(finalists) == 0 || err != nil && ctx.Err() == nil {
		return nil, cmp.Or(err, errors.New("nothing that may be changed can be tried"))
	}
	if ctx.Err() == nil {
		for _, f := range finalists {
			f.members = 0 // they meet others now
		}
		if err := s.measure(ctx, "choice", min(weighMembers, 2*o.Members), o.Trials, finalists...); err == nil {
			s.limit(finalists)
		}
	}
	best := s.choose(finalists)
	r := &OverResult{Over: o, Profile: best.profile, Listed: best.listed, Most: s.most, Lost: s.lost, Levels: s.levels(finalists)}
	for _, k := range s.space.keys {
		r.Keys = append(r.Keys, k.name)
	}
	if err := s.prove(ctx, r); err != nil {
		return nil, err
	}
	r.Partial = ctx.Err() != nil
	r.Evaluations, r.Trials = s.evaluations, s.trials
	return r, ctx.Err()
}

// overSpace is what may be set for a population.
func overSpace(p *scenarios.Population, change []string) (*space, error) {
	var rigs []*scenarios.Rig
	for _, x := range p.Rigs {
		rigs = append(rigs, x.Of)
	}
	s, err := newSpace(rigs, change)
	if err != nil {
		return nil, err
	}
	s.keys = nil
	for _, r := range rigs {
		for _, g := range r.Adjustable.Settings {
			if s.key(g.Key) != nil {
				continue
			}
			k := key{name: g.Key}
			if k.choices, err = shareable(rigs, g); err != nil {
				return nil, err
			}
			if len(k.choices) == 0 || len(change) > 0 && !named(change, g.Key) {
				continue
			}
			for _, c := range k.choices {
				if _, ok := scenarios.Number(g.Key, c); !ok {
					k.words = true
				}
			}
			s.keys = append(s.keys, k)
		}
	}
	if len(s.keys) == 0 && len(s.curves) == 0 {
		return nil, errors.New("there is nothing that the owner of every base rig of the population can change; adjustable in its rigs, or another --change, would do")
	}
	return s, nil
}

// shareable are the values of a key that every rig which uses it can have.
func shareable(rigs []*scenarios.Rig, g scenarios.Range) ([]string, error) {
	choices, err := g.Choices()
	for _, r := range rigs {
		if err != nil || !slices.Contains(scenarios.Keys(&r.Rig), g.Key) {
			continue
		}
		i := slices.IndexFunc(r.Adjustable.Settings, func(o scenarios.Range) bool { return o.Key == g.Key })
		if i < 0 {
			return nil, nil
		}
		var theirs []string
		theirs, err = r.Adjustable.Settings[i].Choices()
		choices = both(choices, theirs)
	}
	return choices, err
}

// option returns what was tried, or is to be.
func (s *overSearch) option(p *scenarios.Profile) *option {
	q := *p
	if q.Acceleration.Plain() {
		q.Home = encoder.InProgram
	}
	name := fmt.Sprintf("%v %v %#v %d %v", q.Settings, q.Home, q.Acceleration, q.PressCoarse, q.Parts)
	o := s.tried[name]
	if o == nil {
		o = &option{profile: &q}
		s.tried[name] = o
		s.order = append(s.order, o)
		s.evaluations++
	}
	return o
}

// measure lets options meet so many members of a stage, those that have not.
func (s *overSearch) measure(ctx context.Context, stage string, members, trials int, all ...*option) error {
	var list []*option
	for _, o := range all {
		if o.members < members && !slices.Contains(list, o) {
			list = append(list, o)
		}
	}
	for len(list) > 0 {
		some := list[:min(scenarios.MostCandidates, len(list))]
		list = list[len(some):]
		r, err := s.survey(ctx, stage, members, trials, some)
		if err != nil {
			return err
		}
		for i, o := range some {
			c := &r.Candidates[i]
			o.members, o.score = members, score{r.Members * trials, c.Mean.Value, c.Overshoot.Value, c.Lost.Value}
			o.unsure = (c.Overshoot.High - c.Overshoot.Low) / (2 * 1.96)
			if s.For == Worst {
				o.seconds = c.WorstTenth
			}
			if math.IsNaN(o.lost) {
				o.lost = 0
			}
			for _, x := range []*float64{&o.seconds, &o.overshoot, &o.lost} {
				*x = billionths(*x)
			}
		}
	}
	return nil
}

// survey is a survey of a stage's members with some options.
func (s *overSearch) survey(ctx context.Context, stage string, members, trials int, some []*option) (*survey.Result, error) {
	p := *s.Population
	p.Profiles = nil
	for i, o := range some {
		as := *o.profile
		as.Name = fmt.Sprint(i)
		p.Profiles = append(p.Profiles, &as)
	}
	seed := uint64(draw.NewTrial(s.Seed, "tune over "+stage, 0))
	part, err := s.run(ctx, &p, members, trials, seed)
	if err != nil {
		return nil, err
	}
	return survey.Sum(part)
}

// run is a survey of a population's members.
func (s *overSearch) run(ctx context.Context, p *scenarios.Population, members, trials int, seed uint64) (*survey.Part, error) {
	study := &survey.Study{Population: p, Members: members, Trials: trials, Seed: seed, Workers: s.Workers, Inputs: s.Inputs, Version: s.Version,
		Caps: survey.Caps{Overshoot: s.MaxOvershoot, Lost: s.MaxLost}}
	before := s.done
	study.Progress = func(done, all int) { s.say(before+done*len(p.Profiles), "") }
	part, err := survey.Run(ctx, study, survey.Whole)
	s.done += members * len(p.Profiles)
	s.trials += members * trials * len(p.Profiles)
	return part, err
}

func (s *overSearch) say(done int, best string) {
	if s.Progress != nil {
		s.Progress(min(done, s.all-1), s.all, best)
	}
}

// price is what the search makes small.
func (s *overSearch) price(o *option) float64 {
	by := search{Study: &Study{For: s.For, MaxLost: s.lost}}
	return by.price(o.score, s.most)
}

// begin measures the population's own profiles and the accelerations that a search
// begins with, and says how far the caps can be kept.
func (s *overSearch) begin(ctx context.Context) error {
	for _, p := range s.Population.Profiles {
		if s.allowed(p) {
			s.option(p).listed = true
		}
	}
	if len(s.space.curves) > 0 {
		for _, a := range s.space.accelerations(false, s.space.homes[0]) {
			s.option(&scenarios.Profile{Home: s.space.homes[0], Acceleration: a})
		}
	}
	if err := s.measure(ctx, "search", lookMembers, memberTrials, s.order...); err != nil {
		return err
	}
	s.limit(s.order)
	return nil
}

// allowed says whether one of the population's own profiles changes only what may change.
func (s *overSearch) allowed(p *scenarios.Profile) bool {
	if len(s.Change) == 0 {
		return true
	}
	for _, x := range p.Settings {
		if !named(s.Change, x.Key) {
			return false
		}
	}
	return p.PressCoarse == 0 && len(p.Parts) == 0 && (p.Acceleration.Plain() || len(s.space.curves) > 0 && slices.Contains(s.space.homes, p.Home))
}

// limit says what is asked of the choice: the caps, or where none of some options keeps
// to one, what the best of them does.
func (s *overSearch) limit(of []*option) {
	overshoot, lost := math.Inf(1), math.Inf(1)
	for _, o := range of {
		overshoot, lost = min(overshoot, o.overshoot), min(lost, o.lost)
	}
	s.most, s.lost = s.MaxOvershoot, s.MaxLost
	if overshoot > s.most {
		s.most = overshoot + calmWithin
	}
	if lost > s.lost {
		s.lost = lost + calmWithin
	}
}

// least is the option with the least price, the first of equal ones.
func (s *overSearch) least(list []*option) *option {
	return slices.MinFunc(list, func(a, b *option) int { return cmp.Compare(s.price(a), s.price(b)) })
}

// find moves the best so far, and the best with another kind of curve, by strides as
// long as that is better; then the keys; then the curve again.
func (s *overSearch) find(ctx context.Context) error {
	var from []*option
	sorted := slices.Clone(s.order)
	slices.SortStableFunc(sorted, func(a, b *option) int { return cmp.Compare(s.price(a), s.price(b)) })
	for _, o := range sorted {
		other := func(x *option) bool {
			return accel.KindOf(x.profile.Acceleration.Curve) != accel.KindOf(o.profile.Acceleration.Curve)
		}
		if o.searched() && len(from) < 2 && !slices.ContainsFunc(from, func(x *option) bool { return !other(x) }) {
			from = append(from, o)
		}
	}
	if len(from) == 0 {
		from = sorted[:1]
	}
	if err := s.measure(ctx, "search", moveMembers, memberTrials, from...); err != nil {
		return err
	}
	for n := range from {
		var err error
		if from[n], err = s.climb(ctx, from[n], 1.6, 1.25); err != nil {
			return err
		}
	}
	best := s.least(from)
	s.say(s.done, fmt.Sprintf("%d profiles tried so far", s.evaluations))
	for range overRounds {
		x, err := s.walk(ctx, best)
		if err != nil {
			return err
		}
		if x == best {
			break
		}
		best = x
	}
	_, err := s.climb(ctx, best, 1.1)
	return err
}

// searched says whether an option can be moved: it is no profile of fixed parts.
func (o *option) searched() bool { return o.profile.PressCoarse == 0 && o.profile.Parts == nil }

// better measures neighbours of an option, few members first, and returns the best of
// them and it.
func (s *overSearch) better(ctx context.Context, x *option, list []*scenarios.Profile) (*option, error) {
	var all []*option
	for _, p := range list {
		all = append(all, s.option(p))
	}
	if len(all) == 0 {
		return x, nil
	}
	if err := s.measure(ctx, "search", lookMembers, memberTrials, all...); err != nil {
		return x, err
	}
	slices.SortStableFunc(all, func(a, b *option) int { return cmp.Compare(s.price(a), s.price(b)) })
	all = append([]*option{x}, all[:min(2, len(all))]...)
	if err := s.measure(ctx, "search", moveMembers, memberTrials, all...); err != nil {
		return x, err
	}
	return s.least(all), nil
}

// climb moves the curve by strides as long as that is better.
func (s *overSearch) climb(ctx context.Context, x *option, strides ...float64) (*option, error) {
	if len(s.space.curves) == 0 || x.profile.Acceleration.Plain() {
		return x, nil
	}
	for _, stride := range strides {
		for range 6 {
			var list []*scenarios.Profile
			for _, c := range near(x.profile.Acceleration.Curve, stride) {
				p := *x.profile
				p.Acceleration.Curve = c
				list = append(list, &p)
			}
			y, err := s.better(ctx, x, list)
			if err != nil || y == x {
				if err != nil {
					return x, err
				}
				break
			}
			x = y
		}
	}
	return x, nil
}

// walk changes one key, or the acceleration's home, if that is better.
func (s *overSearch) walk(ctx context.Context, x *option) (*option, error) {
	var list []*scenarios.Profile
	for _, k := range s.space.keys {
		at := slices.IndexFunc(x.profile.Settings, func(o scenarios.Setting) bool { return o.Key == k.name })
		without := *x.profile
		without.Settings = slices.DeleteFunc(slices.Clone(x.profile.Settings), func(o scenarios.Setting) bool { return o.Key == k.name })
		if at >= 0 {
			list = append(list, &without)
		}
		for n, v := range k.choices {
			if len(k.choices) > 5 && n%max(1, (len(k.choices)-1)/4) != 0 {
				if at < 0 {
					continue // each member's own before: five values over the range
				}
				if i := slices.Index(k.choices, x.profile.Settings[at].Value); n != i-1 && n != i+1 {
					continue
				}
			}
			with := without
			with.Settings = append(slices.Clone(without.Settings), scenarios.Setting{Key: k.name, Value: v})
			slices.SortFunc(with.Settings, func(a, b scenarios.Setting) int { return cmp.Compare(a.Key, b.Key) })
			list = append(list, &with)
		}
	}
	if !x.profile.Acceleration.Plain() {
		for _, h := range s.space.homes {
			if h != x.profile.Home {
				elsewhere := *x.profile
				elsewhere.Home = h
				list = append(list, &elsewhere)
			}
		}
	}
	return s.better(ctx, x, list)
}

// finalists are the options with the least prices, the population's own, and the
// quickest at every level of overshoot.
func (s *overSearch) finalists() (list []*option) {
	add := func(o *option) {
		if o != nil && !slices.Contains(list, o) {
			list = append(list, o)
		}
	}
	sorted := slices.DeleteFunc(slices.Clone(s.order), func(o *option) bool { return o.members == 0 })
	slices.SortStableFunc(sorted, func(a, b *option) int {
		return cmp.Or(cmp.Compare(b.members, a.members), cmp.Compare(s.price(a), s.price(b)))
	})
	for _, o := range sorted[:min(overFinalists, len(sorted))] {
		add(o)
	}
	for _, o := range sorted {
		if o.listed {
			add(o)
		}
	}
	for _, level := range levelsTo(s.MaxOvershoot) {
		add(s.quickest(sorted, level))
	}
	return list
}

// quickest is the quickest option with at most a share of overshoots, nil without any.
func (s *overSearch) quickest(list []*option, level float64) (best *option) {
	for _, o := range list {
		if o.overshoot <= level && o.lost <= s.lost && (best == nil || o.seconds < best.seconds) {
			best = o
		}
	}
	return best
}

// levels are what can be had at each level of overshoot.
func (s *overSearch) levels(of []*option) (list []Level) {
	for _, level := range levelsTo(s.MaxOvershoot) {
		l := Level{Most: level, Seconds: math.Inf(1)}
		if o := s.quickest(of, level); o != nil {
			l = Level{level, o.profile, o.seconds, o.overshoot, o.score.lost}
		}
		list = append(list, l)
	}
	return list
}

// choose takes the option with the least cost: one of the population's own, where
// nobody would notice the difference to what was searched.
func (s *overSearch) choose(of []*option) *option {
	cost := func(o *option) float64 {
		over := max(0, o.score.lost-s.lost)
		if s.most == s.MaxOvershoot && s.most < 1 {
			over += max(0, o.overshoot+float64(capMargin*o.unsure)-s.most)
		} else {
			over += max(0, o.overshoot-s.most)
		}
		return sample.Round(o.seconds*(1+float64(s.For.overshootCost()*o.overshoot)) + float64(100*o.seconds*over))
	}
	best := slices.MinFunc(of, func(a, b *option) int { return cmp.Compare(cost(a), cost(b)) })
	for _, o := range of {
		if o.listed && !best.listed && cost(o) <= (1+unnoticedShare)*cost(best) {
			return o
		}
	}
	return best
}

// prove lets the choice and the population's own profiles meet fresh members.
func (s *overSearch) prove(ctx context.Context, r *OverResult) error {
	members := s.Members
	if ctx.Err() != nil {
		members = min(members, moveMembers)
	}
	p := *s.Population
	judged := 0
	if r.Listed {
		judged = slices.IndexFunc(p.Profiles, func(o *scenarios.Profile) bool { return o.Name == r.Profile.Name })
	} else {
		as := *r.Profile
		as.Name = "tuned"
		for slices.ContainsFunc(p.Profiles, func(o *scenarios.Profile) bool { return o.Name == as.Name }) {
			as.Name += " now"
		}
		r.Profile = &as
		p.Profiles = append([]*scenarios.Profile{r.Profile}, p.Profiles...)
	}
	part, err := s.run(context.WithoutCancel(ctx), &p, members, s.Over.Trials, s.Seed)
	if err != nil {
		return err
	}
	r.Proof, err = survey.Judge(part, judged)
	return err
}
