package paired

import (
	"math"

	"dialwright/encoder/draw"
)

// Differences returns a[i] − b[i] in the unit of both, a timeout counting as the
// limit. It panics when the lengths differ.
func Differences(a, b []float64, limit float64) []float64 {
	mustPair(len(a), len(b))
	d := make([]float64, len(a))
	for i := range a {
		d[i] = min(a[i], limit) - min(b[i], limit)
	}
	return d
}

// Difference is what the same trials took with candidate A less what they took
// with candidate B: below 0, A was faster.
type Difference struct {
	Trials                             int
	TimeoutsA, TimeoutsB, TimeoutsBoth int // TimeoutsBoth are in both others too

	// Median is the median of the differences with its percentile bootstrap
	// interval, timeouts counting as the limit. Its ends allow for the worst and
	// the best that trials beyond the limit could have come to, so they are
	// infinite where that is all there is to say.
	Median Estimate

	// Least and Most bound the median, had every trial run to its end. They are
	// equal when no timeout reaches it; an infinite one says that the median
	// difference lies beyond the other.
	Least, Most float64

	// Average is the mean of the differences, timeouts counting as the limit.
	Average Average

	// Signs counts the trials in which A was faster, as fast and slower.
	Signs SignTest
}

// CompareTimes pairs a[i] with b[i], +Inf for a timeout, all other values up to
// the limit. It panics when the lengths differ.
func CompareTimes(a, b []float64, limit float64, from draw.Trial) Difference {
	d := Differences(a, b, limit)
	t := Difference{Trials: len(d), Signs: Signs(d), Average: AverageDifference([]Group{{1, d}}, from)}
	least, most := make([]float64, len(d)), make([]float64, len(d))
	for i := range d {
		least[i], most[i] = d[i], d[i]
		if math.IsInf(a[i], 1) {
			t.TimeoutsA++
			most[i] = math.Inf(1)
		}
		if math.IsInf(b[i], 1) {
			t.TimeoutsB++
			least[i] = math.Inf(-1)
		}
		if math.IsInf(a[i], 1) && math.IsInf(b[i], 1) {
			t.TimeoutsBoth++
		}
	}
	t.within(QuantileInterval(d, 0.5), func() Estimate { return QuantileInterval(least, 0.5) }, func() Estimate { return QuantileInterval(most, 0.5) })
	return t
}

// within takes over the median difference, and what bounds it where there are timeouts:
// the medians with those of B, or of A, at infinity.
func (t *Difference) within(median Estimate, least, most func() Estimate) {
	t.Median, t.Least, t.Most = median, median.Value, median.Value
	if t.TimeoutsB > 0 {
		e := least()
		t.Least, t.Median.Low = e.Value, e.Low
	}
	if t.TimeoutsA > 0 {
		e := most()
		t.Most, t.Median.High = e.Value, e.High
	}
}

// The smallest useful difference in time: for less nobody would change a setting
// (ours).
const (
	UsefulSeconds = 0.1
	UsefulShare   = 0.02 // of the time
)

// Useful says whether a difference between times, s, is worth a change of what takes
// so long: at least [UsefulSeconds] and [UsefulShare] of it.
func Useful(difference, of float64) bool {
	d := math.Abs(difference)
	return d >= UsefulSeconds && d >= UsefulShare*of
}
