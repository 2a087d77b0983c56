package sample

import (
	"dialwright/encoder/draw"
	"dialwright/scenarios/paired"
)

// Panel is the trials of uses that are weighted by how often each is done.
type Panel []*Trials

// Score is a panel's one figure of everything. Shares are 0 to 1.
type Score struct {
	Seconds   paired.Estimate // mean time of a dialing, timeouts as the limit
	Overshoot float64         // share of dialings
	Lost      float64         // share of detents
}

// Score weighs the uses.
func (p Panel) Score() Score {
	var s Score
	_, s.Overshoot, s.Lost = p.Means()
	var parts []paired.Weighed
	for _, t := range p {
		parts = append(parts, paired.Weighed{Weight: t.Use.PerHour, Estimate: t.interval()})
	}
	s.Seconds = paired.Weigh(parts)
	return s
}

// Means is the values of a score, without what it costs to find their intervals.
func (p Panel) Means() (seconds, overshoot, lost float64) {
	hours := 0.0
	for _, t := range p {
		w, n := t.Use.PerHour, float64(t.Len())
		mean, over, detents, gone := 0.0, 0, 0, 0
		if f := t.sums; f != nil {
			mean, over, detents, gone = f.moments().Mean*n, f.overshot, f.detents, f.lost
		}
		for i, x := range t.Seconds {
			mean += min(x, t.Limit)
			if t.Past[i] > 0 {
				over++
			}
			detents += t.Detents[i]
			gone += t.Lost[i]
		}
		seconds += float64(w * (mean / n))
		overshoot += float64(w * (float64(over) / n))
		lost += float64(w * (float64(gone) / float64(max(1, detents))))
		hours += w
	}
	return seconds / hours, overshoot / hours, lost / hours
}

// Less returns the mean time of these dialings less a share of what the same
// dialings took otherwise, s. Of folded trials that is all of what the first candidate
// took.
func (p Panel) Less(share float64, other Panel, from draw.Trial) paired.Average {
	if len(p) > 0 && p[0].sums != nil {
		var parts []paired.Summed
		for _, t := range p {
			parts = append(parts, paired.Summed{Weight: t.Use.PerHour, Moments: t.beside.moments()})
		}
		return paired.AverageOf(parts)
	}
	var groups []paired.Group
	for i, t := range p {
		scaled := other[i].Capped()
		for n := range scaled {
			scaled[n] *= share
		}
		groups = append(groups, paired.Group{Weight: t.Use.PerHour, Sample: paired.Differences(t.Capped(), scaled, t.Limit)})
	}
	return paired.AverageDifference(groups, from)
}

// Source is what the statistics of a task draw from; the panel's, of a task without
// a name.
func Source(seed uint64, task string) draw.Trial { return draw.NewTrial(seed, task, -1) }
