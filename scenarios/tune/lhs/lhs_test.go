package lhs

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

func stream(trial int) draw.Stream { return draw.NewTrial(6, "lhs", trial).Stream(draw.Search) }

func TestEveryStratumOfEveryCoordinateHoldsOnePoint(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n, dim := rapid.IntRange(1, 300).Draw(r, "n"), rapid.IntRange(1, 12).Draw(r, "dim")
		points := Points(n, dim, stream(rapid.IntRange(0, 1000).Draw(r, "trial")))
		if len(points) != n {
			r.Fatalf("%d points; want %d", len(points), n)
		}
		for i := range dim {
			seen := make([]bool, n)
			for _, p := range points {
				k := int(math.Floor(p[i] * float64(n)))
				if k < 0 || k >= n || seen[k] {
					r.Fatalf("coordinate %d: %v is outside the box or the second point in its stratum", i, p[i])
				}
				if seen[k] = true; p[i]*Grid != math.Trunc(p[i]*Grid) {
					r.Fatalf("coordinate %d: %v is no multiple of 1/%d", i, p[i], Grid)
				}
			}
		}
	})
}

func TestAsManyPointsAsTheGridHasSteps(t *testing.T) {
	points := Points(Grid, 1, stream(0))
	x := make([]float64, 0, Grid)
	for _, p := range points {
		x = append(x, p[0])
	}
	slices.Sort(x)
	for k, v := range x {
		if v != float64(k)/Grid {
			t.Fatalf("point %d in order is %v; want %v", k, v, float64(k)/Grid)
		}
	}
}

// McKay, Beckman and Conover 1979; Stein, "Large Sample Properties of
// Simulations Using Latin Hypercube Sampling", Technometrics 29 (2), 1987: the
// variance of a mean over the points loses what is additive in the settings. Of
// a sum of smooth functions of one setting each, it falls as n^-3 and not n^-1.
func TestAMeanOfWhatIsAdditiveIsAlmostExact(t *testing.T) {
	cost := func(x []float64) float64 { return x[0] + x[1]*x[1] + math.Exp(x[2]) }
	exact := 1./2 + 1./3 + math.E - 1
	square := func(n int, points func(trial int) [][]float64) (sum float64) {
		const studies = 400
		for trial := range studies {
			mean := 0.0
			for _, x := range points(trial) {
				mean += cost(x) / float64(n)
			}
			sum += (mean - exact) * (mean - exact) / studies
		}
		return sum
	}
	hypercube := func(n int) float64 {
		return square(n, func(trial int) [][]float64 { return Points(n, 3, stream(trial)) })
	}
	random := square(20, func(trial int) (points [][]float64) {
		for k := range 20 {
			points = append(points, Points(1, 3, stream(1000+20*trial+k))[0])
		}
		return points
	})
	few, many := hypercube(20), hypercube(80)
	t.Logf("mean square error: random 20 %.2g, hypercube 20 %.2g, hypercube 80 %.2g", random, few, many)
	if ratio := random / few; ratio < 200 {
		t.Errorf("20 points: a random sample's mean square error is %.0f times the hypercube's; want 200 (n² = 400 less chance)", ratio)
	}
	if order := math.Log(few/many) / math.Log(4); math.Abs(order-3) > 0.3 {
		t.Errorf("the mean square error falls as n^-%.2f; want n^-3", order)
	}
}

// Orders of coordinates are drawn independently: with 50 points the correlation
// of two has mean 0 and standard deviation 1/7.
func TestCoordinatesAreUncorrelated(t *testing.T) {
	const studies, n = 400, 50
	sum, sum2 := 0.0, 0.0
	for trial := range studies {
		r := 0.0
		for _, p := range Points(n, 2, stream(trial)) {
			r += (p[0] - 0.5) * (p[1] - 0.5) * 12 / n
		}
		sum, sum2 = sum+r/studies, sum2+r*r/studies
	}
	if math.Abs(sum) > 4*(1./7)/20 || math.Abs(math.Sqrt(sum2)*7-1) > 0.15 {
		t.Errorf("the correlation has mean %.4f and deviation %.4f; want 0 within 0.029 and 1/7 within 15 %%", sum, math.Sqrt(sum2))
	}
}

// With three points all six orders of the second coordinate against the first
// are equally likely: χ² on 5 degrees of freedom stays below 20.5 in 999 of 1000.
func TestEveryOrderIsEquallyLikely(t *testing.T) {
	const studies = 6000
	count := map[[3]int]int{}
	for trial := range studies {
		var order [3]int
		for _, p := range Points(3, 2, stream(trial)) {
			order[int(p[0]*3)] = int(p[1] * 3)
		}
		count[order]++
	}
	chi2 := 0.0
	for _, c := range count {
		chi2 += math.Pow(float64(c)-studies/6, 2) / (studies / 6)
	}
	if len(count) != 6 || chi2 > 20.5 {
		t.Errorf("%d orders of 6 seen, χ² %.1f; want 6 and at most 20.5", len(count), chi2)
	}
}

func TestTheSameStreamGivesTheSamePoints(t *testing.T) {
	a := Points(17, 4, stream(3))
	if !slices.EqualFunc(a, Points(17, 4, stream(3)), slices.Equal) {
		t.Error("one stream gave two sets of points")
	}
	if slices.EqualFunc(a, Points(17, 4, stream(4)), slices.Equal) {
		t.Error("two streams gave one set of points")
	}
}

func ExamplePoints() {
	s := draw.NewTrial(7, "screen", 0).Stream(draw.Search)
	for _, p := range Points(5, 2, s) {
		// A pulse of 10 to 100 ms and one of the gains 1, 2, 4, 8.
		fmt.Printf("%2.0f ms, gain %d\n", math.Floor(10+91*p[0]), 1<<int(4*p[1]))
	}
	// Output:
	// 72 ms, gain 4
	// 39 ms, gain 2
	// 89 ms, gain 1
	// 50 ms, gain 2
	// 24 ms, gain 8
}

func BenchmarkPoints(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		Points(64, 12, stream(1))
	}
}
