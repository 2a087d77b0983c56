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

var source = draw.NewTrial(1, "paired", 0)

func one(d []float64) []Group { return []Group{{1, d}} }

// Fisher counted 863 of the 32768 sign patterns at or above the observed sum of
// 314 (The Design of Experiments, 1935, section 21; from memory).
func TestSignFlipsOfDarwinsMaizeAsFisherCounted(t *testing.T) {
	a := AverageDifference(one(maize), source)
	near(t, "p", a.P, 2*863/32768.0, 1e-15)
	near(t, "mean", a.Mean.Value, 314.0/15, 1e-12)
	if !a.Exact {
		t.Error("15 differences were not enumerated")
	}
}

func TestSignFlipsCountEveryPattern(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Tenths are not exact in binary: sums that are ties on paper are not in
		// the machine.
		d := rapid.SliceOfN(rapid.Map(rapid.IntRange(-4, 9), func(i int) float64 { return float64(i) / 10 }), 1, 11).Draw(t, "d")
		observed := 0
		for _, v := range d {
			observed += int(math.Round(v * 10))
		}
		hits := 0
		for pattern := range 1 << len(d) {
			sum := 0
			for i, v := range d {
				sum += int(math.Round(v*10)) * (2*(pattern>>i&1) - 1)
			}
			if max(sum, -sum) >= max(observed, -observed) {
				hits++
			}
		}
		want := float64(hits) / float64(int(1)<<len(d))
		if got := AverageDifference(one(d), source).P; got != want {
			t.Fatalf("%v: p is %v, want %v", d, got, want)
		}
	})
}

func TestZeroDifferencesDoNotChangeTheTest(t *testing.T) {
	with := AverageDifference(one(append(make([]float64, 500), maize...)), source)
	without := AverageDifference(one(maize), source)
	if with.P != without.P {
		t.Errorf("with 500 zeros p is %v, without %v", with.P, without.P)
	}
	if a := AverageDifference(one(make([]float64, 500)), source); a.P != 1 || a.Mean != (Estimate{}) {
		t.Errorf("zeros alone give %+v", a)
	}
	if a := AverageDifference(one(nil), source); a.P != 1 || !math.IsNaN(a.Mean.Value) {
		t.Errorf("nothing gives %+v", a)
	}
}

// With 29 parts both ways can be taken.
func TestDrawnSignFlipsNearAllSignFlips(t *testing.T) {
	for run := range 12 {
		s := stream("flips", run)
		var parts []float64
		for i := range 29 {
			parts = append(parts, math.Ceil(10*unit(s, i)))
		}
		far := float64(5 * run)
		exact, drawn := allFlips(parts, far), someFlips(parts, far, draw.NewTrial(1, "flips", run).Stream(flips))
		if spread := math.Sqrt(exact*(1-exact)/tosses) + 1.0/tosses; math.Abs(drawn-exact) > 4*spread {
			t.Errorf("at %v: %v drawn, %v exact", far, drawn, exact)
		}
	}
}

func TestAllSignFlipsAreCountedUpToThirtyDifferences(t *testing.T) {
	for n, want := range map[int]Average{
		30: {P: 2.0 / (1 << 30), Exact: true},
		31: {P: 1.0 / 20000}, // only what was observed is as far from 0
	} {
		d := make([]float64, n)
		for i := range d {
			d[i] = 1
		}
		if got := AverageDifference(one(d), source); got.P != want.P || got.Exact != want.Exact {
			t.Errorf("%d differences of 1: p is %v, exact %t, want %+v", n, got.P, got.Exact, want)
		}
	}
}

// Of two large parts among small ones both signs agree in half of the patterns,
// wherever the two stand.
func TestEverySignIsDrawnForItself(t *testing.T) {
	for i := range 70 {
		parts := make([]float64, 70)
		for j := range parts {
			parts[j] = 0.001
		}
		parts[i], parts[(i+8)%70] = 1, 1
		near(t, fmt.Sprintf("p with large parts at %d and %d", i, (i+8)%70), someFlips(parts, 1.9, source.Stream(flips)), 0.5, 0.015)
	}
}

func TestSignFlipsRejectTrueNullsAsOftenAsTheySay(t *testing.T) {
	const runs = 400
	early := 0
	for run := range runs {
		s := stream("null", run)
		d := make([]float64, 60)
		for i := range d { // half are 0, the others in steps, symmetric
			d[i] = math.Round(distuv.UnitNormal.Quantile(unit(s, i)))
		}
		if AverageDifference(one(d), draw.NewTrial(1, "null", run)).P <= 0.1 {
			early++
		}
	}
	if share := float64(early) / runs; share > 0.13 || share < 0.06 {
		t.Errorf("p ≤ 0.1 in %.3f of the runs", share)
	}
}

func TestTheSameSeedGivesTheSameP(t *testing.T) {
	d := make([]float64, 300)
	for i := range d {
		d[i] = unit(stream("seed", 0), i) - 0.48
	}
	p := AverageDifference(one(d), source)
	if q := AverageDifference(one(d), source); q != p {
		t.Errorf("%+v, then %+v", p, q)
	}
	if q := AverageDifference(one(d), draw.NewTrial(2, "paired", 0)); q.P == p.P || q.Mean != p.Mean {
		t.Errorf("another seed gave %+v after %+v", q, p)
	}
}

