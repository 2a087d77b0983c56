package paired

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// counted is a sample as counts, in parts of two.
func counted(x []float64) Counts {
	ones := func(x []float64) (c Counts) {
		for _, v := range slices.Sorted(slices.Values(x)) {
			c = append(c, Count{v, 1})
		}
		return c
	}
	return merge(ones(x[:len(x)/2]), ones(x[len(x)/2:]))
}

func TestCountsHaveTheQuantilesOfTheSample(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := sample(true).Draw(t, "x")
		p := rapid.SampledFrom([]float64{0, 0.1, 0.5, 0.9, 0.95, 1}).Draw(t, "p")
		c := counted(x)
		if got, want := c.Quantile(p), Quantile(x, p); got != want {
			t.Fatalf("quantile %v: %v, of the sample %v", p, got, want)
		}
		if got, want := c.QuantileInterval(p), QuantileInterval(x, p); got != want {
			t.Fatalf("interval %v: %v, of the sample %v", p, got, want)
		}
	})
	if q, e := (Counts{}).Quantile(0.5), (Counts{}).QuantileInterval(0.5); !math.IsNaN(q) || !math.IsNaN(e.Low) {
		t.Errorf("nothing has the median %v, %v", q, e)
	}
}

// summed works the moments of a sample out as they are defined.
func summed(weight float64, x []float64) Summed {
	s := Summed{weight, Moments{N: len(x), Mean: mean(x)}}
	for _, v := range x {
		d := v - s.Mean
		s.M2, s.M3 = s.M2+d*d, s.M3+d*d*d
		s.Squares, s.Cubes = s.Squares+v*v, s.Cubes+math.Abs(v*v*v)
	}
	return s
}

func TestSumsHaveTheMeansOfTheSamples(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var groups []Group
		var sums []Summed
		for range rapid.IntRange(1, 4).Draw(t, "groups") {
			g := Group{float64(rapid.IntRange(1, 9).Draw(t, "weight")), sample(false).Draw(t, "x")}
			groups, sums = append(groups, g), append(sums, summed(g.Weight, g.Sample))
		}
		got, want := MeanOf(sums), WeightedMean(groups)
		if math.Abs(got.Value-want.Value)+math.Abs(got.Low-want.Low)+math.Abs(got.High-want.High) > 1e-9 {
			t.Fatalf("%v, of the samples %v", got, want)
		}
		if a := AverageOf(sums); a.Mean != got {
			t.Fatalf("an average's mean is %v, not %v", a.Mean, got)
		}
	})
}

// What stands for the sign-flip test never says less than the test of all tosses, be the
// differences few, equal, or one of them larger than all others together.
func TestTheNormalLimitIsNeverBelowTheSignFlips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.SampledFrom([]int{1, 3, 100, 100000}).Draw(t, "size")
		d := rapid.SliceOfN(rapid.Map(rapid.IntRange(-size, size), func(i int) float64 { return float64(i) }), 1, 18).Draw(t, "d")
		got, want := AverageOf([]Summed{summed(1, d)}), AverageDifference(one(d), source)
		if got.P < want.P-1e-9 {
			t.Fatalf("%v: p is %v, of all tosses %v", d, got.P, want.P)
		}
	})
	if p := AverageOf([]Summed{summed(1, make([]float64, 50))}).P; p != 1 {
		t.Errorf("without a difference p is %v", p)
	}
}

// tossed is the distribution of the sum of whole numbers with random signs: for each of
// them, and how many there are, a binomial; those are joined one by one. Sums beyond
// nine standard deviations are left out.
func tossed(sizes []Count) map[int]float64 {
	sums := map[int]float64{0: 1}
	for _, s := range sizes {
		fair := distuv.Binomial{N: float64(s.N), P: 0.5}
		next := map[int]float64{}
		far := int(9 * math.Sqrt(float64(s.N)) / 2)
		for plus := max(0, s.N/2-far); plus <= min(s.N, s.N/2+far); plus++ {
			p := fair.Prob(float64(plus))
			for sum, q := range sums {
				next[sum+int(s.Value)*(2*plus-s.N)] += p * q
			}
		}
		sums = next
	}
	return sums
}

