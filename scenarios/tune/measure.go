package tune

import (
	"context"
	"math"
	"sync"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/trial"
)

// Sample is what trials of the tasks of one or more knobs came to, task by task.
type Sample []*TaskSample

// TaskSample is the trials of a task.
type TaskSample struct {
	Use      scenarios.Served
	Seconds  []float64 // by trial, +Inf for a timeout
	Overshot []bool    // by trial
	Detents  int
	Lost     int
	Limit    float64 // s

	overshoots []float64
}

func (t *TaskSample) take(_ int, r *trial.Result) {
	s := r.Seconds()
	if r.Timeout {
		s = math.Inf(1)
	}
	t.Seconds = append(t.Seconds, s)
	t.Overshot = append(t.Overshot, r.Overshot())
	if r.Overshot() {
		t.overshoots = append(t.overshoots, float64(r.Overshoot))
	}
	if a := &r.Account; a.Delivered+a.Lost() > 0 && !(a.Pulses == 0 && a.Presses > 0) {
		t.Detents += a.Detents
		t.Lost += a.Lost()
	}
}

// sums returns the weighted mean time and shares.
func (s Sample) sums() (seconds, overshoot, lost float64) {
	hours := 0.0
	for _, t := range s {
		w, n := t.Use.PerHour, float64(len(t.Seconds))
		mean, over := 0.0, 0
		for i, x := range t.Seconds {
			mean += math.Min(x, t.Limit)
			if t.Overshot[i] {
				over++
			}
		}
		seconds += float64(w * (mean / n))
		overshoot += float64(w * (float64(over) / n))
		lost += float64(w * (float64(t.Lost) / float64(max(1, t.Detents))))
		hours += w
	}
	return seconds / hours, overshoot / hours, lost / hours
}

// Score weighs the tasks by how often each is done.
func (s Sample) Score() Score {
	var c Score
	_, c.Overshoot, c.Lost = s.sums()
	var parts []paired.Weighed
	for _, t := range s {
		parts = append(parts, paired.Weighed{Weight: t.Use.PerHour, Estimate: paired.MeanInterval(paired.Capped(t.Seconds, t.Limit))})
	}
	c.Seconds = paired.Weigh(parts)
	return c
}

// against returns the mean of these trials less a share of the same trials with
// other settings.
func (s Sample) against(other Sample, share float64, seed uint64) paired.Average {
	var groups []paired.Group
	for i, t := range s {
		scaled := make([]float64, len(other[i].Seconds))
		for n, x := range other[i].Seconds {
			scaled[n] = share * math.Min(x, t.Limit)
		}
		groups = append(groups, paired.Group{Weight: t.Use.PerHour, Sample: paired.Differences(paired.Capped(t.Seconds, t.Limit), scaled, t.Limit)})
	}
	return paired.AverageDifference(groups, draw.NewTrial(seed, "tune against", -1))
}

// candidate is settings of a knob: a profile for each of its tasks.
type candidate struct {
	name     string
	profiles []*scenarios.Profile
	at       []float64 // where in the space; nil for profiles that somebody made
	sample   Sample
	failed   bool
}

// one returns a candidate with the same profile for all tasks.
func one(name string, p *scenarios.Profile, tasks int) *candidate {
	c := &candidate{name: name, profiles: make([]*scenarios.Profile, tasks)}
	for i := range c.profiles {
		c.profiles[i] = p
	}
	return c
}

// measure lets candidates do the trials from first to before last of a block. What
// they did before of that block is kept and continued. Work is split by candidate
// and task, so that no number depends on the workers.
func (s *search) measure(ctx context.Context, uses []scenarios.Served, o *scenarios.Operator, all []*candidate, block uint64, first, last int) error {
	type job struct {
		c *candidate
		i int
	}
	var jobs []job
	for _, c := range all {
		if first == 0 {
			s.evaluations.Add(1)
			c.failed = false
			c.sample = make(Sample, len(uses))
			for i, u := range uses {
				c.sample[i] = &TaskSample{Use: u}
			}
		}
		if !c.failed {
			for i := range uses {
				jobs = append(jobs, job{c, i})
			}
		}
	}
	failed := make([]bool, len(jobs))
	var wait sync.WaitGroup
	next := make(chan int)
	for range max(1, min(s.Workers, len(jobs))) {
		wait.Go(func() {
			for n := range next {
				c, i := jobs[n].c, jobs[n].i
				u := uses[i]
				cell := trial.Cell{Task: u.Task, Rings: u.Knob.Rings, Inner: &u.Knob.Inner.Rig, Profile: c.profiles[i], Operator: o, Others: u.Others}
				if u.Knob.Outer != nil {
					cell.Outer = &u.Knob.Outer.Rig
				}
				bench, err := trial.NewBench(cell)
				if err != nil {
					failed[n] = true // this profile cannot be set on this knob
					continue
				}
				t := c.sample[i]
				t.Limit = bench.Limit().Seconds()
				did, err := trial.Batch(ctx, bench, block, first, last, 1, t.take)
				s.trials.Add(int64(did))
				s.done.Add(int64(did))
				if err != nil {
					failed[n] = true
				}
			}
		})
	}
	for n := range jobs {
		if ctx.Err() != nil {
			break
		}
		next <- n
	}
	close(next)
	wait.Wait()
	if ctx.Err() != nil {
		return ctx.Err()
	}
	for n, f := range failed {
		if f {
			jobs[n].c.failed = true
		}
	}
	s.say("")
	return nil
}

// price is what a search makes small: the mean time with what overshoot counts,
// and a steep price on what lies beyond the cap on lost detents. A share measured
// on few trials is noisy; a wall instead of a slope would throw away good settings.
func (s *search) price(c *candidate, overshootCost float64) float64 {
	if c.failed {
		return math.Inf(1)
	}
	seconds, overshoot, lost := c.sample.sums()
	return math.Round(float64(seconds*(1+float64(overshootCost*overshoot)+float64(20*max(0, lost-s.MaxLost))))*1e9) / 1e9
}

// priced returns a sample whose times have what the aim counts for an overshoot in
// them, which is a share of some mean time.
func (s Sample) priced(share float64) Sample {
	list := make(Sample, len(s))
	for i, t := range s {
		c := *t
		c.Seconds = make([]float64, len(t.Seconds))
		for n, x := range t.Seconds {
			c.Seconds[n] = math.Min(x, t.Limit)
			if t.Overshot[n] {
				c.Seconds[n] += share
			}
		}
		c.Limit = t.Limit + share
		list[i] = &c
	}
	return list
}
