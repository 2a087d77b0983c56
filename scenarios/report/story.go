package report

import (
	"cmp"
	"math"
	"slices"

	"dialwright/encoder"
	"dialwright/scenarios/trial"
)

// Story is one trial of the main task, done by the same person before and after.
type Story struct {
	Kind          string // typical, lucky or unlucky
	Trial         int
	Dialing       *Dialing
	Before, After Course
}

// Course is what happened in a trial. Times are in ns from the target's
// appearance.
type Course struct {
	trial.Result
	Detents []int64 // times
	Shown   []Shown // the number on the screen, its start first
	Waiting []Shown // where it would be once all pulses had come that wait in the firmware
}

// Shown is a number from a time on, in steps from the target: it goes on counting
// where a ring wraps.
type Shown struct{ At, Steps int64 }

// kinds of stories, and at which share of all trials they stand, from the quickest.
var kinds = []struct {
	name  string
	share float64
}{{"typical", 0.5}, {"lucky", 0.1}, {"unlucky", 0.9}}

// tell follows three trials of the main task: the ones that are nearest to the
// median, to the quickest tenth and to the slowest tenth of the trials, before and
// after at once.
func (r *Result) tell() error {
	d := r.main()
	before, after := ranks(d.Before.Trials.Seconds), ranks(d.After.Trials.Seconds)
	var told []int
	for _, k := range kinds {
		best, least := -1, math.Inf(1)
		for n := range before {
			off := math.Abs(before[n]-k.share) + math.Abs(after[n]-k.share)
			if off < least && !slices.Contains(told, n) {
				best, least = n, off
			}
		}
		if best < 0 {
			break // fewer trials than stories
		}
		told = append(told, best)
		r.Stories = append(r.Stories, Story{
			Kind: k.name, Trial: best, Dialing: d,
			Before: d.Before.follow(r.Study.Seed, best), After: d.After.follow(r.Study.Seed, best),
		})
	}
	return r.turn(d)
}

// ranks says which share of the sample lies below each value; ties share theirs.
func ranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	out := make([]float64, len(x))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		for _, n := range order[i:j] {
			out[n] = float64(i+j) / 2 / float64(len(x))
		}
		i = j
	}
	return out
}

// moment is something that changes the number, or what waits for it.
type moment struct {
	at    int64
	dial  int
	part  int64 // the number of the dial from now on; -1: unchanged
	waits int64 // by how much the waiting steps change, of the whole number
}

// follow does a trial again and tells what happened.
func (w *Way) follow(seed uint64, n int) Course {
	var log trial.Log
	w.seat.Record(&log, seed, n)
	c := Course{Result: log.Result}
	type key struct{ run, detent int }
	type stay struct{ from, until int64 }
	waits := map[key][]stay{}
	worth := map[key]int64{}
	var order []key
	var moments []moment
	for i := range log.Runs {
		r := &log.Runs[i]
		c.Detents = append(c.Detents, r.Turned...)
		for _, e := range r.Events {
			k := key{i, e.Detent}
			switch e.Kind {
			case encoder.Waits:
				if waits[k] == nil {
					order = append(order, k)
				}
				waits[k] = append(waits[k], stay{e.At, -1})
			case encoder.Pressed, encoder.Lost:
				if e.Kind == encoder.Lost && e.Fate != encoder.QueueDropped && e.Fate != encoder.Cleared {
					break // it had been pressed
				}
				for i := range waits[k] {
					if s := &waits[k][i]; s.until < 0 {
						s.until = e.At
						break
					}
				}
			case encoder.Stepped:
				moments = append(moments, moment{at: e.At + r.Latency, dial: r.Number, part: e.Value})
				worth[k] += int64(e.Dir) * e.Count * r.Place
			}
		}
	}
	for _, k := range order {
		if worth[k] == 0 {
			continue
		}
		from, until := waits[k][0].from, int64(0)
		for _, s := range waits[k] {
			until = max(until, s.until)
		}
		moments = append(moments, moment{from, log.Runs[k.run].Number, -1, worth[k]}, moment{until, log.Runs[k.run].Number, -1, -worth[k]})
	}
	slices.SortStableFunc(moments, func(a, b moment) int { return cmp.Compare(a.at, b.at) })

	task, dials := w.seat.Task, w.seat.Dials()
	scale := encoder.Scale{Count: task.Count(), Wrap: task.Wrap}
	whole, steps, waiting := c.Start, int64(0), int64(0)
	parts := make([]int64, len(dials))
	for i, d := range dials {
		parts[i] = d.Part(c.Start)
	}
	c.Shown = []Shown{{0, 0}}
	c.Waiting = []Shown{{0, 0}}
	for _, m := range moments {
		if m.part >= 0 {
			now := whole + (m.part-parts[m.dial])*dials[m.dial].Place
			parts[m.dial] = m.part
			steps += scale.Distance(whole, now)
			whole = now
			c.Shown = put(c.Shown, Shown{m.at, steps})
		}
		waiting += m.waits
		c.Waiting = put(c.Waiting, Shown{m.at, steps + waiting})
	}
	// The target is where the number is right in the end.
	off := steps - scale.Distance(c.Target, whole)
	for _, list := range [][]Shown{c.Shown, c.Waiting} {
		for i := range list {
			list[i].Steps -= off
		}
	}
	return c
}

// put adds a number to a course; of several at one instant the last one stays.
func put(list []Shown, s Shown) []Shown {
	if last := &list[len(list)-1]; last.At == s.At {
		last.Steps = s.Steps
		return list
	}
	if list[len(list)-1].Steps == s.Steps {
		return list
	}
	return append(list, s)
}