// bca is the bootstrap that ABC stands for, resample by resample (Efron, JASA
// 1987).
func bca(x []float64, s draw.Stream) Estimate {
	const resamples = 20000
	means := make([]float64, resamples)
	for r := range means {
		for i := range x {
			means[r] += x[s.Below(int64(r*len(x)+i), int64(len(x)))] / float64(len(x))
		}
	}
	slices.Sort(means)
	m := mean(x)
	var m2, m3 float64
	for _, v := range x {
		m2 += (v - m) * (v - m)
		m3 += (v - m) * (v - m) * (v - m)
	}
	a := m3 / math.Pow(m2, 1.5) / 6
	z0 := distuv.UnitNormal.Quantile(float64(sortedBelow(means, m)) / resamples)
	end := func(z float64) float64 {
		return means[int(resamples*distuv.UnitNormal.CDF(z0+(z0+z)/(1-a*(z0+z))))]
	}
	return Estimate{m, end(-z), end(z)}
}

func sortedBelow(x []float64, v float64) int { i, _ := slices.BinarySearch(x, v); return i }

func TestMeanIntervalIsTheBCaBootstrap(t *testing.T) {
	for run, n := range []int{40, 100, 300} {
		s := stream("bca", run)
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Exp(distuv.UnitNormal.Quantile(unit(s, i)))
		}
		got, want := MeanInterval(x), bca(x, stream("resamples", run))
		tol := 0.05 * (want.High - want.Low)
		near(t, fmt.Sprintf("n = %d: low end", n), got.Low, want.Low, tol)
		near(t, fmt.Sprintf("n = %d: high end", n), got.High, want.High, tol)
	}
}

func TestMeanIntervalCovers(t *testing.T) {
	for _, c := range []struct {
		name  string
		n     int
		value func(u float64) float64
		mean  float64
	}{
		{"normal", 100, distuv.UnitNormal.Quantile, 0},
		{"exponential", 100, func(u float64) float64 { return -math.Log(u) }, 1},
		{"mostly 0", 400, func(u float64) float64 { return max(0, u-0.7) }, 0.045},
		{"a timeout in 20", 400, func(u float64) float64 { return 300 * math.Floor(u+0.05) }, 15},
	} {
		above, below := misses(3000, c.mean, func(run int) Estimate {
			s := stream(c.name, run)
			x := make([]float64, c.n)
			for i := range x {
				x[i] = c.value(unit(s, i))
			}
			return MeanInterval(x)
		})
		if above+below > 0.07 || above+below < 0.035 || above > 0.045 || below > 0.045 {
			t.Errorf("%s: above %.3f, below %.3f of the intervals miss", c.name, above, below)
		}
	}
}

func TestWeightedMeanIntervalCovers(t *testing.T) {
	above, below := misses(3000, (5*1+1*10)/6.0, func(run int) Estimate {
		often, seldom := make([]float64, 150), make([]float64, 60)
		s := stream("weighted", run)
		for i := range often {
			often[i] = -math.Log(unit(s, i))
		}
		for i := range seldom {
			seldom[i] = 10 + 8*distuv.UnitNormal.Quantile(unit(s, 1000+i))
		}
		return AverageDifference([]Group{{5, often}, {1, seldom}}, source).Mean
	})
	if miss := above + below; miss > 0.06 || miss < 0.04 {
		t.Errorf("above %.3f, below %.3f of the intervals miss", above, below)
	}
}

func TestGroupsOfOneTaskAreThatTask(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := sample(false).Draw(t, "x")
		w := rapid.Float64Range(0.1, 9).Draw(t, "weight")
		a := AverageDifference([]Group{{w, x}}, source)
		b := AverageDifference([]Group{{1, x[:len(x):len(x)]}}, source)
		c := AverageDifference([]Group{{w, x}, {w, x}}, source)
		if math.Abs(a.Mean.Value-b.Mean.Value)+math.Abs(a.Mean.Low-b.Mean.Low)+math.Abs(a.Mean.High-b.Mean.High) > 1e-9 || a.P != b.P {
			t.Fatalf("weighing %v: %+v, not weighing %+v", w, a, b)
		}
		if math.Abs(c.Mean.Value-b.Mean.Value) > 1e-9 || c.Mean.High-c.Mean.Low > b.Mean.High-b.Mean.Low+1e-9 {
			t.Fatalf("twice %+v became %+v", b, c)
		}
	})
}

func ExampleAverageDifference() {
	heading := []float64{-0.4, 0, 0, -0.9, 0.1, -0.2, -0.3, 0, -0.6, -0.1}
	com := []float64{-1.9, -2.2, 0.3, -1.4, -2.8, -1.6, 0, -2.1}
	a := AverageDifference([]Group{{40, heading}, {10, com}}, draw.NewTrial(1, "panel", 0))
	fmt.Printf("%.2f s per dialing, %.2f to %.2f, p %.4f\n", a.Mean.Value, a.Mean.Low, a.Mean.High, a.P)
	// Output:
	// -0.48 s per dialing, -0.70 to -0.29, p 0.0007
}

func BenchmarkAverageDifference(b *testing.B) {
	for _, n := range []int{400, 4000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			d := make([]float64, n)
			for i := range d {
				d[i] = unit(stream("benchmark", n), i) - 0.5
			}
			for b.Loop() {
				AverageDifference(one(d), source)
			}
		})
	}
	b.Run("all flips of 30", func(b *testing.B) {
		d := make([]float64, 30)
		for i := range d {
			d[i] = unit(stream("benchmark", 30), i) - 0.5
		}
		for b.Loop() {
			AverageDifference(one(d), source)
		}
	})
}
