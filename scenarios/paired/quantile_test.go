package paired

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var inf = math.Inf(1)

// stream returns numbers for the n-th simulated sample of a test.
func stream(test string, n int) draw.Stream {
	return draw.NewTrial(20260101, test, n).Stream(draw.Recording)
}

// unit returns number i of s in (0, 1).
func unit(s draw.Stream, i int) float64 { return (float64(s.Unit(int64(i))) + 0.5) / draw.Share }

// near fails unless got is within tol of want, infinities alike.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %v, want %v ± %v", what, got, want, tol)
	}
}

func TestQuantileIsTypeSeven(t *testing.T) {
	for _, c := range []struct {
		x       []float64
		p, want float64
	}{
		{[]float64{4, 1, 3, 2}, 0.5, 2.5},
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 0.9, 9.1}, // R: quantile(1:10, 0.9)
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 0.25, 3.25},
		{[]float64{7}, 0.95, 7},
		{[]float64{1, 2, 3}, 0, 1},
		{[]float64{1, 2, 3}, 1, 3},
		{[]float64{0, 0, 0, 9}, 0.5, 0},
		{[]float64{1, inf, 2, 3}, 0.5, 2.5},
		{[]float64{1, inf, 2, inf}, 0.5, inf}, // only the upper of the middle two is a timeout
		{[]float64{1, inf, inf}, 0.5, inf},
		{[]float64{1, 2, inf}, 0.5, 2},
		{append(make([]float64, 101-7), inf, inf, inf, inf, inf, inf, inf), 0.93, 0}, // rank 94 of 101 to the bit
	} {
		if got := Quantile(c.x, c.p); got != c.want {
			t.Errorf("the %v-quantile of %v is %v, want %v", c.p, c.x, got, c.want)
		}
		if e := QuantileInterval(c.x, c.p); e.Value != c.want || e.Low > e.Value || e.High < e.Value {
			t.Errorf("the %v-quantile of %v with its interval is %v, want %v within", c.p, c.x, e, c.want)
		}
	}
	if got := Quantile(nil, 0.5); !math.IsNaN(got) {
		t.Errorf("the median of nothing is %v", got)
	}
}

func TestQuantileLeavesTheSampleAlone(t *testing.T) {
	x := []float64{3, 1, 2}
	QuantileInterval(x, 0.5)
	if !slices.Equal(x, []float64{3, 1, 2}) {
		t.Errorf("the sample became %v", x)
	}
}

// Every one of the n^n resamples is made.
func TestQuantileIntervalIsTheBootstrapOfAllResamples(t *testing.T) {
	for _, x := range [][]float64{
		{5}, {1, 2}, {1, 4, 5}, {0, 0, 1}, {1, 2, 4, 8}, {0, 0, 0, 1}, {1, 2, 4, 8, 16}, {0, 0, 3, 3, 3},
		{-7, -1, 0, 2, 3, 11}, {0, 0, 0, 0, 2, 5}, {0, 1, 1, 2, 2, 9}, {1, 2, 3, 4, inf, inf}, {1, inf, inf, inf, inf, inf},
	} {
		for _, p := range []float64{0.5, 0.25, 0.9, 0.1, 1.0 / 3} {
			n := len(x)
			total := int(math.Pow(float64(n), float64(n)))
			all := make([]float64, total)
			pick := make([]float64, n)
			for code := range all {
				for i, rest := 0, code; i < n; i, rest = i+1, rest/n {
					pick[i] = x[rest%n]
				}
				all[code] = Quantile(pick, p)
			}
			slices.Sort(all)
			// The smallest with at least 2.5 % at or below it, the largest with
			// at least 2.5 % at or above it.
			tail := int(math.Ceil(float64(total)*0.025 - 1e-6))
			want := Estimate{Quantile(x, p), all[tail-1], all[total-tail]}
			got := QuantileInterval(x, p)
			what := fmt.Sprintf("the %v-quantile of %v: ", p, x)
			near(t, what+"low end", got.Low, want.Low, 1e-9)
			near(t, what+"high end", got.High, want.High, 1e-9)
		}
	}
}

// sample draws values with many ties, some 0 and perhaps timeouts.
func sample(timeouts bool) *rapid.Generator[[]float64] {
	return rapid.Custom(func(t *rapid.T) []float64 {
		x := rapid.SliceOfN(rapid.Map(rapid.IntRange(-8, 40), func(i int) float64 {
			if i > 20 {
				return 0
			}
			return float64(i) / 4
		}), 1, 60).Draw(t, "values")
		if timeouts {
			for i := range rapid.IntRange(0, len(x)).Draw(t, "timeouts") {
				x[i] = inf
			}
		}
		return x
	})
}

