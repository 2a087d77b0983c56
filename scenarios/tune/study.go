// Package tune finds the settings that a person can change, and proves them on
// people that the search never met.
//
// Somebody with a knob has a handful of values to choose: how long a pulse lasts,
// how many may wait, where an acceleration lives and how steep it is. What is good
// for a slow program holds up a fast hand, so they are searched together: what the
// rig marks as adjustable, one choice for all tasks of a knob, and an acceleration
// of its own for each task where the program makes it. Wanted is the least time per
// dialing, weighted by how often each number is dialed, with a cap on the share of
// dialings that overshoot and on the share of clicks that are lost.
//
// # Method, board by board
//
// Knobs on one board share its settings. A use is a task on a knob; where the program
// makes the acceleration each use has one of its own, in the firmware each knob.
//
//   - A coarse grid meets the same people: what is set now and pulses of other lengths,
//     with every output that may be chosen; under each, no acceleration, the built-in
//     ones and some of every kind of curve that may be set.
//   - Under the best settings every use's acceleration moves by strides as long as that
//     is better; then the settings move one at a time, then the accelerations again.
//     Beyond a cap time counts the more, so that the search keeps near it.
//   - The finalists, among them the settings of now, the built-in profiles that may be
//     set and the best for other caps, meet other people, the same under every seed: few
//     trials for all, many for those in question. Where nothing tried is within the cap
//     for a use, calmer neighbours of the calmest are looked for; a use for which there
//     are none either is to do as well as the calmest that was tried.
//   - From the best within the caps the choice walks to neighbours that are better among
//     the finalists' people, until none is. Sequential tests then say whether it keeps the
//     caps; where it does not, the next best is taken, and where it does, the choice goes up
//     to the cap: to the quickest that such a test does not show to be above it.
//   - What is not proven to beat the settings of now by more than 3 % stays, and what
//     does not pay is put back. The choice and the settings of now then meet the people
//     that other studies meet under the same seed, and that no choice has seen: before
//     and after are measured on those alone, so that neither is flattered by having been
//     chosen. Whether a cap holds is said by four times as many of them.
//
// # Questions of design
//
// [Decide] compares ways to build a knob instead: one accelerated knob or two rings,
// press-for-coarse or acceleration, which output, where an acceleration lives. Each of
// them is searched by itself, so that none is judged by settings that suit
// another one.
//
// Every number of the method is ours: how many people meet what, the factors by which
// curves move, the pulses and sizes that are begun with. They were chosen for the time a
// search takes; tests hold it against grids and over seeds (Grid, Seeds with -suite).
//
// Left out: that people have to get used to a setting, landing, press-for-coarse of
// other sizes than the built-in one (a decision tries some), and curves of more than
// three numbers.
package tune

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"
	"sync/atomic"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// Study is a search.
type Study struct {
	Panel        *scenarios.Panel
	Profile      *scenarios.Profile // what is set now
	Operator     *scenarios.Operator
	MaxOvershoot float64 // share of dialings, 0 to 1
	MaxLost      float64 // share of detents, 0 to 1
	Caps         Caps
	For          Aim
	Change       []string      // keys and groups of keys that alone may change; none: all that are adjustable
	Combinations []Combination // rigs and people that one profile is to suit; none: the panel's own and Operator
	Trials       int           // per task and finalist, and again for the proof
	Seed         uint64
	Workers      int
	Was          *scenarios.Panel // the same knobs as they were before a change of hardware; nil

	// Patience is how long an interrupted search may take to prove what it found; 0 is a
	// quarter of a second.
	Patience time.Duration

	// Progress may be nil, and may be called by several goroutines at once; best says what
	// is searched, "" where nothing new is.
	Progress func(done, all int, best string)
}

// Aim is which point of the front is wanted.
type Aim string

// The aims. All stay within the caps where anything does.
const (
	Speed   Aim = "speed"   // least time
	Balance Aim = "balance" // least time, an overshoot counting as half a dialing more
	Calm    Aim = "calm"    // an overshoot counting as four dialings more
	Worst   Aim = "worst"   // least time of the slowest of several rigs and people
)

// Caps says what the caps apply to.
type Caps string

// What caps apply to.
const (
	Each  Caps = "each"  // every task by itself; also ""
	Whole Caps = "panel" // the panel's dialings, weighted; that on lost clicks still every task
)

// overshootCost is what an overshoot counts, in mean dialings.
func (a Aim) overshootCost() float64 {
	switch a {
	case Balance:
		return 0.5
	case Calm:
		return 4
	}
	return 0
}

// Worth is the share of time by which settings must beat those of now.
const Worth = 0.03

