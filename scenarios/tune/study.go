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
// # Method, knob by knob
//
//   - A Latin hypercube of what can be chosen, and what people usually set (the curves
//     at a modest and a brisk gain, pulses as they are and as long as no frame can
//     miss), race: all meet the same people, and after each heat the better half goes
//     on, but those that a paired test already shows to be behind drop out, those that
//     can hardly be told from the last that stays do not, and the best with each word
//     (curve, home, output) stays.
//   - From the best few CMA-ES moves the numbers, words kept, with a fresh block of
//     trials each generation; then every other word is tried.
//   - A knob with several tasks then gets an acceleration for each of them, where
//     the program makes it.
//   - The finalists, among them the settings of now and all built-in profiles, meet
//     fresh people. Which of them beat the settings of now by more than 3 % is tested
//     with Holm over the finalists; those within the caps (three quarters of the one on
//     overshoot) are preferred, and [Aim] says which of them is taken. An overshoot
//     that only its luck keeps from the cap is measured four times as long.
//   - The choice is polished: each knob walks to neighbours that a paired test shows
//     to be quicker, each round among fresh people, while the panel stays within the
//     caps. The best of the last panels on that way that keep their distance from them
//     among many fresh people is the one.
//   - What does not pay is put back. The choice and the settings of now then meet
//     yet other people: before and after are measured on those alone, so that
//     neither is flattered by having been chosen.
//
// Knobs share no settings, so each is searched by itself, at several prices of an
// overshoot; the choice among all finalists is made for the panel as a whole, to
// which the caps apply.
//
// # Questions of design
//
// [Decide] compares ways to build a knob instead: one accelerated knob or two rings,
// press-for-coarse or acceleration, which output, where an acceleration lives. Each of
// them is searched and polished by itself, so that none is judged by settings that suit
// another one.
//
// Left out: that people have to get used to a setting, landing, press-for-coarse of
// other sizes than the built-in one (a decision tries some), and curves of more than
// three numbers.
package tune

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Study is a search.
type Study struct {
	Panel        *scenarios.Panel
	Profile      *scenarios.Profile // what is set now
	Operator     *scenarios.Operator
	MaxOvershoot float64 // share of dialings, 0 to 1
	MaxLost      float64 // share of detents, 0 to 1
	For          Aim
	Trials       int // per task and finalist, and again for the proof
	Seed         uint64
	Workers      int
	Effort       float64 // share of the usual trials to search with; 0 is 1

	// Progress may be nil; best says what is best so far, "" where nothing new is.
	Progress func(done, all int, best string)
}

// Aim is which point of the front is wanted.
type Aim string

// The aims. All stay within the caps where anything does.
const (
	Speed   Aim = "speed"   // least time
	Balance Aim = "balance" // least time, an overshoot counting as half a dialing more
	Calm    Aim = "calm"    // an overshoot counting as four dialings more
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
	Dead        []Dead        // those that nothing tried turns into a moving number
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

// Dead is a knob that was searched in vain.
type Dead struct {
	Knob string
	Err  error // why its number does not move
}

// errDead says that nothing that may be changed moves a knob's number.
var errDead = errors.New("nothing that may be changed moves its number")

// KnobResult is what was found for a knob.
type KnobResult struct {
	Knob        *scenarios.Knob
	Now         []*scenarios.Profile // by task
	Chosen      []*scenarios.Profile // by task; equal where all tasks have one
	Changed     bool                 // false: nothing found that beats the settings of now by more than 3 %
	Before      sample.Panel         // of the proof
	After       sample.Panel
	Front       []Finalist
	Changes     []Change   // one at a time, best first
	Unimportant []string   // keys that were put back because they do not matter
	Sensitivity []Neighbor // of settings around the choice
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
	Before, After sample.Score
	Gain          paired.Average
}

// search is a study at work.
type search struct {
	*Study
	trials, evaluations, done atomic.Int64
	planned                   int64
	besides                   *search // whose work counts as this one's progress too, or nil
	hurried                   bool    // it was interrupted, and only proves what was found
}

// interrupted is how many trials a task an interrupted search still does at most, so
// that the proof of what it found takes a moment.
const interrupted = 400

// hurry cuts the trials that are still to come once the context has ended.
func (s *search) hurry(ctx context.Context) {
	if ctx.Err() != nil && !s.hurried {
		study := *s.Study
		study.Trials = min(study.Trials, interrupted)
		s.Study, s.hurried = &study, true
	}
}

func (s *search) block(stage string, n int) uint64 {
	return uint64(draw.NewTrial(s.Seed, "tune "+stage, n))
}

func (s *search) say(best string) {
	if s.Progress != nil {
		done, planned := s.done.Load(), s.planned
		if s.besides != nil {
			done, planned = done+s.besides.done.Load(), planned+s.besides.planned
		}
		s.Progress(int(min(done, planned-1)), int(planned), best)
	}
}

// Run searches. When the context ends it proves what was found until then, which takes
// a moment, and returns it marked as partial, with the context's error. Knobs that were
// not begun are not in it; where none was, the result is nil.
func Run(ctx context.Context, study *Study) (*Result, error) {
	s := &search{Study: study}
	r := &Result{Study: study}
	if len(study.Panel.Served()) == 0 {
		return nil, errors.New("the panel has no tasks")
	}
	for i := range study.Panel.Knobs {
		s.planned += s.plan(&study.Panel.Knobs[i])
	}
	var knobs []*finals
	for i := range study.Panel.Knobs {
		if len(study.Panel.Knobs[i].Tasks) == 0 {
			continue
		}
		if ctx.Err() != nil {
			break
		}
		f, err := s.knob(ctx, &study.Panel.Knobs[i], i)
		if errors.Is(err, errDead) {
			r.Dead = append(r.Dead, Dead{study.Panel.Knobs[i].Name, err})
			continue
		}
		if err != nil {
			return nil, err
		}
		knobs = append(knobs, f)
	}
	if len(knobs) == 0 && ctx.Err() == nil {
		return nil, r.dead()
	}
	if len(knobs) == 0 {
		return nil, ctx.Err()
	}
	s.hurry(ctx)
	s.judge(knobs)
	// An interrupted search still proves what it found: a fraction of a second.
	proof := context.WithoutCancel(ctx)
	chosen, err := s.choose(proof, knobs)
	if err != nil {
		return nil, err
	}
	if err := s.polish(ctx, knobs, chosen); err != nil && ctx.Err() == nil {
		return nil, err
	}
	s.hurry(ctx)
	r.Study = s.Study
	for i, c := range chosen {
		if err := s.prove(proof, knobs[i], c); err != nil {
			return nil, err
		}
		r.Knobs = append(r.Knobs, knobs[i].KnobResult)
	}
	r.sum()
	if ctx.Err() == nil {
		if err := s.robust(ctx, r); err != nil && ctx.Err() == nil {
			return nil, err
		}
	}
	r.Partial = ctx.Err() != nil
	r.Trials, r.Evaluations = int(s.trials.Load()), int(s.evaluations.Load())
	return r, ctx.Err()
}

// dead says which knobs are, and why.
func (r *Result) dead() error {
	var all []error
	for _, d := range r.Dead {
		all = append(all, fmt.Errorf("knob %s is dead: %w", scenarios.Shown(d.Knob), d.Err))
	}
	return errors.Join(all...)
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
	r.Meets = r.After.Overshoot <= r.Study.MaxOvershoot && r.After.Lost <= r.Study.MaxLost
	r.NowMeets = r.Before.Overshoot <= r.Study.MaxOvershoot && r.Before.Lost <= r.Study.MaxLost
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
