package paired

import (
	"fmt"
	"math"
	"math/bits"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// Every way to deal the pooled values into samples of the same sizes is tried.
func TestSmirnovCountsEveryDeal(t *testing.T) {
	value := rapid.Map(rapid.IntRange(0, 6), func(i int) float64 {
		if i == 6 {
			return inf
		}
		return float64(i)
	})
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(value, 1, 6).Draw(t, "x")
		y := rapid.SliceOfN(value, 1, 6).Draw(t, "y")
		got := KolmogorovSmirnov(x, y)
		if d := stat.KolmogorovSmirnov(sorted(x), nil, sorted(y), nil); math.Abs(got.D-d) > 1e-12 {
			t.Fatalf("D is %v, gonum's %v", got.D, d)
		}
		pool := append(append([]float64{}, x...), y...)
		hits, deals := 0, 0
		for deal := range uint(1) << len(pool) {
			if bits.OnesCount(deal) != len(x) {
				continue
			}
			var a, b []float64
			for i, v := range pool {
				if deal>>i&1 == 1 {
					a = append(a, v)
				} else {
					b = append(b, v)
				}
			}
			deals++
			if stat.KolmogorovSmirnov(sorted(a), nil, sorted(b), nil) >= got.D-1e-12 {
				hits++
			}
		}
		if want := float64(hits) / float64(deals); math.Abs(got.P-want) > 1e-12 || !got.Exact {
			t.Fatalf("%+v, want p %v", got, want)
		}
	})
}

// Massey, "The distribution of the maximum deviation between two sample
// cumulative step functions", Annals of Mathematical Statistics 1951; from
// memory: with ten values each, 6/10 is reached with p 0.0524 and 7/10 with 0.0123.
func TestSmirnovAsPublished(t *testing.T) {
	for _, c := range []struct {
		shift int
		p     float64
	}{{6, 0.0524}, {7, 0.0123}} {
		x, y := make([]float64, 10), make([]float64, 10)
		for i := range x {
			x[i], y[i] = float64(i), float64(i+c.shift)-0.5
		}
		got := KolmogorovSmirnov(x, y)
		near(t, "D", got.D, float64(c.shift)/10, 1e-12)
		near(t, "p", got.P, c.p, 0.00005)
	}
}

// Smirnov's table: 1.3581 is exceeded with 5 %, 1.6276 with 1 %.
func TestKolmogorovsLimitAsPublished(t *testing.T) {
	near(t, "P(1.3581)", kolmogorov(1.3581), 0.05, 0.00001)
	near(t, "P(1.6276)", kolmogorov(1.6276), 0.01, 0.00001)
	near(t, "P(0.2)", kolmogorov(0.2), 1, 1e-9)
	near(t, "P(9)", kolmogorov(9), 0, 1e-60)
}

func TestSmirnovNearsItsLimit(t *testing.T) {
	x, y := make([]float64, 1900), make([]float64, 2000)
	for i := range x {
		x[i] = unit(stream("smirnov", 0), i)
	}
	for i := range y {
		y[i] = unit(stream("smirnov", 1), i) + 0.03
	}
	got := KolmogorovSmirnov(x, y)
	limit := kolmogorov(got.D * math.Sqrt(1900*2000/3900.0))
	if !got.Exact || got.P/limit < 0.93 || got.P/limit > 1.02 {
		t.Errorf("%+v, limit %v", got, limit)
	}
	long := KolmogorovSmirnov(append(x, x...), append(y, y...))
	if long.Exact || long.D != got.D || long.P >= got.P {
		t.Errorf("twice the sample gives %+v after %+v", long, got)
	}
}

func TestSmirnovOfTheSameIsOne(t *testing.T) {
	x := []float64{3, 1, inf, 1}
	if got := KolmogorovSmirnov(x, x); got != (Smirnov{0, 1, true}) {
		t.Errorf("%+v", got)
	}
	if got := KolmogorovSmirnov(x, nil); got != (Smirnov{0, 1, true}) {
		t.Errorf("against nothing: %+v", got)
	}
}

func ExampleKolmogorovSmirnov() {
	recorded := []float64{21, 24, 24, 26, 31, 35, 35, 40, 52, 80}
	replayed := []float64{22, 23, 24, 27, 30, 35, 38, 41, 50, 75, 90}
	t := KolmogorovSmirnov(recorded, replayed)
	fmt.Printf("D %.2f, p %.2f\n", t.D, t.P)
	// Output:
	// D 0.16, p 0.98
}

func BenchmarkKolmogorovSmirnov(b *testing.B) {
	x, y := make([]float64, 2000), make([]float64, 2000)
	for i := range x {
		x[i], y[i] = unit(stream("benchmark", 1), i), unit(stream("benchmark", 2), i)
	}
	for b.Loop() {
		KolmogorovSmirnov(x, y)
	}
}