// Result is what a search found.
type Result struct {
	Study       *Study
	Knobs       []*KnobResult // those that were begun
	Dead        []Dead        // those on which nothing can be dialed
	Instead     []Instead     // those that were compared with other settings than those of now
	Was         *sample.Score // of the settings of now on the hardware before, of Study.Was; nil
	Many        []Suited      // with several rigs or people
	Robust      []Variant
	Before      sample.Score // over these knobs
	After       sample.Score
	Gain        paired.Average // after less before, s per dialing
	Meets       bool           // after is within the caps
	NowMeets    bool           // before is
	OnlyHere    bool           // better here, but not in every variant
	Evaluations int            // settings that were tried, each on all tasks of its knob
	Trials      int
	Partial     bool
}

// KnobResult is what was found for a knob.
type KnobResult struct {
	Knob        *scenarios.Knob
	Number      int                  // of the knob on the panel
	Combination string               // of a rig and a person, where there are several
	Now         []*scenarios.Profile // by task
	Chosen      []*scenarios.Profile // by task; equal where all tasks have one
	Changed     bool                 // false: nothing found that beats the settings of now by more than 3 %
	Before      sample.Panel         // of the proof
	After       sample.Panel
	Front       []Finalist
	Changes     []Change   // one at a time, best first
	Unimportant []string   // keys that were put back because they do not matter
	Sensitivity []Neighbor // of settings around the choice
	Claims      []Claim    // by task: whether the cap holds
	Levels      [][]Level  // by task: the least time at each level of overshoot
	Finalists   int
}

// Finalist is a candidate as it did on the fresh people of the last round.
type Finalist struct {
	Name     string
	Profiles []*scenarios.Profile
	sample.Score
	P float64 // that it does not beat the settings of now by more than 3 %; Holm over the finalists
}

// Change is one thing changed by itself, from the settings of now.
type Change struct {
	What         string
	Setting      scenarios.Setting // zero for an acceleration
	Gain         paired.Average    // s per dialing, negative is quicker
	Left         paired.Average    // s per dialing: the choice with this alone left as it is now, against the choice
	ForCaps      bool              // left, a task would be farther beyond a cap
	Needed       bool              // it cannot be left while the rest is changed
	sample.Score                   // with this change alone
}

// Neighbor is the choice with one value changed.
type Neighbor struct {
	Key, Value string
	Gain       paired.Average // against the choice, s per dialing
	sample.Score
}

// Variant is the recommendation among other people or on a slightly other rig.
type Variant struct {
	Name          string
	Cannot        error // why it cannot be tried; then the rest is empty
	Before, After sample.Score
	Gain          paired.Average
}

// search is a study at work.
type search struct {
	*Study
	trials, evaluations, done atomic.Int64
	planned                   int64
	grips                     trial.Grips
	hurried                   bool // it was interrupted, and only proves what was found
}

func (s *search) block(stage string, n int) uint64 {
	return uint64(draw.NewTrial(s.Seed, "tune "+stage, n))
}

func (s *search) say(best string) {
	if s.Progress != nil {
		done, planned := s.done.Load(), s.planned
		s.Progress(int(min(done, planned-1)), int(planned), best)
	}
}

// trialsAUse is about how many trials a use takes, for progress.
const trialsAUse = 150_000

// Run searches. When the context ends it proves what was found until then, as far as that
// takes a moment, and returns it marked as partial, with the context's error. Boards of
// which nothing was found are not in it; where nothing was at all, the result is nil.
func Run(ctx context.Context, study *Study) (*Result, error) {
	s := &search{Study: study}
	r := &Result{Study: study}
	boards, err := s.boards(ctx)
	if err != nil {
		return nil, err
	}
	if len(boards) == 0 {
		return nil, errors.New("the panel has no tasks")
	}
	s.planned = int64(len(study.Panel.Served()) * len(study.combinations()) * trialsAUse)
	if err := s.afford(boards); err != nil {
		return nil, err
	}
	proof, stop := s.grace(ctx) // an interrupted search still proves what it found
	defer stop()
	var fields []*field // that wait for the others
	var alive []*board
	var chosen []point
	finish := func(fields ...*field) error {
		x, err := s.finish(ctx, proof, fields, r)
		chosen = append(chosen, x...)
		return err
	}
	for _, b := range boards {
		if ctx.Err() != nil {
			break
		}
		if b.dead != nil {
			r.bury(b, b.dead)
			continue
		}
		f, err := s.field(ctx, b, nil)
		if runaway := (*encoder.Runaway)(nil); errors.As(err, &runaway) { // one trial of many
			r.bury(b, err)
			continue
		}
		if err != nil {
			return nil, err
		}
		if f == nil {
			break
		}
		r.Instead = append(r.Instead, b.standIns(study.Panel)...)
		alive = append(alive, b)
		if s.Caps == Whole { // what a board may overshoot depends on the others
			fields = append(fields, f)
			if len(boards) > fewBoards {
				f.leave()
			}
		} else if err := finish(f); err != nil {
			return nil, err
		}
	}
	if len(alive) == 0 && ctx.Err() == nil {
		return nil, r.dead()
	}
	if err := finish(fields...); err != nil {
		return nil, err
	}
	if len(r.Knobs) == 0 {
		return nil, ctx.Err()
	}
	r.Study = s.Study
	slices.SortStableFunc(r.Knobs, func(a, b *KnobResult) int { return cmp.Compare(a.Number, b.Number) })
	r.sum()
	if ctx.Err() == nil {
		if err := s.robust(ctx, r, alive, chosen); err != nil && ctx.Err() == nil {
			return nil, err
		}
	}
	if study.Was != nil {
		if err := s.was(proof, r); err != nil && proof.Err() == nil {
			return nil, err
		}
	}
	if ctx.Err() == nil {
		if err := s.suit(ctx, r); err != nil && ctx.Err() == nil {
			return nil, err
		}
	}
	r.Partial = ctx.Err() != nil
	r.Trials, r.Evaluations = int(s.trials.Load()), int(s.evaluations.Load())
	return r, ctx.Err()
}

