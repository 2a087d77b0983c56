package overshoot

import (
	"cmp"
	"math"
	"slices"

	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// found is what is kept of the trials of an answer. What is counted is counted at once;
// the rest is kept trial by trial up to [sample.Kept] trials, and beyond in histograms.
type found struct {
	sizes  []map[int64]int // by dial: steps past → trials
	causes [causes]int
	alarms int
	worst  []Worst

	extra           []float64 // s
	distance, speed quantity

	folded bool
	extras sample.Histogram // ms
}

// take counts a trial.
func (f *found) take(t *Trial) {
	for k := range f.sizes {
		if o := t.ByDial[k]; o >= 1 {
			f.sizes[k][o]++
		}
	}
	if t.Alarms > 0 {
		f.alarms++
	}
	f.distance.take(float64(t.Distance), t.Overshot)
	f.speed.take(t.Speed, t.Overshot)
	if !t.Overshot {
		return
	}
	f.causes[t.Cause]++
	if s, ok := t.Extra(); ok {
		f.extra = append(f.extra, s)
	}
	at, _ := slices.BinarySearchFunc(f.worst, t.Overshoot, func(w Worst, steps int64) int {
		if w.Steps >= steps { // of equal ones the first stays first
			return -1
		}
		return 1
	})
	f.worst = slices.Insert(f.worst, at, Worst{t.Number, t.Overshoot})
	f.worst = f.worst[:min(len(f.worst), worstShown)]
}

// fold adds up what is kept trial by trial, and lets go of it.
func (f *found) fold() {
	if !f.folded {
		f.folded, f.extras = true, sample.Fine()
	}
	for _, s := range f.extra {
		f.extras.Add(uint64(math.Round(s * 1e3)))
	}
	f.extra = nil
	f.distance.fold(distanceUnit)
	f.speed.fold(speedUnit)
}

// extraTime is the median time from the first excursion to the end; zero without one.
func (f *found) extraTime() paired.Estimate {
	switch {
	case f.extras.Len() > 0:
		return f.extras.Counts(1e-3).QuantileInterval(0.5)
	case len(f.extra) > 0:
		return paired.QuantileInterval(f.extra, 0.5)
	}
	return paired.Estimate{}
}

// The units in which folded quantities are counted: of a step up to 131,071 of them, of a
// ten-thousandth detent a second up to 13 a second; what is beyond keeps five digits.
const (
	distanceUnit = 1
	speedUnit    = 1e-4
)

// quantity is something by which trials are divided; it is above 0 where it is known.
type quantity struct {
	kept               []one
	folded, foldedPast sample.Histogram // of all, and of those that overshot
}

type one struct {
	x        float64
	overshot bool
}

func (q *quantity) take(x float64, overshot bool) {
	if x > 0 {
		q.kept = append(q.kept, one{x, overshot})
	}
}

func (q *quantity) fold(unit float64) {
	if q.folded.Len() == 0 {
		q.folded, q.foldedPast = sample.Fine(), sample.Fine()
	}
	for _, o := range q.kept {
		n := uint64(math.Round(o.x / unit))
		if q.folded.Add(n); o.overshot {
			q.foldedPast.Add(n)
		}
	}
	q.kept = nil
}

// counted returns the trials at each value, rising, and those of them that overshot.
func (q *quantity) counted(unit float64) (all, overshot paired.Counts) {
	if q.folded.Len() > 0 {
		return q.folded.Counts(unit), q.foldedPast.Counts(unit)
	}
	slices.SortFunc(q.kept, func(a, b one) int { return cmp.Compare(a.x, b.x) })
	for _, o := range q.kept {
		all = append(all, paired.Count{Value: o.x, N: 1})
		if o.overshot {
			overshot = append(overshot, paired.Count{Value: o.x, N: 1})
		}
	}
	return all, overshot
}

// quarters divides the trials. What is equal stays together.
func (q *quantity) quarters(unit float64) []Quarter {
	all, overshot := q.counted(unit)
	n := 0
	for _, c := range all {
		n += c.N
	}
	var ends []float64
	seen, at := 0, 0
	for k := 1; k <= 4 && n > 0; k++ {
		for rank := max(1, n*k/4); seen < rank; at++ {
			seen += all[at].N
		}
		ends = append(ends, all[at-1].Value)
	}
	ends = slices.Compact(ends)
	within := func(c paired.Counts) []int {
		in := make([]int, len(ends))
		for _, x := range c {
			k, _ := slices.BinarySearch(ends, x.Value)
			in[k] += x.N
		}
		return in
	}
	trials, past := within(all), within(overshot)
	list := make([]Quarter, len(ends))
	for k := range list {
		list[k] = Quarter{ends[k], trials[k], paired.ShareInterval(past[k], trials[k])}
	}
	return list
}
