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
//     where none had; else the person judged wrongly what the clicks since the
//     look would bring: wrong estimate of the person.
//  3. The hand turned more detents than planned, and these bring half of what the
//     stroke brought too much, or more: stroke noise.
//  4. The detent that crossed the target landed on a multiple of its gain, and
//     carried the number by half of the excess or more: landing rule.
//  5. The stroke brought more than its planned detents do on average, and that
//     weighs more than the person's error: gain higher than planned.
//  6. The person believed that the stroke brings less than it does on average, or
//     aimed past the target: wrong estimate of the person. So is what went past
//     only on the way back from the other side.
//
// # Growth
//
// How overshooting grows is shown by quarters of the trials: by distance, and by
// the speed of the arriving stroke, the one that first brought a number to its
// target (of several rings the fastest), its detents over its whole time.
package overshoot

import (
	"context"
	"slices"
	"sync/atomic"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/paired"
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
	Progress  func(done, all int) // may be nil
	Replay    string              // how follow is told panel, rig and profile, where they are not the ones it takes by itself
	Each      func(Trial)         // every trial, in the order of tasks, operators and numbers; may be nil
}

// Trial is one trial as it is written for an independent count.
type Trial struct {
	Task, Operator string
	Number         int
	Ring           string // of the largest overshoot; "" for a number dialed as a whole
	Overshoot      int64  // steps of that ring
	trial.Result
	Cause    Cause
	Overshot bool
	Dials    int     // how many rings or digits the task has; ByDial has so many
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

// Found is what was found on a task with an operator.
type Found struct {
	Task     *scenarios.Task
	Knob     string
	Operator string
	Stays    error // the profile cannot be set on this knob, which stays plain
	Trials   int
	Timeouts int
	Rings    []Ring
	Share    paired.Estimate // of trials with an overshoot on any ring
	Extra    paired.Estimate // s, median time from the first excursion to the end, over the overshoots
	Causes   [causes]int
	Distance []Quarter       // by distance, steps of the whole number
	Speed    []Quarter       // by the speed of the arriving stroke, detents/s
	Alarms   paired.Estimate // share of trials that showed an alarm code on the way
	Worst    []Worst
}

// Quarter is what was found in about a quarter of the trials, those up to a
// distance or speed and beyond the quarter before.
type Quarter struct {
	To     float64
	Trials int
	Share  paired.Estimate // of overshoots
}

// quarters divides trials by a quantity that is above 0 where it is known. What is
// equal stays together.
func quarters(all []Trial, of func(*Trial) float64) []Quarter {
	var known []float64
	for i := range all {
		if x := of(&all[i]); x > 0 {
			known = append(known, x)
		}
	}
	slices.Sort(known)
	var ends []float64
	for q := 1; q <= 4 && len(known) > 0; q++ {
		ends = append(ends, known[max(0, len(known)*q/4-1)])
	}
	ends = slices.Compact(ends)
	trials, overshot := make([]int, len(ends)), make([]int, len(ends))
	for i := range all {
		if x := of(&all[i]); x > 0 {
			k, _ := slices.BinarySearch(ends, x)
			trials[k]++
			if all[i].Overshot {
				overshot[k]++
			}
		}
	}
	list := make([]Quarter, len(ends))
	for k := range list {
		list[k] = Quarter{ends[k], trials[k], paired.ShareInterval(overshot[k], trials[k])}
	}
	return list
}

// Worst is a trial to look at.
type Worst struct {
	Trial int
	Steps int64 // of its ring
}

// worstShown is how many of the worst trials are named.
const worstShown = 3

// Result is the answer.
type Result struct {
	Study   *Study
	Found   []*Found
	Partial bool
}

// Run does the trials. When the context ends, what was finished is returned with
// its error, marked as partial.
func Run(ctx context.Context, s *Study) (*Result, error) {
	r := &Result{Study: s}
	type cell struct {
		found *Found
		cell  trial.Cell
		bench *trial.Bench
		all   []Trial
		done  bool
	}
	var cells []*cell
	for _, u := range s.Tasks {
		for _, o := range s.Operators {
			c := &cell{found: &Found{Task: u.Task, Knob: u.Knob.Name, Operator: o.Name}}
			x := trial.Cell{Task: u.Task, Rings: u.Knob.Rings, Inner: &u.Knob.Inner.Rig, Profile: s.Profile, Operator: o, Others: u.Others}
			if u.Knob.Outer != nil {
				x.Outer = &u.Knob.Outer.Rig
			}
			var err error
			if c.bench, err = trial.NewBench(x); err != nil {
				c.found.Stays = err
				x.Profile = &scenarios.Profile{Name: "plain"}
				if c.bench, err = trial.NewBench(x); err != nil {
					return nil, err
				}
			}
			c.cell = x
			cells = append(cells, c)
		}
	}
	var done atomic.Int64
	_ = trial.Each(ctx, s.Workers, len(cells), func(i int) { // ctx is asked below
		c := cells[i]
		w := newWatcher(c.bench, &c.cell)
		for n := range s.Trials {
			if n%64 == 0 {
				if ctx.Err() != nil {
					return
				}
				if s.Progress != nil {
					s.Progress(int(done.Add(min(64, int64(s.Trials-n)))), len(cells)*s.Trials)
				}
			}
			t := w.run(s.Seed, n)
			t.Task, t.Operator = c.found.Task.Name, c.found.Operator
			c.all = append(c.all, t)
			d := c.found.Task.Scale().Distance(t.Start, t.Target)
			c.all[n].Distance = max(d, -d)
		}
		c.done = true
	})
	for _, c := range cells {
		r.Partial = r.Partial || !c.done
		if len(c.all) == 0 {
			continue
		}
		c.found.sum(c.bench, c.all)
		r.Found = append(r.Found, c.found)
		if s.Each != nil {
			for _, t := range c.all {
				s.Each(t)
			}
		}
	}
	if r.Partial && len(r.Found) == 0 {
		return nil, ctx.Err()
	}
	return r, ctx.Err()
}

// watcher does trials of one bench and keeps each one's story.
type watcher struct {
	bench   *trial.Bench
	dials   []scenarios.Dial
	stories []story
}

func newWatcher(b *trial.Bench, c *trial.Cell) *watcher {
	w := &watcher{bench: b, dials: b.Dials()}
	w.stories = make([]story, len(w.dials))
	lands := landsOn(&c.Profile.Acceleration)
	for i, d := range w.dials {
		rig := c.Inner
		if d.Ring == scenarios.Outer && c.Outer != nil {
			rig = c.Outer
		}
		s := &w.stories[i]
		s.scale, s.within, s.lands = d.Scale, d.Tolerance, lands
		// The bench has applied the same profile to the same rig.
		if set, err := scenarios.Apply(c.Profile, *rig); err == nil {
			s.latency = int64(set.Display.Latency)
		}
	}
	b.Trace = func(dial int, a hand.Act) { w.stories[dial].acts = append(w.stories[dial].acts, a) }
	b.Path = func(dial int, e encoder.Event) {
		s := &w.stories[dial]
		switch e.Kind {
		case encoder.Turned:
			s.turned = append(s.turned, e.At)
		case encoder.Waits:
			if s.waited == nil {
				s.waited = map[int]bool{}
			}
			s.waited[e.Detent] = true
		case encoder.Stepped:
			s.steps = append(s.steps, e)
		}
	}
	return w
}

// run does a trial.
func (w *watcher) run(seed uint64, n int) Trial {
	for i := range w.stories {
		s := &w.stories[i]
		s.acts, s.steps, s.turned = s.acts[:0], s.steps[:0], s.turned[:0]
		clear(s.waited)
	}
	t := Trial{Number: n, Result: w.bench.Run(seed, n), Dials: len(w.dials)}
	worst := -1
	for i, d := range w.dials {
		s := &w.stories[i]
		s.start, s.target = d.Part(t.Start), d.Part(t.Target)
		if o := t.ByDial[i]; o >= 1 && (worst < 0 || o > t.Overshoot) {
			worst, t.Overshoot, t.Ring = i, o, d.Name
		}
		t.Speed = max(t.Speed, s.speed())
	}
	t.Overshot = worst >= 0
	if t.Overshot {
		t.Cause = w.stories[worst].cause()
	}
	return t
}

// sum works out what is said of a cell.
func (f *Found) sum(b *trial.Bench, all []Trial) {
	f.Trials = len(all)
	dials := b.Dials()
	for _, d := range dials {
		f.Rings = append(f.Rings, Ring{Name: d.Name, Trials: f.Trials, Sizes: map[int64]int{}})
	}
	var overshot, alarms int
	var extra []float64
	for i := range all {
		t := &all[i]
		if t.Timeout {
			f.Timeouts++
		}
		if t.Alarms > 0 {
			alarms++
		}
		for k := range dials {
			if o := t.ByDial[k]; o >= 1 {
				f.Rings[k].Sizes[o]++
			}
		}
		if !t.Overshot {
			continue
		}
		overshot++
		f.Causes[t.Cause]++
		if s, ok := t.Extra(); ok {
			extra = append(extra, s)
		}
		f.Worst = append(f.Worst, Worst{t.Number, t.Overshoot})
	}
	for k := range f.Rings {
		hits := 0
		for _, m := range f.Rings[k].Sizes {
			hits += m
		}
		f.Rings[k].Share = paired.ShareInterval(hits, f.Trials)
	}
	f.Share = paired.ShareInterval(overshot, f.Trials)
	f.Alarms = paired.ShareInterval(alarms, f.Trials)
	f.Distance = quarters(all, func(t *Trial) float64 { return float64(t.Distance) })
	f.Speed = quarters(all, func(t *Trial) float64 { return t.Speed })
	if len(extra) > 0 {
		f.Extra = paired.QuantileInterval(extra, 0.5)
	}
	slices.SortStableFunc(f.Worst, func(a, b Worst) int { return int(b.Steps - a.Steps) })
	f.Worst = f.Worst[:min(len(f.Worst), worstShown)]
}