// finish chooses for boards that have been searched, proves the choice, adds what was
// found to a result and forgets the rest. It returns the choices.
func (s *search) finish(ctx, proof context.Context, fields []*field, r *Result) ([]point, error) {
	s.hurry(ctx)
	chosen, err := s.decide(ctx, fields)
	if err != nil {
		return nil, err
	}
	s.hurry(ctx)
	for n, f := range fields {
		x, put := chosen[n], []string(nil)
		if !s.hurried {
			x, put, err = f.settle(ctx, x)
			if s.hurry(ctx); err != nil && !s.hurried {
				return nil, err
			}
		}
		chosen[n] = x
		var knobs []*KnobResult
		if !s.hurried {
			knobs, err = f.prove(ctx, x, put)
			s.hurry(ctx)
		}
		if s.hurried && knobs == nil {
			if knobs, err = f.last(proof, x); err != nil && proof.Err() != nil {
				continue
			}
		}
		if err != nil {
			return nil, err
		}
		r.Knobs = append(r.Knobs, knobs...)
		f.board.forget(nil)
		fields[n] = nil
	}
	return chosen, nil
}

// field searches a board and measures what was found; nil where the context ended before
// anything was.
func (s *search) field(ctx context.Context, b *board, more [][]scenarios.Setting) (*field, error) {
	p := s.pool(b, "search")
	ends, err := p.find(ctx, more)
	if err != nil && ctx.Err() == nil {
		return nil, err
	}
	f, err := s.finalists(ctx, p, ends)
	if ctx.Err() != nil {
		return s.halfway(p, ends), nil
	}
	if err != nil {
		return nil, err
	}
	if err := f.tradeOff(ctx, p); err != nil && ctx.Err() == nil {
		return nil, err
	}
	b.forget(f.tries)
	return f, nil
}

// decide chooses for every board, and polishes the choice.
func (s *search) decide(ctx context.Context, fields []*field) ([]point, error) {
	chosen := s.choose(fields)
	for n, f := range fields {
		x, err := f.polish(ctx, chosen[n])
		if err != nil && ctx.Err() == nil {
			return nil, err
		}
		if x, err = f.hold(ctx, x); err != nil && ctx.Err() == nil {
			return nil, err
		}
		if x, err = f.brink(ctx, x); err != nil && ctx.Err() == nil {
			return nil, err
		}
		chosen[n] = x
		if len(fields) > fewBoards {
			f.leave()
		}
	}
	if s.Caps == Whole {
		chosen = s.choose(fields) // with what polishing has tried besides
	}
	return chosen, nil
}

// choose takes a point for every board. Where the caps are the panel's, an overshoot
// costs as little as keeps the panel within them: who saves most for one has it.
func (s *search) choose(fields []*field) []point {
	at := func(price float64) (list []point, within bool) {
		over, variance, hours := 0.0, 0.0, 0.0
		for _, f := range fields {
			f.price = price
			x := f.choose()
			list = append(list, x)
			for i, t := range f.of(x) {
				sc, w := f.score(t), f.board.uses[i].PerHour
				over += float64(w * sc.overshoot)
				sd := float64(w * noise(sc.overshoot, max(1, sc.trials)))
				variance += float64(sd * sd)
				hours += w
			}
		}
		return list, over+float64(capMargin*math.Sqrt(variance)) <= float64(hours*s.MaxOvershoot)
	}
	chosen, within := at(0)
	if s.Caps != Whole || within {
		return chosen
	}
	low, high := 0.0, 1e4
	for range 30 {
		middle := math.Sqrt(max(low, 0.01) * high)
		if _, within := at(middle); within {
			high = middle
		} else {
			low = middle
		}
	}
	chosen, _ = at(high)
	return chosen
}

