package fit

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"dialwright/scenarios/paired"
)

// mean is an average, or another middle, of so many values and its standard error.
type mean struct {
	value, se float64
	n         int
}

// confidence is the share of the intervals that hold the truth.
const confidence = 0.95

// margin is how far an interval of 95 % reaches either way: by Student's t, as the
// standard error comes from the same few values.
func (m mean) margin() float64 {
	if m.n < 2 {
		return 2 * m.se
	}
	return m.se * distuv.StudentsT{Sigma: 1, Nu: float64(m.n - 1)}.Quantile((1+confidence)/2)
}

// interval is the value between its ends.
func (m mean) interval() paired.Estimate {
	return paired.Estimate{Value: m.value, Low: m.value - m.margin(), High: m.value + m.margin()}
}

func meanOf(x []float64) mean {
	n := float64(len(x))
	if n == 0 {
		return mean{}
	}
	sum, sq := 0.0, 0.0
	for _, v := range x {
		sum += v
	}
	m := sum / n
	for _, v := range x {
		sq += (v - m) * (v - m)
	}
	if n == 1 {
		return mean{m, math.Abs(m), 1}
	}
	return mean{m, math.Sqrt(sq / (n - 1) / n), len(x)}
}

// middle returns the median of a sample with a standard error: from its quartiles,
// which a stray value does not move, or where it is too small to have any, from its
// spread.
func middle(x []float64) mean {
	slices.Sort(x)
	n := len(x)
	m := (x[(n-1)/2] + x[n/2]) / 2
	sd, least := (x[3*n/4]-x[n/4])/1.349, 0.02
	switch {
	case n == 1: // it says nothing of its error
		sd, least = 0, 0.1
	case n < 8:
		sd = spread(x)
	}
	return mean{m, max(least, math.Sqrt(math.Pi/2)*sd/math.Sqrt(float64(n))), n}
}

// spread returns the standard deviation of a sample.
func spread(x []float64) float64 {
	m := meanOf(x)
	return m.se * math.Sqrt(float64(len(x)))
}

// spreadInterval returns the interval of a standard deviation sd over so many
// values: (n−1)·s²/σ² has a χ² distribution.
func spreadInterval(sd float64, n int) (low, high float64) {
	free := float64(n - 1)
	chi := distuv.ChiSquared{K: free}
	at := func(share float64) float64 { return sd * math.Sqrt(free/chi.Quantile(share)) }
	return at((1 + confidence) / 2), at((1 - confidence) / 2)
}
