package paired

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mathext"
)

// Quantile returns the p-quantile of x, 0 ≤ p ≤ 1, by R's type 7 (linear between
// order statistics; the median of 1 2 3 4 is 2.5; gonum's stat.Quantile knows types 1
// and 4 only). It is +Inf when it falls
// among timeouts, also when only the upper of two middle values is one. NaN for
// an empty sample.
func Quantile(x []float64, p float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	return newRank(len(x), p).in(sorted(x))
}

// ordered is a sample in rising order.
type ordered interface {
	at(i int) float64     // the i-th, from 0
	atMost(v float64) int // how many are v or less
	under(v float64) int  // how many are less than v
	mirrored() ordered    // of the negatives
}

// QuantileInterval returns the p-quantile of x with its percentile bootstrap
// interval: the range that holds the quantile of 95 % of all samples drawn with
// replacement from x. Nothing is drawn, the probabilities are summed: see
// [rank.lowEnd]. For the median of a continuous population the true coverage is 92
// to 96 % from 25 trials on, 94 to 96 % from 167 on; ties only add to it. It
// cannot look past the largest value: keep n(1−p) above 10 or so.
func QuantileInterval(x []float64, p float64) Estimate {
	if len(x) == 0 {
		return Estimate{math.NaN(), math.NaN(), math.NaN()}
	}
	return interval(sorted(x), len(x), p)
}

// Capped returns x with every value above the limit, so every timeout, set to it.
func Capped(x []float64, limit float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = min(v, limit)
	}
	return y
}

// rank is a quantile's place in a sorted sample of n: a share part of the way
// from the k-th value (the first is 1) to the next.
type rank struct {
	n, k int
	part float64
}

func newRank(n int, p float64) rank {
	h := math.Round(float64(n-1)*p*1e9) / 1e9 // 0.07·100 is 7, not 7.000000000000001
	below := math.Floor(h)
	return rank{n, int(below) + 1, math.Round((h-below)*1e9) / 1e9}
}

// in returns the quantile.
func (r rank) in(x ordered) float64 {
	if r.part == 0 {
		return x.at(r.k - 1)
	}
	return r.between(x.at(r.k-1), x.at(r.k))
}

// interval returns the p-quantile of a sample of n with its interval.
func interval(x ordered, n int, p float64) Estimate {
	r := newRank(n, p)
	return Estimate{Value: r.in(x), Low: r.lowEnd(x), High: -newRank(n, 1-p).lowEnd(x.mirrored())}
}

func (r rank) between(a, b float64) float64 {
	if a == b { // also when both are infinite
		return a
	}
	return float64((1-r.part)*a) + float64(r.part*b)
}

// negligible is a probability that no interval end depends on.
const negligible = 1e-17

// lowEnd returns the smallest t with P(T ≤ t) ≥ (1−Level)/2, T being the
// quantile of a resample of the sorted sample x.
//
// Every one of the n picks falls among the first c values with probability c/n.
// So the k-th smallest pick is one of them with probability P(Bin(n, c/n) ≥ k),
// which is the whole answer when the quantile is one order statistic (Efron,
// "Bootstrap methods", Annals of Statistics 1979, section 3). When it lies
// between two, T ≤ t also holds if exactly k picks fall among the c values ≤ t
// and the combination is still ≤ t: given that, the lower one is the largest of
// k picks from c, the upper one the smallest of n−k picks from the other n−c.
func (r rank) lowEnd(x ordered) float64 {
	const tail = (1 - Level) / 2
	first := sort.Search(r.n-1, func(i int) bool {
		v := x.at(i)
		return !below(r.atMost(x, v, x.atMost(v)), tail)
	})
	end := x.at(first)
	c := x.under(end)
	if r.part == 0 || c == 0 {
		return end
	}
	// Between x[c−1] and end T takes only combinations of a value up to the one
	// with a value from the other on.
	var between []float64
	for i := c; i > 0 && r.lowerUpTo(i, c) > negligible; i-- {
		for j := c + 1; j <= r.n && r.upperBeyond(j-1, c) > negligible; j++ {
			v := r.between(x.at(i-1), x.at(j-1))
			if v >= end {
				break
			}
			if v > x.at(c-1) {
				between = append(between, v)
			}
		}
	}
	slices.Sort(between)
	i := sort.Search(len(between), func(i int) bool { return !below(r.atMost(x, between[i], c), tail) })
	if i < len(between) {
		return between[i]
	}
	return end
}

// atMost returns P(T ≤ t), where c values of x are ≤ t.
func (r rank) atMost(x ordered, t float64, c int) float64 {
	if c == 0 || c == r.n {
		return float64(c / r.n)
	}
	q := float64(c) / float64(r.n)
	if r.part == 0 {
		return mathext.RegIncBeta(float64(r.k), float64(r.n-r.k+1), q)
	}
	sum, j := 0.0, c
	for i := c; i > 0; i-- {
		p := r.lowerUpTo(i, c)
		if p < negligible {
			break
		}
		for j < r.n && r.between(x.at(i-1), x.at(j)) <= t {
			j++
		}
		sum += (p - r.lowerUpTo(i-1, c)) * (1 - r.upperBeyond(j, c))
	}
	return mathext.RegIncBeta(float64(r.k+1), float64(r.n-r.k), q) + r.exactly(q)*sum
}

// exactly returns P(Bin(n, q) = k), 0 < q < 1.
func (r rank) exactly(q float64) float64 {
	n, k := float64(r.n), float64(r.k)
	return math.Exp(logFactorial(n) - logFactorial(k) - logFactorial(n-k) + k*math.Log(q) + (n-k)*math.Log1p(-q))
}

// lowerUpTo returns P(the largest of k picks from the first c is one of the first i).
func (r rank) lowerUpTo(i, c int) float64 { return math.Pow(float64(i)/float64(c), float64(r.k)) }

// upperBeyond returns P(the smallest of n−k picks from all but the first c is
// beyond the first j).
func (r rank) upperBeyond(j, c int) float64 {
	return math.Pow(float64(r.n-j)/float64(r.n-c), float64(r.n-r.k))
}

func logFactorial(n float64) float64 {
	l, _ := math.Lgamma(n + 1)
	return l
}

// whole is a sample in rising order, value by value.
type whole []float64

// sorted returns x in order, x itself when it is.
func sorted(x []float64) whole {
	if slices.IsSorted(x) {
		return x
	}
	x = slices.Clone(x)
	slices.Sort(x)
	return x
}

func (x whole) at(i int) float64 { return x[i] }
func (x whole) atMost(v float64) int {
	return sort.Search(len(x), func(i int) bool { return x[i] > v })
}
func (x whole) under(v float64) int { return sort.SearchFloat64s(x, v) }

func (x whole) mirrored() ordered {
	y := make(whole, len(x))
	for i, v := range x {
		y[len(x)-1-i] = -v
	}
	return y
}
