package paired

import "math"

// Smirnov is the two-sample Kolmogorov–Smirnov test of unpaired samples.
type Smirnov struct {
	D float64 // the largest distance between the two shares of values up to any point

	// P is the probability of a distance at least as large if all values came
	// from one population; values that are equal stay equal.
	P float64

	// Exact says that P counts every way to deal the values into two samples. For
	// samples with a product of sizes above four million it is Kolmogorov's
	// limit, which is too large where there are ties.
	Exact bool
}

// KolmogorovSmirnov compares two samples. Without values in either, D is 0 and P 1.
func KolmogorovSmirnov(x, y []float64) Smirnov {
	m, n := len(x), len(y)
	if m == 0 || n == 0 {
		return Smirnov{0, 1, true}
	}
	x, y = sorted(x), sorted(y)
	// Distances are whole numbers of 1/(m·n). A distance counts only where the
	// next value is another one; last[i+j] says so after i + j values.
	last := make([]bool, m+n+1)
	distance := func(i, j int) int64 {
		d := int64(i)*int64(n) - int64(j)*int64(m)
		return max(d, -d)
	}
	var largest int64
	for i, j := 0, 0; i < m || j < n; {
		v := math.Inf(1)
		if i < m {
			v = x[i]
		}
		if j < n {
			v = min(v, y[j])
		}
		for i < m && x[i] == v {
			i++
		}
		for j < n && y[j] == v {
			j++
		}
		last[i+j] = true
		largest = max(largest, distance(i, j))
	}
	t := Smirnov{D: float64(largest) / float64(m) / float64(n)}
	if t.Exact = m*n <= 4e6; !t.Exact {
		t.P = kolmogorov(t.D * math.Sqrt(float64(m)/float64(m+n)*float64(n)))
		return t
	}
	if largest == 0 {
		t.P = 1
		return t
	}
	// reached[j] is the probability that a random path of i steps of x and j of y
	// has met such a distance; the last step of a path to (i, j) was one of x with
	// probability i/(i+j) (Hodges, Arkiv för Matematik 1958; for ties Schröer and
	// Trenkler, Computational Statistics & Data Analysis 1995).
	reached := make([]float64, n+1)
	for i := 0; i <= m; i++ {
		for j := 0; j <= n; j++ {
			switch {
			case last[i+j] && distance(i, j) >= largest:
				reached[j] = 1
			case j > 0:
				reached[j] = (float64(float64(i)*reached[j]) + float64(float64(j)*reached[j-1])) / float64(i+j)
			}
		}
	}
	t.P = min(1, reached[n])
	return t
}

// kolmogorov returns the limit of P(√(mn/(m+n))·D ≥ t) (Kolmogorov 1933).
func kolmogorov(t float64) float64 {
	if t < 0.2 {
		return 1 // within 1e-12
	}
	sum, sign := 0.0, 1.0
	for k := 1.0; ; k++ {
		term := math.Exp(-2 * k * k * t * t)
		if sum += sign * term; term < 1e-17 {
			return min(1, max(0, 2*sum))
		}
		sign = -sign
	}
}
