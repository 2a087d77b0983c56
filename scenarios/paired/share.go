package paired

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ShareInterval returns hits/n with Wilson's interval (Wilson, "Probable
// inference, the law of succession, and statistical inference", JASA 1927). It
// stays within 0 and 1, and its ends are 0 and 1 exactly where no or all trials
// hit. Without trials the share is NaN, between 0 and 1.
func ShareInterval(hits, n int) Estimate {
	if n == 0 {
		return Estimate{math.NaN(), 0, 1}
	}
	e := wilson(float64(hits), float64(n))
	if hits == 0 {
		e.Low = 0
	}
	if hits == n {
		e.High = 1
	}
	return e
}

func wilson(hits, n float64) Estimate {
	p := hits / n
	mid := (hits + z*z/2) / (n + z*z)
	half := z / (n + z*z) * math.Sqrt(hits*(1-p)+z*z/4)
	return Estimate{p, mid - half, mid + half}
}

// ShareDifference compares how often the same trials ended in something (an
// overshoot, say) with candidate A and with candidate B.
type ShareDifference struct {
	Both, OnlyA, OnlyB, Neither int // trials

	// Difference is A's share minus B's with Newcombe's interval for paired
	// shares, method 10 of "Improved confidence intervals for the difference
	// between binomial proportions based on paired data", Statistics in Medicine
	// 17 (1998): two Wilson intervals, joined with the correlation that the pairs
	// show.
	Difference Estimate

	// P is McNemar's exact test: of the trials that ended differently, as many
	// one way as the other, but for chance.
	P float64
}

// CompareShares pairs a[i] with b[i]. It panics when the lengths differ.
func CompareShares(a, b []bool) ShareDifference {
	mustPair(len(a), len(b))
	var s ShareDifference
	for i := range a {
		switch {
		case a[i] && b[i]:
			s.Both++
		case a[i]:
			s.OnlyA++
		case b[i]:
			s.OnlyB++
		default:
			s.Neither++
		}
	}
	return SharesOf(s.Both, s.OnlyA, s.OnlyB, s.Neither)
}

// SharesOf compares shares of trials that were counted.
func SharesOf(both, onlyA, onlyB, neither int) ShareDifference {
	return ShareDifference{both, onlyA, onlyB, neither, newcombe(both, onlyA, onlyB, neither), evenSplit(onlyA, onlyB)}
}

func newcombe(both, onlyA, onlyB, neither int) Estimate {
	n := both + onlyA + onlyB + neither
	if n == 0 {
		return Estimate{math.NaN(), -1, 1}
	}
	a, b := ShareInterval(both+onlyA, n), ShareInterval(both+onlyB, n)
	phi := 0.0
	margins := float64(both+onlyA) * float64(onlyB+neither) * float64(both+onlyB) * float64(onlyA+neither)
	if margins > 0 {
		over := float64(both*neither - onlyA*onlyB)
		if over > 0 {
			over = max(0, over-float64(n)/2) // the continuity correction of method 10
		}
		phi = over / math.Sqrt(margins)
	}
	join := func(x, y float64) float64 { return math.Sqrt(max(0, float64(x*x)-float64(2*phi*x*y)+float64(y*y))) }
	d := float64(onlyA-onlyB) / float64(n)
	return Estimate{
		Value: d,
		Low:   max(-1, d-join(a.Value-a.Low, b.High-b.Value)),
		High:  min(1, d+join(a.High-a.Value, b.Value-b.Low)),
	}
}

// SignTest counts in how many trials a difference was below, at and above 0.
type SignTest struct {
	Minus, Zero, Plus int // trials

	// P is the exact sign test, trials at 0 left out: as many below as above, but
	// for chance.
	P float64
}

// Signs counts the signs of d and tests them.
func Signs(d []float64) SignTest {
	var s SignTest
	for _, v := range d {
		switch {
		case v < 0:
			s.Minus++
		case v > 0:
			s.Plus++
		default:
			s.Zero++
		}
	}
	return SignsOf(s.Minus, s.Zero, s.Plus)
}

// SignsOf tests signs that were counted.
func SignsOf(minus, zero, plus int) SignTest {
	return SignTest{minus, zero, plus, evenSplit(minus, plus)}
}

// evenSplit returns the two-sided probability that a fair coin splits a + b
// throws at least as unevenly.
func evenSplit(a, b int) float64 {
	fair := distuv.Binomial{N: float64(a + b), P: 0.5}
	return min(1, 2*fair.CDF(float64(min(a, b))))
}

func mustPair(a, b int) {
	if a != b {
		panic(fmt.Sprintf("paired: %d trials of one candidate and %d of the other cannot be paired", a, b))
	}
}
