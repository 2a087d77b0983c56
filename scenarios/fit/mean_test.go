package fit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// coverage is the share of intervals over many samples of a normal distribution that
// hold the truth.
func coverage(n int, holds func(x []float64) bool) float64 {
	const samples = 8000
	rng := rand.New(rand.NewPCG(13, uint64(n)))
	held := 0
	x := make([]float64, n)
	for range samples {
		for i := range x {
			x[i] = 10 + 2*rng.NormFloat64()
		}
		if holds(x) {
			held++
		}
	}
	return float64(held) / samples
}

// Two standard errors hold the truth in 88 % of the samples of five.
func TestIntervalsHoldTheTruthAlsoOfFewValues(t *testing.T) {
	for _, n := range []int{2, 3, 4, 5, 6, 8, 12, 30} {
		for _, x := range []struct {
			name        string
			least, most float64
			holds       func(x []float64) bool
		}{
			{"mean", 0.94, 0.96, func(x []float64) bool { m := meanOf(x); return math.Abs(m.value-10) <= m.margin() }},
			{"median", 0.93, 0.999, func(x []float64) bool { m := middle(x); return math.Abs(m.value-10) <= m.margin() }},
			{"spread", 0.94, 0.96, func(x []float64) bool {
				low, high := spreadInterval(spread(x), len(x))
				return low <= 2 && 2 <= high
			}},
		} {
			got := coverage(n, x.holds)
			t.Logf("%s of %d: %.1f %%", x.name, n, 100*got)
			if got < x.least || got > x.most {
				t.Errorf("%s of %d values: %.1f %% of the intervals hold the truth, want %.0f to %.0f", x.name, n, 100*got, 100*x.least, 100*x.most)
			}
		}
	}
}
