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
//  1. The crossing step is a key repeat or the program's own: run-on from repeat.
//  2. The person believed more to be missing than was, by half of the excess or
//     more, because steps of earlier detents were still on the way: run-on from
//     backlog where any of their pulses had waited in the queue, lag (of the
//     display or the path) where none had.
//  3. The hand turned more detents than planned, and these bring half of what the
//     stroke brought too much, or more: stroke noise.
//  4. The profile lands on multiples, and the crossing step did: landing rule.
//  5. The stroke brought more than its planned detents do on average, and that
//     weighs more than the person's error: gain higher than planned.
//  6. The person believed that the stroke brings less than it does on average, or
//     aimed past the target: wrong estimate of the person.
package overshoot

import (
	"context"
	"runtime"
	"slices"
	"sync"
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
	Near     paired.Estimate // share of overshoots in the nearer half of the distances
	Far      paired.Estimate // in the farther half
	Slow     paired.Estimate // where the last stroke before was turned at one of the three slower paces
	Quick    paired.Estimate // at one of the three quicker ones
	Alarms   paired.Estimate // share of trials that showed an alarm code on the way
	Worst    []Worst
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
		bench *trial.Bench
		all   []Trial
		pace  []int
		far   []int64
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
			cells = append(cells, c)
		}
	}
	var (
		next, done atomic.Int64
		wait       sync.WaitGroup
	)
	workers := s.Workers
	if workers < 1 {
		workers = runtime.NumCPU()
	}
	for range workers {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= len(cells) {
					return
				}
				c := cells[i]
				w := newWatcher(c.bench, s.Profile.Acceleration.Landing > 0 && c.found.Stays == nil)
				for n := range s.Trials {
					if n%64 == 0 {
						if ctx.Err() != nil {
							return
						}
						if s.Progress != nil {
							s.Progress(int(done.Add(min(64, int64(s.Trials-n)))), len(cells)*s.Trials)
						}
					}
					t, pace := w.run(s.Seed, n)
					t.Task, t.Operator = c.found.Task.Name, c.found.Operator
					c.all = append(c.all, t)
					c.pace = append(c.pace, pace)
					d := c.found.Task.Scale().Distance(t.Start, t.Target)
					c.far = append(c.far, max(d, -d))
				}
				c.done = true
			}
		})
	}
	wait.Wait()
	for _, c := range cells {
		if !c.done {
			r.Partial = true
			continue
		}
		c.found.sum(c.bench, c.all, c.pace, c.far)
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
	landing bool
}

func newWatcher(b *trial.Bench, landing bool) *watcher {
	w := &watcher{bench: b, dials: b.Dials(), landing: landing}
	w.stories = make([]story, len(w.dials))
	b.Trace = func(dial int, a hand.Act) { w.stories[dial].acts = append(w.stories[dial].acts, a) }
	b.Path = func(dial int, e encoder.Event) {
		s := &w.stories[dial]
		switch e.Kind {
		case encoder.Turned:
			s.turned = append(s.turned, e.At)
			s.dirs = append(s.dirs, e.Dir)
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

// run does a trial and returns it with the pace of the last stroke before the
// target was crossed, or of the last stroke that was quick where it was not.
func (w *watcher) run(seed uint64, n int) (Trial, int) {
	for i := range w.stories {
		s := &w.stories[i]
		s.acts, s.steps, s.turned, s.dirs = s.acts[:0], s.steps[:0], s.turned[:0], s.dirs[:0]
		clear(s.waited)
	}
	t := Trial{Number: n, Result: w.bench.Run(seed, n)}
	pace, worst := 0, -1
	for i, d := range w.dials {
		if o := t.ByDial[i]; o >= 1 && (worst < 0 || o > t.Overshoot) {
			worst, t.Overshoot, t.Ring = i, o, d.Name
		}
		for _, a := range w.stories[i].acts {
			if a.Kind == hand.Stroke {
				pace = max(pace, a.Pace)
			}
		}
	}
	t.Overshot = worst >= 0
	if worst >= 0 {
		d, s := w.dials[worst], &w.stories[worst]
		s.scale, s.start, s.target, s.within, s.landing = d.Scale, d.Part(t.Start), d.Part(t.Target), d.Tolerance, w.landing
		var ok bool
		if t.Cause, ok = s.cause(); !ok {
			t.Cause = FromPerson // past only on the way back: the approach from the other side was misjudged
		}
	}
	return t, pace
}

// sum works out what is said of a cell.
func (f *Found) sum(b *trial.Bench, all []Trial, pace []int, far []int64) {
	f.Trials = len(all)
	dials := b.Dials()
	for _, d := range dials {
		f.Rings = append(f.Rings, Ring{Name: d.Name, Trials: f.Trials, Sizes: map[int64]int{}})
	}
	middle := slices.Clone(far)
	slices.Sort(middle)
	half := middle[len(middle)/2]
	var overshot, alarms int
	var extra []float64
	var n, hits [4]int // near, far, slow, quick
	for i, t := range all {
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
		kinds := [2]int{0, 2}
		if far[i] >= half {
			kinds[0] = 1
		}
		if pace[i] >= 3 {
			kinds[1] = 3
		}
		for _, k := range kinds {
			n[k]++
			if t.Overshot {
				hits[k]++
			}
		}
		if !t.Overshot {
			continue
		}
		overshot++
		f.Causes[t.Cause]++
		if !t.Timeout && t.PastAt > 0 {
			extra = append(extra, float64(t.TimeToTarget-t.PastAt)/1e9)
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
	share := func(k int) paired.Estimate { return paired.ShareInterval(hits[k], max(1, n[k])) }
	f.Near, f.Far, f.Slow, f.Quick = share(0), share(1), share(2), share(3)
	if len(extra) > 0 {
		f.Extra = paired.QuantileInterval(extra, 0.5)
	}
	slices.SortStableFunc(f.Worst, func(a, b Worst) int { return int(b.Steps - a.Steps) })
	f.Worst = f.Worst[:min(len(f.Worst), worstShown)]
}
