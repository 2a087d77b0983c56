package fit

import (
	"cmp"
	"math"
	"slices"

	"dialwright/encoder/recording"
)

// grid is the time between two polls, as the times of reports show it.
type grid struct {
	period    float64 // ns; 0 where none is seen
	low, high float64
	intervals int   // that it rests on
	different int   // lengths among them
	wanders   bool  // only short intervals show it
	stamps    int64 // ns: all times are multiples of it, which looks like a grid and is none; 0 without
}

// Limits of the search for a grid; ours.
const (
	shortestPoll = 100e3 // ns; the shortest of USB is 125 µs
	longestPoll  = 40e6  // ns; the longest of USB is 32 ms
	gridFit      = 0.75  // mean resultant length below which there is no grid
)

// findGrid looks for the period to whose multiples reports come.
//
// recording.ReportGrid looks at short intervals only. Pulses of one length come
// back to back all have one interval, whose fractions fit as well as itself, so
// here every length counts once however often it occurs, and intervals count up
// to a hundred periods: by then two clocks that differ by 100 ppm are apart by a
// hundredth of a period. The longest period that fits nearly as well as the best
// is taken. Where none fits the long intervals, and it may be that the reports wander,
// as those of some wheels do, recording.ReportGrid has the word; of pulses it may not,
// whose own rhythm is more even than a poll.
//
// Time stamps in whole ms are a grid too, but the recorder's: a period that is the
// stamps' own unit is none.
func findGrid(times []int64, wanders bool) grid {
	g := gridOf(times, wanders)
	if unit := stampUnit(times); math.Abs(g.period-float64(unit)) < 0.02*float64(unit) {
		return grid{intervals: g.intervals, different: g.different, stamps: unit}
	}
	return g
}

// stampUnit returns the largest of 0.1, 1 and 10 ms of which all times are
// multiples, 0 where they are not.
func stampUnit(times []int64) (unit int64) {
	for _, u := range []int64{100e3, 1e6, 10e6} {
		if !slices.ContainsFunc(times, func(t int64) bool { return t%u != 0 }) {
			unit = u
		}
	}
	return unit
}

func gridOf(times []int64, wanders bool) grid {
	coarse := recording.ReportGrid(times)
	lengths, n := differentLengths(times)
	if len(lengths) < 6 {
		return grid{intervals: n, different: len(lengths)}
	}
	var starts []float64
	if coarse.Period > 0 {
		starts = append(starts, float64(coarse.Period))
	}
	starts = append(starts, lengths[0], lengths[len(lengths)/4])
	var best []candidate
	for _, s := range starts {
		for d := 1; d <= 32; d++ {
			p := s / float64(d)
			if p < shortestPoll || p > longestPoll {
				continue
			}
			if c := refined(lengths, p); c.period >= shortestPoll && c.period <= longestPoll {
				best = append(best, c)
			}
		}
	}
	top := 0.0
	for _, c := range best {
		top = max(top, c.fit)
	}
	slices.SortFunc(best, func(a, b candidate) int { return cmp.Compare(b.period, a.period) })
	for _, c := range best {
		if c.fit < 0.9*top || c.fit < gridFit || math.Exp(-float64(c.n)*c.fit*c.fit) > 1e-3 {
			continue
		}
		return grid{period: c.period, low: c.period - 2*c.se, high: c.period + 2*c.se, intervals: n, different: len(lengths)}
	}
	if p := float64(coarse.Period); wanders && p > 0 && p <= longestPoll && coarse.Fit >= gridFit && coarse.Intervals >= 12 {
		se := p * math.Sqrt(-2*math.Log(coarse.Fit)) / (2 * math.Pi) / math.Sqrt(float64(coarse.Intervals))
		return grid{period: p, low: p - 2*se, high: p + 2*se, intervals: coarse.Intervals, different: len(lengths), wanders: true}
	}
	return grid{intervals: n, different: len(lengths)}
}

// candidate is a period and how well it fits.
type candidate struct {
	period, fit, se float64
	n               int
}

// differentLengths returns the lengths of the intervals between reports that
// differ by more than a stamp's noise, rising, each the mean of those near it; and
// how many intervals there were.
func differentLengths(times []int64) ([]float64, int) {
	const same = 60e3 // ns: events of one report
	gaps := make([]int64, 0, len(times))
	for i := 1; i < len(times); i++ {
		if d := times[i] - times[i-1]; d > same && d < 1e9 {
			gaps = append(gaps, d)
		}
	}
	slices.Sort(gaps)
	var lengths []float64
	sum, k := 0.0, 0.0
	for i, g := range gaps {
		if i > 0 && (g-gaps[i-1] > shortestPoll/4 || float64(g)-sum/k > shortestPoll) {
			lengths = append(lengths, sum/k)
			sum, k = 0, 0
		}
		sum += float64(g)
		k++
	}
	if k > 0 {
		lengths = append(lengths, sum/k)
	}
	return lengths, len(gaps)
}

// refined fits a period to lengths, the short ones first.
func refined(lengths []float64, p float64) candidate {
	var c candidate
	for _, horizon := range []float64{6, 20, 60, 100} {
		var num, den, cs, sn, rest float64
		c.n = 0
		for _, x := range lengths {
			k := math.Round(x / p)
			if k < 1 || k > horizon {
				continue
			}
			num += k * x
			den += k * k
			sin, cos := math.Sincos(2 * math.Pi * x / p)
			cs += cos
			sn += sin
			rest += (x - k*p) * (x - k*p)
			c.n++
		}
		if c.n < 3 {
			continue
		}
		c.fit = math.Hypot(cs, sn) / float64(c.n)
		if c.fit < 0.3 {
			break
		}
		p = num / den
		c.se = math.Sqrt(rest / float64(c.n) / den)
	}
	c.period = p
	return c
}
