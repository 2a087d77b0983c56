// Package overshoot says how far past the target a number goes, how often, and
// why.
//
// An overshoot is the largest excursion past the tolerance, ring by ring, in the
// steps of that ring; a trial overshot when it is a step or more. Its extra time is
// the time from the first instant past the target until the number is right for
// good.
//
// # Causes
//
// Each overshoot has one cause, found from the trial itself: the step that crossed
// the target, the stroke that it came from, and what the person believed when
// planning that stroke. The rules are asked in this order:
//
//  1. The crossing step is a key repeat or the program's own, or such steps since
//     the stroke make up half of the excess or more: run-on from repeat.
//  2. The person believed more to be missing than was, by half of the excess or
//     more. If half of that were steps of detents that had been turned before the
//     look and were not on the screen yet, it is run-on from backlog where any of
//     their pulses had waited in the queue, and lag (of the display or the path)
//     where none had; else the stroke before brought something else than was
//     thought, and rules 3, 6 and 7 are asked of it.
//  3. The hand turned more detents than planned, and these bring half of what the
//     stroke brought too much, or more: stroke noise.
//  4. The detent that crossed the target landed on a multiple of its gain, and
//     carried the number by half of the excess or more: landing rule.
//  5. The person meant the stroke to go past the target by half of the excess or
//     more, because every other one was expected to take longer: planned past the
//     target.
//  6. The stroke brought more than its planned detents do on average, and that
//     weighs more than the person's error: gain higher than planned.
//  7. The person believed that the stroke brings less than it does on average: wrong
//     estimate of the person. So is what went past only on the way back from the
//     other side.
//
// # Many trials
//
// Up to [sample.Kept] trials of a task and an operator are kept one by one. Beyond that
// counts and histograms are kept, which do not grow: shares, sizes and causes stay exact,
// times are rounded to ms, speeds to a ten-thousandth of a detent a second or to five
// digits.
//
// # Growth
//
// How overshooting grows is shown by quarters of the trials: by distance, and by
// the speed of the arriving stroke, the one that first brought a number to its
// target (of several rings the fastest), its detents over its whole time.
package overshoot