func TestQuantileIntervalMirrorsScalesAndOrders(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := sample(false).Draw(t, "x")
		p := rapid.SampledFrom([]float64{0.5, 0.9, 0.95, 0.1, 0.25}).Draw(t, "p")
		e := QuantileInterval(x, p)
		if !(e.Low <= e.Value && e.Value <= e.High) {
			t.Fatalf("%v is out of order", e)
		}
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = -2*v + 1
		}
		m := QuantileInterval(y, 1-p)
		if math.Abs(m.Value-(1-2*e.Value))+math.Abs(m.Low-(1-2*e.High))+math.Abs(m.High-(1-2*e.Low)) > 1e-6 {
			t.Fatalf("mirrored and doubled %v became %v", e, m)
		}
	})
}

func TestMoreTimeoutsNeverLowerAnInterval(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := sample(true).Draw(t, "x")
		e := QuantileInterval(x, 0.5)
		x[rapid.IntRange(0, len(x)-1).Draw(t, "late")] = inf
		if l := QuantileInterval(x, 0.5); l.Low < e.Low || l.Value < e.Value || l.High < e.High {
			t.Fatalf("%v became %v", e, l)
		}
	})
}

// For an odd sample of a continuous population the ends are order statistics, so
// the coverage is a binomial probability.
func TestMedianIntervalCoverageIsAsDocumented(t *testing.T) {
	sizes := []int{999, 2001, 4001}
	for n := 25; n < 600; n += 2 {
		sizes = append(sizes, n)
	}
	for _, n := range sizes {
		x := make([]float64, n)
		for i := range x {
			x[i] = float64(i + 1)
		}
		e := QuantileInterval(x, 0.5)
		// The median lies within unless fewer than Low or more than High−1 values are below it.
		fair := distuv.Binomial{N: float64(n), P: 0.5}
		covers := fair.CDF(e.High-1) - fair.CDF(e.Low-1)
		least := 0.94
		if n < 167 {
			least = 0.9195
		}
		if covers < least || covers > 0.9605 {
			t.Errorf("n = %d: ranks %v to %v cover %.4f", n, e.Low, e.High, covers)
		}
	}
}

// misses returns the shares of simulated intervals that lie above and below truth.
func misses(runs int, truth float64, interval func(run int) Estimate) (above, below float64) {
	for run := range runs {
		switch e := interval(run); {
		case e.Low > truth:
			above++
		case e.High < truth:
			below++
		}
	}
	return above / float64(runs), below / float64(runs)
}

func TestMedianIntervalOfEvenAndTiedSamplesCovers(t *testing.T) {
	for _, c := range []struct {
		name   string
		n      int
		value  func(u float64) float64
		median float64
		least  float64
	}{
		{"skewed", 200, func(u float64) float64 { return -math.Log(u) }, math.Ln2, 0.93},
		{"in steps", 200, func(u float64) float64 { return math.Floor(u * 9) }, 4, 0.95},
		{"mostly 0", 100, func(u float64) float64 { return max(0, u-0.6) }, 0, 0.95},
	} {
		above, below := misses(1500, c.median, func(run int) Estimate {
			s := stream(c.name, run)
			x := make([]float64, c.n)
			for i := range x {
				x[i] = c.value(unit(s, i))
			}
			return QuantileInterval(x, 0.5)
		})
		if 1-above-below < c.least {
			t.Errorf("%s: above %.3f, below %.3f of the intervals miss", c.name, above, below)
		}
	}
}

func ExampleQuantileInterval() {
	seconds := []float64{3.1, 2.4, 2.9, 3.3, 2.4, 5.0, 2.7, 3.1, 4.2, math.Inf(1), 2.6, 3.0}
	fmt.Printf("%.2f\n", QuantileInterval(seconds, 0.5))
	fmt.Printf("%.2f\n", QuantileInterval(seconds, 0.95))
	// Output:
	// {3.05 2.65 3.75}
	// {+Inf 3.30 +Inf}
}

func BenchmarkMedianInterval(b *testing.B) {
	for _, n := range []int{400, 4000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			x := make([]float64, n)
			for i := range x {
				x[i] = unit(stream("benchmark", n), i)
			}
			for b.Loop() {
				QuantileInterval(x, 0.5)
			}
		})
	}
}