// At the size at which trials are no longer kept the exact test can still be worked out
// where differences are a few whole numbers, the worst case: the exact p goes down in
// leaps there. The normal tail is off by half a leap; what is said is never below the
// exact p, and above it by no more than stated.
func TestTheNormalLimitBesideTheExactTestAtTwentyThousand(t *testing.T) {
	for _, x := range []struct {
		what  string
		sizes []Count
		tail  float64 // how far the normal tail alone may be off
	}{
		{"all alike", []Count{{1, 20000}}, 0.0057},
		{"two sizes", []Count{{1, 12000}, {3, 8000}}, 0.0029},
		{"one in a hundred large", []Count{{1, 19800}, {40, 200}}, 0.0017},
		{"a few outweigh the rest", []Count{{1, 19996}, {400, 4}}, 0.14},
	} {
		m := Moments{N: 0}
		for _, s := range x.sizes {
			n := float64(s.N)
			m.N += s.N
			m.Squares, m.Cubes = m.Squares+n*s.Value*s.Value, m.Cubes+n*s.Value*s.Value*s.Value
		}
		m.M2 = m.Squares
		sums := tossed(x.sizes)
		keys := make([]int, 0, len(sums))
		for s := range sums {
			keys = append(keys, s)
		}
		slices.SortFunc(keys, func(a, b int) int { return b - a })
		exact, worst, most := 0.0, 0.0, 2*berryEsseen*m.Cubes/(m.Squares*math.Sqrt(m.Squares))
		for _, s := range keys {
			if exact += 2 * sums[s]; s <= 0 {
				break
			}
			m.Mean = float64(s) / float64(m.N)
			tail := math.Erfc(float64(s) / math.Sqrt(2*m.Squares))
			worst = max(worst, math.Abs(tail-exact))
			p := AverageOf([]Summed{{1, m}}).P
			if p < exact*(1-1e-9)-1e-15 || p > exact+2*most {
				t.Fatalf("%s, sum %d: p is %v, exactly %v, the normal tail %v", x.what, s, p, exact, tail)
			}
		}
		if worst > x.tail {
			t.Errorf("%s: the normal tail is off by up to %.4f", x.what, worst)
		}
		if worst > most {
			t.Errorf("%s: the normal tail is off by up to %.4f, more than the bound of %.4f", x.what, worst, most)
		}
		t.Logf("%s: the normal tail is off by up to %.4f, the bound is %.4f", x.what, worst, most)
	}
}

// Of as many differences as are kept at most, with the sizes of a normal sample, the
// drawn test and its limit say the same but for the tosses.
func TestTheNormalLimitBesideDrawnTosses(t *testing.T) {
	s := stream("limit", 1)
	d := make([]float64, 20000)
	for i := range d {
		d[i] = distuv.UnitNormal.Quantile(unit(s, i))
	}
	middle := mean(d)
	for _, far := range []float64{0, 0.5, 1, 1.96, 2.5, 3.5} {
		shifted := make([]float64, len(d))
		for i, v := range d {
			shifted[i] = v - middle + far/math.Sqrt(float64(len(d)))
		}
		drawn, limit := AverageDifference(one(shifted), source), AverageOf([]Summed{summed(1, shifted)})
		near(t, "low", limit.Mean.Low, drawn.Mean.Low, 1e-12)
		spread := 4*math.Sqrt(drawn.P*(1-drawn.P)/tosses) + 1.0/tosses
		if limit.P < drawn.P-spread || limit.P > drawn.P+spread+0.013 {
			t.Errorf("%v standard errors: p is %v, of drawn tosses %v", far, limit.P, drawn.P)
		}
	}
}

// pairsOf counts the differences of two samples.
func pairsOf(a, b []float64, limit float64) *Pairs {
	p := &Pairs{}
	d := Differences(a, b, limit)
	var inTime, onlyA, onlyB []float64
	for i, v := range d {
		switch late, other := math.IsInf(a[i], 1), math.IsInf(b[i], 1); {
		case late && other:
			p.Both++
		case late:
			onlyA = append(onlyA, v)
		case other:
			onlyB = append(onlyB, v)
		default:
			inTime = append(inTime, v)
		}
	}
	s := Signs(d)
	p.InTime, p.OnlyA, p.OnlyB = counted(inTime), counted(onlyA), counted(onlyB)
	p.Minus, p.Zero, p.Plus, p.Moments = s.Minus, s.Zero, s.Plus, summed(1, d).Moments
	return p
}

func TestPairsDifferAsTheirSamplesDo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := times(t)
		got, want := pairsOf(a, b, 10).Difference(), CompareTimes(a, b, 10, source)
		if x, y := got.Average.Mean, want.Average.Mean; math.Abs(x.Value-y.Value)+math.Abs(x.Low-y.Low)+math.Abs(x.High-y.High) > 1e-9 {
			t.Fatalf("mean %v, of the samples %v", x, y)
		}
		got.Average = want.Average
		if got != want {
			t.Fatalf("%+v\nof the samples\n%+v", got, want)
		}
	})
}
