package paired

import (
	"math"
	"slices"
)

// Holm returns p values adjusted for being read together: the chance that any of
// the true hypotheses falls below a level is at most that level (Holm, "A simple
// sequentially rejective multiple test procedure", Scandinavian Journal of
// Statistics 1979). The order of p is kept.
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case p[i] < p[j]:
			return -1
		case p[i] > p[j]:
			return 1
		}
		return 0
	})
	adjusted := make([]float64, len(p))
	highest := 0.0
	for done, i := range order {
		highest = max(highest, min(1, p[i]*float64(len(p)-done)))
		adjusted[i] = highest
	}
	return adjusted
}

// Weighed is an estimate and how much it weighs.
type Weighed struct {
	Weight float64 // > 0; only the proportions count
	Estimate
}

// Weigh returns the weighted mean of independent estimates (medians, means or
// shares of different tasks, or their differences). Each end is as far from the
// mean as the ends of the parts, added in squares: MOVER of Zou and Donner,
// Statistics in Medicine 27 (2008). Where a part is open the ends add up as they
// are.
func Weigh(parts []Weighed) Estimate {
	var sum, weights, low2, high2, low, high float64
	for _, p := range parts {
		weights += p.Weight
		sum += float64(p.Weight * p.Value)
		low += float64(p.Weight * p.Low)
		high += float64(p.Weight * p.High)
		l, h := p.Weight*(p.Value-p.Low), p.Weight*(p.High-p.Value)
		low2 += float64(l * l)
		high2 += float64(h * h)
	}
	if !math.IsInf(sum, 0) {
		low, high = sum-math.Sqrt(low2), sum+math.Sqrt(high2)
	}
	return Estimate{sum / weights, low / weights, high / weights}
}
