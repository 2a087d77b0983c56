package compare

import (
	"cmp"
	"context"
	"slices"

	"dialwright/scenarios/paired"
	"dialwright/scenarios/trial"
)

// sum works out everything that is said of the trials.
func (r *Result) sum() {
	all, uses := context.Background(), len(r.Uses) // statistics are never interrupted
	_ = trial.Each(all, r.Study.Workers, len(r.Cells)*uses, func(n int) { r.Cells[n/uses][n%uses].describe() })
	family := make([]paired.Verdict, (len(r.Cells)-1)*uses)
	_ = trial.Each(all, r.Study.Workers, len(family), func(n int) {
		i, j := 1+n/uses, n%uses
		c, first, task := r.Cells[i][j], r.Cells[0][j], r.Uses[j].Task.Name
		family[n] = paired.Judge(paired.Pair{
			A: r.Study.Candidates[i].Name, B: r.Study.Candidates[0].Name, Task: task,
			TimesA: c.Seconds, TimesB: first.Seconds, Limit: c.Limit,
			OvershotA: c.Overshot, OvershotB: first.Overshot,
		}, Source(r.Study.Seed, task))
	})
	paired.Family(family)
	for n := range family {
		r.Cells[1+n/uses][n%uses].AgainstFirst = &family[n]
	}
	r.weigh()
}

func (c *Cell) describe() {
	c.Trials = len(c.Seconds)
	c.Time = paired.QuantileInterval(c.Seconds, 0.5)
	c.P90 = paired.Quantile(c.Seconds, 0.9)
	c.P95 = paired.Quantile(c.Seconds, 0.95)
	capped := paired.Capped(c.Seconds, c.Limit)
	for _, s := range capped {
		c.Mean += s
	}
	c.Mean /= float64(len(capped))
	overshot := 0
	for _, o := range c.Overshot {
		if o {
			overshot++
		}
	}
	c.Overshoot = paired.ShareInterval(overshot, c.Trials)
	if len(c.overshoots) > 0 {
		c.OvershootP90 = paired.Quantile(c.overshoots, 0.9)
	}
	c.LostShare = paired.ShareInterval(c.Lost, max(1, c.Detents))
}

// weigh makes one figure of all tasks.
func (r *Result) weigh() {
	r.Overall = make([]Overall, len(r.Cells))
	_ = trial.Each(context.Background(), r.Study.Workers, len(r.Cells), func(i int) {
		var means []paired.Weighed
		var differences []paired.Group
		hours, o := 0.0, &r.Overall[i]
		for j, u := range r.Uses {
			c, first := r.Cells[i][j], r.Cells[0][j]
			means = append(means, paired.Weighed{Weight: u.PerHour, Estimate: paired.MeanInterval(paired.Capped(c.Seconds, c.Limit))})
			differences = append(differences, paired.Group{Weight: u.PerHour, Sample: paired.Differences(c.Seconds, first.Seconds, c.Limit)})
			hours += u.PerHour
			o.Overshoot += u.PerHour * c.Overshoot.Value
			o.Lost += u.PerHour * c.LostShare.Value
		}
		o.Overshoot /= hours
		o.Lost /= hours
		o.Seconds = paired.Weigh(means)
		if i > 0 {
			o.Against = paired.AverageDifference(differences, Source(r.Study.Seed, ""))
		}
	})
	for i := range r.Cells {
		if slices.ContainsFunc(r.Cells[i], func(c *Cell) bool { return c.Stays == nil }) {
			r.Ranking = append(r.Ranking, i)
		}
	}
	slices.SortStableFunc(r.Ranking, func(a, b int) int {
		return cmp.Compare(r.Overall[a].Seconds.Value, r.Overall[b].Seconds.Value)
	})
}
