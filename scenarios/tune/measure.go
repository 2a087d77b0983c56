package tune

import (
	"context"
	"math"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// less returns the mean of trials less a share of the same trials with other settings.
func less(a, b sample.Panel, share float64, seed uint64) paired.Average {
	return a.Less(share, b, draw.NewTrial(seed, "tune against", -1))
}

// candidate is settings of a knob: a profile for each of its tasks.
type candidate struct {
	name     string
	profiles []*scenarios.Profile
	at       []float64 // where in the space; nil for profiles that somebody made
	sample   sample.Panel
	failed   bool
	seats    []*trial.Seat // by task, once made ready

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
			c.sample = make(sample.Panel, len(uses))
			for i, u := range uses {
				c.sample[i] = &sample.Trials{Use: u}
				if c.like != nil && c.only != i {
					c.sample[i] = c.like.sample[i]
				}
			}
			if c.seats == nil {
				c.seats = make([]*trial.Seat, len(uses))
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
		if c.seats[i] == nil {
			seat, err := trial.NewSeat(uses[i], c.profiles[i], o)
			if failed[n] = err != nil; failed[n] {
				return // this profile cannot be set on this knob
			}
			c.seats[i] = seat
		}
		t := c.sample[i]
		t.Limit = c.seats[i].Limit().Seconds()
		did, err := trial.Batch(ctx, c.seats[i].Bench, block, first, last, 1, t.Take)
		s.trials.Add(int64(did))
		s.done.Add(int64(did))
		failed[n] = err != nil
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
	seconds, overshoot, lost := c.sample.Means()
	counts := 1 + float64(g.overshoot*overshoot) + float64(steep/s.cap()*max(0, overshoot-g.most)) + float64(steepLost*max(0, lost-s.MaxLost))
	return math.Round(float64(seconds*counts)*1e9) / 1e9
}

// contrast returns the mean of trials less that of the same trials with other
// settings, an overshoot counting as a share, and its standard error. Where one has
// done more trials than the other those that both have done count.
func contrast(s, other sample.Panel, share float64) (mean, noise float64) {
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
			if t.Past[k] > 0 {
				d += share
			}
			if o.Past[k] > 0 {
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
	mean, _, _ := b.sample.Means()
	_, noise := contrast(a.sample, b.sample, float64(g.overshoot*mean))
	return noise
}

// overshootVariance is that of the weighted share of overshoots, from how few trials
// there are.
func overshootVariance(s sample.Panel) float64 {
	variance, hours := 0.0, 0.0
	for _, t := range s {
		n := 0
		for _, past := range t.Past {
			if past > 0 {
				n++
			}
		}
		share, all := float64(n)/float64(t.Len()), float64(t.Len())
		variance += float64(t.Use.PerHour * t.Use.PerHour * share * (1 - share) / all)
		hours += t.Use.PerHour
	}
	return variance / (hours * hours)
}

// priced returns trials whose times have what the aim counts for an overshoot in
// them, which is a share of some mean time.
func priced(s sample.Panel, share float64) sample.Panel {
	list := make(sample.Panel, len(s))
	for i, t := range s {
		c := &sample.Trials{Use: t.Use, Limit: t.Limit + share, Seconds: t.Capped()}
		for n, past := range t.Past {
			if past > 0 {
				c.Seconds[n] += share
			}
		}
		list[i] = c
	}
	return list
}