// was measures the settings of now on the hardware that there was.
func (s *search) was(ctx context.Context, r *Result) error {
	var all sample.Panel
	for _, u := range s.Study.Was.Served() {
		seat, err := trial.SeatOrPlain(u, s.Profile, s.Operator)
		if err != nil {
			return err
		}
		t := sample.Of(seat)
		if _, err := trial.Batch(ctx, seat.Bench, s.Seed, 0, s.Trials, s.Workers, t.Take); err != nil {
			return err
		}
		all = append(all, t)
	}
	score := all.Score()
	r.Was = &score
	return nil
}

// Profile returns what is recommended as one profile for the panel: with parts where
// knobs or tasks want their own.
func (r *Result) Profile() *scenarios.Profile {
	whole := &scenarios.Profile{Name: "tuned"}
	var knobs []*KnobResult
	for _, k := range r.Knobs {
		if len(knobs) == 0 || knobs[0].Combination == k.Combination {
			knobs = append(knobs, k)
		}
	}
	first := knobs[0].Chosen[0]
	if !slices.ContainsFunc(knobs, func(k *KnobResult) bool { return !k.OneProfile() || !same(k.Chosen[0], first) }) {
		only := *first
		only.Name = whole.Name
		return &only
	}
	add := func(name string, p *scenarios.Profile) {
		if len(p.Settings) == 0 && plain(p) {
			return // as the whole is
		}
		for i := range whole.Parts {
			if part := &whole.Parts[i]; same(&part.Profile, p) {
				part.For = append(part.For, name)
				return
			}
		}
		part := scenarios.Part{For: []string{name}, Profile: *p}
		part.Name = whole.Name
		whole.Parts = append(whole.Parts, part)
	}
	for _, k := range knobs {
		if k.OneProfile() {
			add(k.Knob.Name, k.Chosen[0])
			continue
		}
		for i, p := range k.Chosen {
			name := k.Before[i].Use.Task.Name
			if slices.ContainsFunc(knobs, func(o *KnobResult) bool {
				return o != k && slices.ContainsFunc(o.Before, func(t *sample.Trials) bool { return t.Use.Task.Name == name })
			}) {
				name = k.Knob.Name + "/" + name
			}
			add(name, p)
		}
	}
	return whole
}

// Suited is how settings suit one of several rigs and people.
type Suited struct {
	Name          string
	Before, After sample.Score
	Own           sample.Score // with the settings that suit it best
}

// suit compares the settings for several rigs and people with those that suit each best.
func (s *search) suit(ctx context.Context, r *Result) error {
	if len(s.Combinations) < 2 {
		return nil
	}
	for _, c := range s.Combinations {
		only := *s.Study
		only.Combinations, only.Operator, only.Panel, only.For, only.Progress = nil, c.Operator, s.Panel.With(c.on), Speed, nil
		own, err := Run(ctx, &only)
		if err != nil {
			return err
		}
		x := Suited{Name: c.Name, Own: own.After}
		var before, after sample.Panel
		for _, k := range r.Knobs {
			if k.Combination == c.Name {
				before, after = append(before, k.Before...), append(after, k.After...)
			}
		}
		x.Before, x.After = before.Score(), after.Score()
		r.Many = append(r.Many, x)
		s.trials.Add(int64(own.Trials))
		s.evaluations.Add(int64(own.Evaluations))
	}
	return nil
}

// sum weighs the finished knobs.
func (r *Result) sum() {
	var before, after sample.Panel
	for _, k := range r.Knobs {
		before = append(before, k.Before...)
		after = append(after, k.After...)
	}
	r.Before, r.After = before.Score(), after.Score()
	r.Gain = less(after, before, 1, r.Study.Seed)
	r.Meets = r.Study.meets(after, r.After)
	r.NowMeets = r.Study.meets(before, r.Before)
}

// meets says whether trials are within the caps, as far as they tell.
func (s *Study) meets(all sample.Panel, of sample.Score) bool {
	if s.Caps == Whole {
		return of.Overshoot <= s.MaxOvershoot && of.Lost <= s.MaxLost
	}
	for _, t := range all {
		if x := t.Summary(); x.Overshoot.Low > s.MaxOvershoot || x.Fated && x.Lost.Low > s.MaxLost {
			return false
		}
	}
	return true
}

// Changed says whether anything is recommended.
func (r *Result) Changed() bool {
	for _, k := range r.Knobs {
		if k.Changed {
			return true
		}
	}
	return false
}
