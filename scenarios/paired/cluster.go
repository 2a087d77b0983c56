package paired

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Members of a population are clusters: whatever the trials of one have in common, a
// member is one number of a sample of independent ones. These are the intervals over
// members, for samples as small as 30 and as skewed as times are.

// student is the quantile of Student's t at (1+Level)/2 for a sample of n.
func student(n int) float64 {
	return distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile((1 + Level) / 2)
}

// ClusterMean returns the mean of one number for each member with its interval. Each
// end is the outer one of two: Student's t, and the approximate bootstrap of
// [MeanInterval] with Student's quantile and n−1 instead of n. The bootstrap lengthens
// the interval on the side of the long tail, where Student's alone misses; but what it
// takes away on the other side rests on the skewness of a sample, which is less than
// that of a long tail (it cannot be above √n), so that is not taken away. A single
// member gives an open interval.
func ClusterMean(x []float64) Estimate {
	n := len(x)
	m := mean(x)
	if n < 2 {
		return Estimate{m, math.Inf(-1), math.Inf(1)}
	}
	var m2, m3 float64
	for _, v := range x {
		d := v - m
		m2 += float64(d * d)
		m3 += float64(d * d * d)
	}
	if m2 == 0 {
		return Estimate{m, m, m}
	}
	t, many := student(n), float64(n)
	error := math.Sqrt(m2 / (many * (many - 1)))
	e := Estimate{m, m - float64(t*error), m + float64(t*error)}
	skew := m3 / (6 * m2 * math.Sqrt(m2)) // a sixth of the skewness of the mean
	end := func(t float64) float64 {
		w := skew + t
		bent := 1 - float64(skew*w)
		return m + error*w/(bent*bent)
	}
	e.Low, e.High = min(e.Low, end(-t)), max(e.High, end(t))
	return e
}

// ClusterP is Student's test of a mean of 0 over members, two-sided; 1 for fewer than
// two members, or where all are 0.
func ClusterP(x []float64) float64 {
	n, m, m2 := float64(len(x)), mean(x), 0.0
	for _, v := range x {
		m2 += float64((v - m) * (v - m))
	}
	switch {
	case len(x) < 2 || m == 0:
		return 1
	case m2 == 0:
		return 0
	}
	t := math.Abs(m) / math.Sqrt(m2/(n*(n-1)))
	return 2 * distuv.StudentsT{Sigma: 1, Nu: n - 1}.Survival(t)
}

// MemberShare returns hits/n with an interval for a share of members, which may be
// near 0 or 1: Wilson's, but for a few hits the lower end is that of a Poisson count
// at 5 % (likewise the upper end for a few misses), as Wilson's is too high there: a
// single hit among 30 says at least 0.6 %, and shares of half that make one in six
// samples (Brown, Cai and DasGupta, "Interval estimation for a binomial proportion",
// Statistical Science 16 (2001), section 4.1.1).
func MemberShare(hits, n int) Estimate {
	e := ShareInterval(hits, n)
	few := 2
	if n > 50 {
		few = 3
	}
	least := func(k int) float64 { // the mean of which so many are met in 1 of 20
		return distuv.ChiSquared{K: float64(2 * k)}.Quantile(1-Level) / 2 / float64(n)
	}
	if hits > 0 && hits <= few {
		e.Low = min(e.Low, least(hits))
	}
	if misses := n - hits; misses > 0 && misses <= few {
		e.High = max(e.High, 1-least(misses))
	}
	return e
}

// ClusterShare returns the share that hits have of all of something that members did
// of[i] of, with Wilson's interval for as many independent ones as tell as much: the
// number that the spread between members makes of them (Kish's effective sample size),
// with Student's quantile over members. Where no or all of them hit there is no spread
// to see, and they count as one a member. It panics when the lengths differ.
func ClusterShare(hits, of []int) Estimate {
	mustPair(len(hits), len(of))
	all, sum, members := 0, 0, 0
	for i := range hits {
		sum += hits[i]
		all += of[i]
		if of[i] > 0 {
			members++
		}
	}
	if all == 0 || members < 2 {
		e := ShareInterval(sum, all)
		e.Low, e.High = 0, 1
		return e
	}
	p, n := float64(sum)/float64(all), float64(members)
	spread := 0.0
	for i := range hits {
		d := float64(hits[i]) - float64(p*float64(of[i]))
		spread += float64(d * d)
	}
	variance := spread / (float64(all) * float64(all)) * n / (n - 1)
	effective := n
	if sum > 0 && sum < all {
		effective = min(float64(all), p*(1-p)/variance)
	}
	t := student(members)
	mid := (p*effective + t*t/2) / (effective + t*t)
	half := t / (effective + t*t) * math.Sqrt(float64(p*(1-p)*effective)+t*t/4)
	e := Estimate{p, mid - half, mid + half}
	if sum == 0 {
		e.Low = 0
	}
	if sum == all {
		e.High = 1
	}
	return e
}
