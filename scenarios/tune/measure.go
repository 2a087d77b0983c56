package tune

import (
	"context"
	"math"

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
	benches  []*trial.Bench // by task, once made ready

	// like is another candidate that differs in the profile of one task only; the
	// other tasks are not done again. Nil: all tasks are its own.
	like *candidate
	only int
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
				if c.like != nil && c.only != i {
					c.sample[i] = c.like.sample[i]
				}
			}
			if c.benches == nil {
				c.benches = make([]*trial.Bench, len(uses))
			}
		}
		if !c.failed {
			for i := range uses {
				if c.like == nil || c.only == i {
					jobs = append(jobs, job{c, i})
				}
			}
		}
	}
	failed := make([]bool, len(jobs))
	err := trial.Each(ctx, max(1, s.Workers), len(jobs), func(n int) {
		c, i := jobs[n].c, jobs[n].i
		bench := c.benches[i]
		if bench == nil {
			var err error
			if bench, err = newBench(uses[i], c.profiles[i], o); err != nil {
				failed[n] = true // this profile cannot be set on this knob
				return
			}
			c.benches[i] = bench
		}
		t := c.sample[i]
		t.Limit = bench.Limit().Seconds()
		did, err := trial.Batch(ctx, bench, block, first, last, 1, t.take)
		s.trials.Add(int64(did))
		s.done.Add(int64(did))
		if err != nil {
			failed[n] = true
		}
	})
	if err != nil {
		return err
	}
	for n, f := range failed {
		if f {
			jobs[n].c.failed = true
		}
	}
	s.say("")
	return nil
}

func newBench(u scenarios.Served, p *scenarios.Profile, o *scenarios.Operator) (*trial.Bench, error) {
	cell := trial.Cell{Task: u.Task, Rings: u.Knob.Rings, Inner: &u.Knob.Inner.Rig, Profile: p, Operator: o, Others: u.Others}
	if u.Knob.Outer != nil {
		cell.Outer = &u.Knob.Outer.Rig
	}
	return trial.NewBench(cell)
}

// goal is what a search makes small: the mean time with what an overshoot counts,
// and steep prices on what lies beyond a cap on overshoot and the cap on lost
// detents. A share measured on few trials is noisy; a wall instead of a slope would
// throw away good settings.
type goal struct {
	overshoot float64 // what one counts, in mean dialings
	most      float64 // share of dialings above which it counts steep besides
	starts    int     // clouds
	more      int     // generations that the best of them goes on
}

// What a whole share beyond a cap counts, in mean dialings.
const (
	steep     = 1  // of overshoots, for a cap of 100 %; for a lower one it counts more
	steepLost = 20 // of detents
)

// price returns what a goal makes of a candidate's trials.
func (s *search) price(c *candidate, g goal) float64 {
	if c.failed {
		return math.Inf(1)
	}
	seconds, overshoot, lost := c.sample.sums()
	counts := 1 + float64(g.overshoot*overshoot) + float64(steep/s.cap()*max(0, overshoot-g.most)) + float64(steepLost*max(0, lost-s.MaxLost))
	return math.Round(float64(seconds*counts)*1e9) / 1e9
}

// contrast returns the mean of these trials less that of the same trials with other
// settings, an overshoot counting as a share, and its standard error. Where one has
// done more trials than the other those that both have done count.
func (s Sample) contrast(other Sample, share float64) (mean, noise float64) {
	variance, hours := 0.0, 0.0
	for i, t := range s {
		hours += t.Use.PerHour
		o := other[i]
		if t == o {
			continue
		}
		n := float64(min(len(t.Seconds), len(o.Seconds)))
		sum, squares := 0.0, 0.0
		for k := range int(n) {
			d := math.Min(t.Seconds[k], t.Limit) - math.Min(o.Seconds[k], t.Limit)
			if t.Overshot[k] {
				d += share
			}
			if o.Overshot[k] {
				d -= share
			}
			sum += d
			squares += float64(d * d)
		}
		w := t.Use.PerHour
		mean += float64(w * sum / n)
		variance += float64(w * w * max(0, squares-float64(sum*sum)/n) / (n * max(1, n-1)))
	}
	tidy := func(x float64) float64 { return math.Round(x/hours*1e9) / 1e9 }
	return tidy(mean), tidy(math.Sqrt(variance))
}

// noise returns the standard error of the difference between two candidates.
func (g goal) noise(a, b *candidate) float64 {
	mean, _, _ := b.sample.sums()
	_, noise := a.sample.contrast(b.sample, float64(g.overshoot*mean))
	return noise
}

// overshootVariance is that of the weighted share of overshoots, from how few trials
// there are.
func (s Sample) overshootVariance() float64 {
	variance, hours := 0.0, 0.0
	for _, t := range s {
		n := 0
		for _, o := range t.Overshot {
			if o {
				n++
			}
		}
		share, all := float64(n)/float64(len(t.Overshot)), float64(len(t.Overshot))
		variance += float64(t.Use.PerHour * t.Use.PerHour * share * (1 - share) / all)
		hours += t.Use.PerHour
	}
	return variance / (hours * hours)
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
