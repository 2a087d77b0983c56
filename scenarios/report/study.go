// Package report makes one page of everything that can be said about a panel:
// what dialing on it costs now, where the time goes, what to set, and how sure
// that is.
//
// Somebody who has a knob that disappoints wants to see it, to believe it, and to
// show it to the others in the club; and a year later to do it again. So a report
// runs the studies that answer those questions (tune, compare, explain),
// follows single dialings and single clicks, and puts figures, tables and the
// printed card of what to set on one page that needs nothing else to be read: no
// script, no font, no address on the web. The figures come as files too, and as
// characters for a terminal.
//
// Before is the profile that is set now, after is what tune recommends. The search
// draws its people from seeds of its own, so the trials shown here, those of the
// seed itself, are people that it never met; they are the trials that `compare` and
// `overshoot` do under the same seed. Everything on the page that is not folded comes
// from them: the verdict, what each change does by itself, where the time goes.
//
// What a report leaves out: comparing more than two settings (compare does), and
// why a single trial went past its target (overshoot does).
package report

import (
	"context"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/evidence"
	"dialwright/scenarios/explain"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/tune"
)

// Study is what a report is made of.
type Study struct {
	Panel        *scenarios.Panel
	Profile      *scenarios.Profile // what is set now
	Operator     *scenarios.Operator
	MaxOvershoot float64 // cap for the recommendation, share of dialings, 0 to 1
	MaxLost      float64 // cap for the recommendation, share of detents, 0 to 1
	For          tune.Aim
	Trials       int // a task, before and after
	Seed         uint64
	Workers      int
	Evidence     []evidence.Check // of a run made before
	Checks       bool             // make a small one where there is none

	Progress func(done, all int) // may be nil; called from several goroutines
}

// Result is what the studies found.
type Result struct {
	Study    *Study
	Search   *Search
	Dialings []*Dialing // task by task, of the knobs that the search finished
	Before   sample.Score
	After    sample.Score
	Gain     paired.Average   // mean time of a dialing, after less before, s
	Explain  *explain.Result  // of the settings before; nil where the report was interrupted, or no knob can be tried as it is set
	Changes  []Change         // one at a time
	Evidence []evidence.Check // none where it was not asked for, or interrupted
	Stories  []Story          // of the main task
	Turns    []FollowedTurn   // the same turn before and after
	Partial  bool
}

// How many trials a task each combination of links gets, and what was found after an
// interruption: the latter takes a moment.
const (
	explained = 400
	quick     = 200
)

// Run does the studies. When the context ends, it reports on the knobs for which a
// recommendation was found by then, marked as partial, with the context's error;
// without one the result is nil.
func Run(ctx context.Context, s *Study) (*Result, error) {
	r := &Result{Study: s}
	var err error
	var found []proposal
	found, r.Search, err = s.search(ctx)
	if r.Search == nil {
		return nil, err
	}
	err = r.dial(ctx, found)
	// What was found is shown in full even after an interruption, on few trials.
	if ctx.Err() != nil {
		study := *s
		study.Trials = min(s.Trials, r.Search.each, quick)
		r.Study, r.Dialings = &study, nil
		err = r.dial(context.WithoutCancel(ctx), found)
	}
	if err != nil {
		return nil, err
	}
	if err := r.single(context.WithoutCancel(ctx)); err != nil {
		return nil, err
	}
	r.sum()
	if err := r.tell(); err != nil {
		return nil, err
	}
	if live := r.live(); ctx.Err() == nil && len(live.Knobs) > 0 {
		r.Explain, err = explain.Run(ctx, &explain.Study{
			Panel: live, Profile: s.Profile, Operator: s.Operator, Trials: min(s.Trials, explained), Seed: s.Seed, Workers: s.Workers,
			Progress: func(done, all int) { s.say(explaining, done, all) },
		})
		if err != nil && ctx.Err() == nil {
			return nil, err
		}
		if ctx.Err() != nil {
			r.Explain = nil // as below
		}
	}
	if ctx.Err() == nil {
		if r.Evidence = s.Evidence; r.Evidence == nil && s.Checks {
			r.Evidence, err = evidence.Checks(ctx, evidence.Small, s.Workers, func(done, all int) { s.say(proving, done, all) })
		}
		if err != nil && ctx.Err() == nil {
			return nil, err
		}
		if ctx.Err() != nil {
			r.Evidence = nil // a part of it would look like all of it
		}
	}
	r.Partial = ctx.Err() != nil
	return r, ctx.Err()
}

// live is the panel without the knobs that cannot be tried as they are set, of which
// there is nothing to explain.
func (r *Result) live() *scenarios.Panel {
	p := *r.Study.Panel
	p.Knobs = slices.DeleteFunc(slices.Clone(p.Knobs), func(k scenarios.Knob) bool {
		return slices.ContainsFunc(r.Search.Instead, func(i tune.InsteadReport) bool { return i.Knob == k.Name }) ||
			!slices.ContainsFunc(r.Dialings, func(d *Dialing) bool { return d.Use.Knob.Name == k.Name })
	})
	return &p
}

// stage is a part of a report's work.
type stage int

const (
	searching stage = iota
	watching
	explaining
	proving
	stages
)

// effort is about how much of a hundredth of the work each stage is.
var effort = [stages]int{74, 6, 10, 10}

// say reports how far a stage is.
func (s *Study) say(at stage, done, all int) {
	if s.Progress == nil || all == 0 {
		return
	}
	const fine = 1000
	sum := effort[at] * fine * min(done, all) / all
	for _, e := range effort[:at] {
		sum += e * fine
	}
	s.Progress(sum, 100*fine)
}

// sum weighs the tasks.
func (r *Result) sum() {
	var before, after sample.Panel
	for _, d := range r.Dialings {
		before, after = append(before, d.Before.Trials), append(after, d.After.Trials)
	}
	r.Before, r.After = before.Score(), after.Score()
	r.Gain = after.Less(1, before, sample.Source(r.Study.Seed, ""))
}