import (
	"context"
	"sync/atomic"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// Study is what is asked.
type Study struct {
	Tasks     []scenarios.Served
	Profile   *scenarios.Profile
	Operators []*scenarios.Operator
	Trials    int
	Seed      uint64
	Workers   int
	Every     bool                // keep every trial, for Trials
	Progress  func(done, all int) // may be nil

	// Replay returns the flags with which follow does the dialings of a task and an
	// operator again, but for seed and number.
	Replay func(task, operator string) string
}

// Trial is one trial as it is written for an independent count.
type Trial struct {
	Number    int
	Ring      string // of the largest overshoot; "" for a number dialed as a whole
	Overshoot int64  // steps of that ring
	trial.Result
	Cause    Cause
	Overshot bool
	Distance int64   // steps of the whole number
	Speed    float64 // detents/s of the arriving stroke; 0 where none arrived
}

// Extra returns how long it took from the first instant past the target until the
// number was right for good, s; false for a trial that did not overshoot or was
// never done.
func (t *Trial) Extra() (s float64, ok bool) {
	return float64(t.TimeToTarget-t.PastAt) / 1e9, t.Overshot && !t.Timeout && t.PastAt > 0
}

// Ring is what was found on one dial of a task: the whole number, a ring, a digit.
type Ring struct {
	Name   string
	Trials int
	Share  paired.Estimate
	Sizes  map[int64]int // steps → trials, overshoots only
}

// Answer is what was found on a task with an operator.
type Answer struct {
	*sample.Trials
	Operator string
	Rings    []Ring
	Extra    paired.Estimate // s, median time from the first excursion to the end, over the overshoots
	Causes   [causes]int
	Distance []Quarter       // by distance, steps of the whole number
	Speed    []Quarter       // by the speed of the arriving stroke, detents/s
	Alarms   paired.Estimate // share of trials that showed an alarm code on the way
	Worst    []Worst

	found found
	every []Trial // where the study asks for them
}

// Quarter is what was found in about a quarter of the trials, those up to a
// distance or speed and beyond the quarter before.
type Quarter struct {
	To     float64
	Trials int
	Share  paired.Estimate // of overshoots
}

// Worst is a trial to look at.
type Worst struct {
	Trial int
	Steps int64 // of its ring
}

// worstShown is how many of the worst trials are named.
const worstShown = 3

// Result is the answers, task by task, operator by operator.
type Result struct {
	Study   *Study
	Answers []*Answer
	Partial bool
}

// Run does the trials. When the context ends, what was finished is returned with
// its error, marked as partial.
func Run(ctx context.Context, s *Study) (*Result, error) {
	r := &Result{Study: s}
	var all []*Answer
	var seats []*trial.Seat
	var grips trial.Grips
	for _, u := range s.Tasks {
		for _, o := range s.Operators {
			seat, err := grips.SeatOrPlain(u, s.Profile, o)
			if err != nil {
				return nil, err
			}
			seats = append(seats, seat)
			a := &Answer{Trials: sample.Of(seat), Operator: o.Name}
			for range seat.Dials() {
				a.found.sizes = append(a.found.sizes, map[int64]int{})
			}
			all = append(all, a)
		}
	}
	faults := make([]error, len(seats)) // trials that were given up
	var done atomic.Int64
	_ = trial.Each(ctx, s.Workers, len(all), func(i int) { // ctx is asked below
		w, a := newWatcher(seats[i]), all[i]
		for n := range s.Trials {
			if ctx.Err() != nil {
				return
			}
			if n%64 == 0 && s.Progress != nil {
				s.Progress(int(done.Add(min(64, int64(s.Trials-n)))), len(all)*s.Trials)
			}
			t := w.run(s.Seed, n)
			if faults[i] = seats[i].Bench.Err(); faults[i] != nil {
				return
			}
			a.take(&t, s.Every)
		}
	})
	for i, a := range all {
		if faults[i] != nil {
			return nil, faults[i]
		}
		r.Partial = r.Partial || a.Len() < s.Trials
		if a.Len() == 0 {
			continue
		}
		if a.found.folded {
			a.fold()
		}
		a.sum(seats[i].Dials())
		r.Answers = append(r.Answers, a)
	}
	if r.Partial && len(r.Answers) == 0 {
		return nil, ctx.Err()
	}
	return r, ctx.Err()
}

// watcher does trials of one seat and reads what was written down of each.
type watcher struct {
	seat  *trial.Seat
	dials []scenarios.Dial
	lands []int64
	log   trial.Log
	story story
}

func newWatcher(s *trial.Seat) *watcher {
	return &watcher{seat: s, dials: s.Dials(), lands: landsOn(&s.Profile.Acceleration)}
}

// read takes over what was written down of a run.
func (w *watcher) read(r *trial.Run) *story {
	s := &w.story
	*s = story{
		acts: r.Acts, turned: r.Turned, latency: r.Latency, steps: s.steps[:0], waited: s.waited, lands: w.lands,
		scale: r.Scale, start: r.Start, target: r.Target, within: r.Tolerance,
	}
	if s.waited == nil {
		s.waited = map[int]bool{}
	}
	clear(s.waited)
	for _, e := range r.Events {
		switch e.Kind {
		case encoder.Waits:
			s.waited[e.Detent] = true
		case encoder.Stepped:
			s.steps = append(s.steps, e)
		}
	}
	return s
}

// run does a trial.
func (w *watcher) run(seed uint64, n int) Trial {
	w.seat.Record(&w.log, seed, n)
	t := Trial{Number: n, Result: w.log.Result}
	worst := -1
	for i, d := range w.dials {
		if o := t.ByDial[i]; o >= 1 && (worst < 0 || o > t.Overshoot) {
			worst, t.Overshoot, t.Ring = i, o, d.Name
		}
	}
	t.Overshot = worst >= 0
	told := false
	for i := range w.log.Runs {
		r := &w.log.Runs[i]
		if r.Mistaken {
			continue // no target of its own was in sight
		}
		s := w.read(r)
		t.Speed = max(t.Speed, s.speed())
		// Of a dial that was turned twice, the time that it went past.
		if r.Number == worst && !told {
			_, _, _, told = s.crossing()
			t.Cause = s.cause()
		}
	}
	d := w.seat.Task.Scale().Distance(t.Start, t.Target)
	t.Distance = max(d, -d)
	return t
}

// take takes over a trial. Beyond so many as are kept one by one they are folded, some
// at a time.
func (a *Answer) take(t *Trial, every bool) {
	a.Take(t.Number, &t.Result)
	a.found.take(t)
	if every {
		a.every = append(a.every, *t)
	}
	if n := a.Len(); n > sample.Kept && (n-sample.Kept)%256 == 1 {
		a.fold()
	}
}

func (a *Answer) fold() {
	sample.Fold(a.Trials)
	a.found.fold()
}

// sum works out what is said of the trials.
func (a *Answer) sum(dials []scenarios.Dial) {
	n, f := a.Len(), &a.found
	for k, d := range dials {
		hits := 0
		for _, m := range f.sizes[k] {
			hits += m
		}
		a.Rings = append(a.Rings, Ring{d.Name, n, paired.ShareInterval(hits, n), f.sizes[k]})
	}
	a.Causes, a.Worst = f.causes, f.worst
	a.Alarms = paired.ShareInterval(f.alarms, n)
	a.Distance, a.Speed = f.distance.quarters(distanceUnit), f.speed.quarters(speedUnit)
	a.Extra = f.extraTime()
}
