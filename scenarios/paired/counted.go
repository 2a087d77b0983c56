package paired

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// Samples that are too large to be kept come as counts and sums. What counts say of
// quantiles, shares and signs is what the sample says; so is what sums say of means and
// their intervals. Only the sign-flip test is another one: see [AverageOf].

// Count is a value and how many of a sample have it.
type Count struct {
	Value float64
	N     int
}

// Counts is a sample as its values, rising, each once.
type Counts []Count

// merge returns a sample made of several.
func merge(parts ...Counts) Counts {
	all := slices.Concat(parts...)
	slices.SortFunc(all, func(a, b Count) int { return cmp.Compare(a.Value, b.Value) })
	merged := all[:0]
	for _, c := range all {
		switch last := len(merged) - 1; {
		case c.N == 0:
		case last >= 0 && merged[last].Value == c.Value:
			merged[last].N += c.N
		default:
			merged = append(merged, c)
		}
	}
	return merged
}

// order returns the sample for asking quantiles.
func (c Counts) order() tally {
	t := tally{values: make([]float64, len(c)), upTo: make([]int, len(c))}
	n := 0
	for i, x := range c {
		n += x.N
		t.values[i], t.upTo[i] = x.Value, n
	}
	return t
}

// Quantile is [Quantile] of the sample.
func (c Counts) Quantile(p float64) float64 {
	t := c.order()
	if t.len() == 0 {
		return math.NaN()
	}
	return newRank(t.len(), p).in(t)
}

// QuantileInterval is [QuantileInterval] of the sample.
func (c Counts) QuantileInterval(p float64) Estimate {
	t := c.order()
	if t.len() == 0 {
		return Estimate{math.NaN(), math.NaN(), math.NaN()}
	}
	return interval(t, t.len(), p)
}

// tally is a sample in rising order whose equal values stand together.
type tally struct {
	values []float64
	upTo   []int // how many are at most the value
}

func (t tally) len() int {
	if len(t.upTo) == 0 {
		return 0
	}
	return t.upTo[len(t.upTo)-1]
}

func (t tally) at(i int) float64 {
	k, _ := slices.BinarySearch(t.upTo, i+1)
	return t.values[k]
}

func (t tally) atMost(v float64) int {
	return t.first(sort.Search(len(t.values), func(k int) bool { return t.values[k] > v }))
}

func (t tally) under(v float64) int { return t.first(sort.SearchFloat64s(t.values, v)) }

// first returns how many there are of the first k values.
func (t tally) first(k int) int {
	if k == 0 {
		return 0
	}
	return t.upTo[k-1]
}

func (t tally) mirrored() ordered {
	n, last := t.len(), len(t.values)-1
	m := tally{make([]float64, len(t.values)), make([]int, len(t.values))}
	for k := range t.values {
		m.values[k], m.upTo[k] = -t.values[last-k], n-t.first(last-k)
	}
	return m
}

// Moments is what means, their intervals and the sign-flip test need of a sample.
type Moments struct {
	N              int
	Mean           float64
	M2, M3         float64 // sums of squares and of cubes of the distances from the mean
	Squares, Cubes float64 // sums of squares, and of cubes without their signs, of the values
}

// Summed is the sample of one task and how much the task weighs; see [Group].
type Summed struct {
	Weight float64
	Moments
}

// MeanOf is [WeightedMean] of samples that were summed.
func MeanOf(parts []Summed) Estimate {
	weights := 0.0
	for _, p := range parts {
		weights += p.Weight
	}
	var m, m2, m3 float64
	for _, p := range parts {
		w := p.Weight / weights
		u := w / float64(p.N)
		m += float64(w * p.Mean)
		m2 += float64(u * u * p.M2)
		m3 += float64(u * u * u * p.M3)
	}
	return abc(m, m2, m3)
}

const (
	// rademacher bounds what the tail of any sum of numbers with random signs is to
	// that of the normal distribution of the same variance: 1/(4·P(Z ≥ √2)) (Bentkus
	// and Dzindzalieta, "A tight Gaussian bound for weighted sums of Rademacher random
	// variables", Bernoulli 21 (2015), from memory).
	rademacher = 3.1787

	// berryEsseen bounds the distance of the two distributions in units of the sum of
	// cubes over the variance to the power of 3/2 (Shevtsova, "An improvement of
	// convergence rate estimates in the Lyapunov theorem", Doklady Mathematics 82
	// (2010), from memory).
	berryEsseen = 0.56
)

// AverageOf is [AverageDifference] of samples that were summed, but for P: the sum of
// differences whose signs are coin tosses has a mean of 0 and exactly the sum of their
// squares for variance, and P is the tail of the normal distribution with that variance,
// made larger by the most that it can be too small, so that it is never below the
// sign-flip test of all tosses. For any differences that is a factor of 3.18; where no
// few of them outweigh the others it is less than that: a distance of 1.12·Σ|d|³/(Σd²)^1.5,
// which is 0.013 for 20,000 differences as skewed as a normal sample's sizes and
// 0.0006 for ten million.
func AverageOf(parts []Summed) Average {
	a := Average{Mean: MeanOf(parts), P: 1}
	var total, variance, cubes float64
	for _, p := range parts {
		u := p.Weight / float64(p.N)
		total += float64(p.Weight * p.Mean)
		variance += float64(u * u * p.Squares)
		cubes += float64(u * u * u * p.Cubes)
	}
	if variance > 0 {
		tail := math.Erfc(math.Abs(total) / math.Sqrt(2*variance))
		far := 2 * berryEsseen * cubes / (variance * math.Sqrt(variance))
		a.P = min(1, rademacher*tail, tail+far)
	}
	return a
}

// Pairs is the differences of a sample too large to be kept: what trials took with
// candidate A less what they took with B, a timeout as the limit.
type Pairs struct {
	InTime       Counts // neither timed out
	OnlyA, OnlyB Counts // A timed out, or B
	Both         int    // both did: no difference

	Minus, Zero, Plus int // of all
	Moments               // of all
}

// Difference is [CompareTimes] of the pairs, but for the sign-flip test: see
// [AverageOf].
func (p *Pairs) Difference() Difference {
	t := Difference{
		Trials: p.N, TimeoutsBoth: p.Both, TimeoutsA: p.Both + total(p.OnlyA), TimeoutsB: p.Both + total(p.OnlyB),
		Signs: SignsOf(p.Minus, p.Zero, p.Plus), Average: AverageOf([]Summed{{1, p.Moments}}),
	}
	t.within(merge(p.InTime, p.OnlyA, p.OnlyB, Counts{{0, p.Both}}).QuantileInterval(0.5),
		func() Estimate {
			return merge(p.InTime, p.OnlyA, Counts{{math.Inf(-1), t.TimeoutsB}}).QuantileInterval(0.5)
		},
		func() Estimate {
			return merge(p.InTime, p.OnlyB, Counts{{math.Inf(1), t.TimeoutsA}}).QuantileInterval(0.5)
		})
	return t
}

func total(c Counts) (n int) {
	for _, x := range c {
		n += x.N
	}
	return n
}
