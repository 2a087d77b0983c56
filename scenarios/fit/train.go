package fit

import (
	"math"
	"slices"

	"dialwright/encoder/draw"
)

// stretch is a part of a run that pulses of one period explain.
type stretch struct{ intervals, pulses int }

// rigid cuts the times of a run into stretches in which presses come at multiples
// of a period, each up to `slack` late, and returns those of at least so many
// intervals. An interval is one period, or up to `most` where gaps may go unseen.
func rigid(times []int64, period, slack, most float64, least int) (found []stretch) {
	var s stretch
	var low, high, pos float64
	end := func() {
		if s.intervals >= least {
			found = append(found, s)
		}
		s, low, high, pos = stretch{}, 0, 0, 0
	}
	for i := 1; i < len(times); i++ {
		d := float64(times[i] - times[i-1])
		k := min(max(1, math.Round(d/period)), most)
		pos += d - k*period
		low, high = min(low, pos), max(high, pos)
		if high-low > slack {
			end()
			continue
		}
		s.intervals++
		s.pulses += int(k)
	}
	end()
	return found
}

// backToBack is how well pulses of one period, back to back, explain runs.
type backToBack struct {
	period float64
	share  float64 // of the intervals that lie in rigid stretches
	weight float64 // mean square of the stretches' lengths, over all intervals
}

func score(rs [][]int64, period, slack, most float64) backToBack {
	b := backToBack{period: period}
	total := 0
	least := leastStretch(slack / period)
	for _, r := range rs {
		total += max(0, len(r)-1)
		for _, s := range rigid(r, period, slack, most, least) {
			b.share += float64(s.intervals)
			b.weight += float64(s.intervals * s.intervals)
		}
	}
	if total > 0 {
		b.share /= float64(total)
		b.weight /= float64(total)
	}
	return b
}

// leastStretch is how many intervals in a row must fit before they count: so many
// that chance gives them in one place of twenty.
func leastStretch(slackShare float64) int {
	return min(max(2, 1+int(math.Ceil(math.Log(0.05)/math.Log(min(0.7, 2*slackShare))))), 4)
}

// findPeriod looks for the period between low and high that explains runs best.
// The range around it explains them nearly as well.
func findPeriod(rs [][]int64, low, high, slack, most float64) (best backToBack, from, to float64) {
	step := max(slack/24, (high-low)/2000)
	var all []backToBack
	for p := high; p >= low; p -= step {
		b := score(rs, p, slack, most)
		all = append(all, b)
		if b.weight > best.weight {
			best = b
		}
	}
	// Of periods that explain as much, the longest: half of it does too.
	for _, b := range all {
		if b.weight >= 0.97*best.weight {
			best = b
			break
		}
	}
	from, to = best.period, best.period
	for _, b := range all {
		if b.weight >= 0.8*best.weight && math.Abs(b.period-best.period) < slack {
			from, to = min(from, b.period), max(to, b.period)
		}
	}
	return best, from - step, to + step
}

// byHandAlone returns runs as a hand would make them that no path holds back: of
// as many clicks and as long as the given ones, with minimum-jerk timing, seen at
// polls.
func byHandAlone(rs [][]int64, poll float64, noise draw.Stream) [][]int64 {
	alone := make([][]int64, len(rs))
	i := int64(0)
	for k, r := range rs {
		n := float64(len(r))
		if len(r) < 2 {
			continue
		}
		first, last := jerkTime(0.5/n), jerkTime((n-0.5)/n)
		span := float64(r[len(r)-1] - r[0])
		phase := float64(noise.Unit(i)) / draw.Share
		for j := range r {
			at := span * (jerkTime((float64(j)+0.5)/n) - first) / (last - first)
			if poll > 0 {
				at = (math.Ceil(at/poll+phase) - phase) * poll
			}
			alone[k] = append(alone[k], r[0]+int64(at))
		}
		i++
	}
	return alone
}

// fewer returns about so many presses of runs, spread over all of them by the golden
// section, which keeps step with no rhythm that runs have.
func fewer(rs [][]int64, most int) [][]int64 {
	all := 0
	for _, r := range rs {
		all += len(r)
	}
	if all <= most {
		return rs
	}
	const golden = 0x9e3779b97f4a7c15 // of 2⁶⁴
	share := math.MaxUint64 / uint64(all) * uint64(most)
	var some [][]int64
	place := uint64(0)
	for _, r := range rs {
		for part := range slices.Chunk(r, longestRun) {
			if place += golden; place <= share {
				some = append(some, part)
			}
		}
	}
	return some
}

// timesOf returns when the presses of runs came.
func timesOf(rs []run) [][]int64 {
	var all [][]int64
	for _, r := range rs {
		t := make([]int64, 0, len(r))
		for _, p := range r {
			t = append(t, p.at)
		}
		all = append(all, t)
	}
	return all
}

// intervalsOf returns the intervals within runs, rising.
func intervalsOf(rs [][]int64) []float64 {
	n := 0
	for _, r := range rs {
		n += len(r)
	}
	x := make([]float64, 0, n)
	for _, r := range rs {
		for i := 1; i < len(r); i++ {
			x = append(x, float64(r[i]-r[i-1]))
		}
	}
	slices.Sort(x)
	return x
}
