package paired

import (
	"fmt"
	"math"
	"math/big"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// Newcombe, "Two-sided confidence intervals for the single proportion",
// Statistics in Medicine 17 (1998), table I, method 3; from memory.
func TestWilsonAsPublished(t *testing.T) {
	for _, c := range []struct {
		hits, n   int
		low, high float64
	}{
		{81, 263, 0.2553, 0.3662},
		{15, 148, 0.0624, 0.1605},
		{0, 20, 0, 0.1611},
		{1, 29, 0.0061, 0.1718},
	} {
		e := ShareInterval(c.hits, c.n)
		what := fmt.Sprintf("%d of %d: ", c.hits, c.n)
		near(t, what+"low end", e.Low, c.low, 0.00005)
		near(t, what+"high end", e.High, c.high, 0.00005)
	}
	if e := ShareInterval(0, 20); e.Low != 0 {
		t.Errorf("0 of 20 starts at %v", e.Low)
	}
	if e := ShareInterval(20, 20); e.High != 1 {
		t.Errorf("20 of 20 ends at %v", e.High)
	}
	if e := ShareInterval(0, 0); !math.IsNaN(e.Value) || e.Low != 0 || e.High != 1 {
		t.Errorf("0 of 0 is %v", e)
	}
}

// The ends are the shares that a z test would just not reject: Wilson's own
// definition.
func TestWilsonInvertsTheScoreTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4000).Draw(t, "n")
		hits := rapid.IntRange(0, n).Draw(t, "hits")
		e := ShareInterval(hits, n)
		for _, end := range []float64{e.Low, e.High} {
			if end == 0 || end == 1 {
				continue
			}
			score := (e.Value - end) / math.Sqrt(end*(1-end)/float64(n))
			if math.Abs(math.Abs(score)-z) > 1e-6 {
				t.Fatalf("%d of %d: the score at %v is %v", hits, n, end, score)
			}
		}
	})
}

func TestWilsonCovers95PercentOnAverage(t *testing.T) {
	const n = 100
	var within [n + 1]Estimate
	for hits := range within {
		within[hits] = ShareInterval(hits, n)
	}
	total := 0.0
	for i := 1; i < 100; i++ {
		p := float64(i) / 100
		for hits, e := range within {
			if e.Low <= p && p <= e.High {
				total += distuv.Binomial{N: n, P: p}.Prob(float64(hits)) / 99
			}
		}
	}
	near(t, "the mean coverage", total, 0.95, 0.005)
}

// pairs makes paired outcomes with the given counts.
func pairs(both, onlyA, onlyB, neither int) (a, b []bool) {
	for i := range both + onlyA + onlyB + neither {
		a = append(a, i < both+onlyA)
		b = append(b, i < both || i >= both+onlyA && i < both+onlyA+onlyB)
	}
	return a, b
}

// Children's airways before and after a transplant, 1 both, 1 only before, 7
// only after, 12 neither: Fagerland, Lydersen and Laake, "Recommended tests and
// confidence intervals for paired binomial proportions", Statistics in Medicine
// 33 (2014); from memory: exact p 0.070, Newcombe's interval −0.507 to −0.026.
func TestPairedSharesAsPublished(t *testing.T) {
	s := CompareShares(pairs(1, 1, 7, 12))
	near(t, "p", s.P, 0.0703125, 1e-12)
	near(t, "difference", s.Difference.Value, -6.0/21, 1e-12)
	near(t, "low end", s.Difference.Low, -0.507, 0.0005)
	near(t, "high end", s.Difference.High, -0.026, 0.0005)
}

// Shares that go together, so that the correction for continuity counts: 14 both, 5
// only the first, 22 neither: Altman and others, Statistics with Confidence, 2000,
// table 6.2; from memory: 0.122, 0.011 to 0.226.
func TestCorrelatedSharesAsPublished(t *testing.T) {
	d := CompareShares(pairs(14, 5, 0, 22)).Difference
	near(t, "difference", d.Value, 0.122, 0.0005)
	near(t, "low end", d.Low, 0.011, 0.0005)
	near(t, "high end", d.High, 0.2265, 0.0005)
}

// McNemar's χ² without correction for 794/150/86/570 is 17.36 (approval of a
// prime minister in two surveys: Agresti, Categorical Data Analysis, from
// memory), so p is near that of 4.166 standard deviations.
func TestMcNemarNearsItsLimit(t *testing.T) {
	s := CompareShares(pairs(794, 150, 86, 570))
	limit := 2 * distuv.UnitNormal.Survival((150-86-1)/math.Sqrt(150+86))
	if s.P/limit < 0.9 || s.P/limit > 1.1 {
		t.Errorf("p is %v, its limit with continuity correction %v", s.P, limit)
	}
	near(t, "χ²", (150-86)*(150-86)/(150+86.0), 17.36, 0.005)
}

func TestSignTestIsExact(t *testing.T) {
	for a := 0; a <= 40; a++ {
		for _, b := range []int{0, 1, 2, 5, 20, 500, 1500} {
			// Σ of binomials up to the smaller count, doubled, over 2^(a+b).
			sum, n := new(big.Int), int64(a+b)
			for k := int64(0); k <= int64(min(a, b)); k++ {
				sum.Add(sum, new(big.Int).Binomial(n, k))
			}
			want, _ := new(big.Rat).SetFrac(sum.Lsh(sum, 1), new(big.Int).Lsh(big.NewInt(1), uint(n))).Float64()
			want = min(1, want)
			if got := evenSplit(a, b); math.Abs(got-want) > 1e-9*want {
				t.Errorf("%d against %d: p is %v, want %v", a, b, got, want)
			}
		}
	}
}

// Darwin's maize, crossed against self-fertilised, 15 pairs in eighths of an
// inch (Fisher, The Design of Experiments, 1935; from memory): 13 of 15 taller.
var maize = []float64{49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}

func TestSignsOfDarwinsMaize(t *testing.T) {
	s := Signs(append([]float64{0, 0, math.Copysign(0, -1)}, maize...))
	want := SignTest{Minus: 2, Zero: 3, Plus: 13, P: 2 * (1 + 15 + 105) / 32768.0}
	near(t, "p", s.P, want.P, 1e-15)
	if s.P = want.P; s != want {
		t.Errorf("the signs are %+v, want %+v", s, want)
	}
}

func TestPairedSharesMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := rapid.IntRange(0, 60)
		both, onlyA, onlyB, neither := count.Draw(t, "both"), count.Draw(t, "A"), count.Draw(t, "B"), count.Draw(t, "neither")
		if both+onlyA+onlyB+neither == 0 {
			return
		}
		s, m := CompareShares(pairs(both, onlyA, onlyB, neither)), CompareShares(pairs(both, onlyB, onlyA, neither))
		d := s.Difference
		if m.P != s.P || math.Abs(m.Difference.Low+d.High) > 1e-12 || math.Abs(m.Difference.High+d.Low) > 1e-12 {
			t.Fatalf("%+v, with A for B %+v", s, m)
		}
		if !(-1 <= d.Low && d.Low <= d.Value && d.Value <= d.High && d.High <= 1) {
			t.Fatalf("%v is out of order", d)
		}
	})
}

func TestPairedShareDifferenceCovers(t *testing.T) {
	for _, c := range []struct {
		name               string
		n                  int
		both, onlyA, onlyB float64
	}{
		{"rare", 300, 0.02, 0.04, 0.01},
		{"usual", 300, 0.2, 0.1, 0.04},
		{"unlike", 100, 0.05, 0.4, 0.3},
	} {
		above, below := misses(3000, c.onlyA-c.onlyB, func(run int) Estimate {
			s := stream(c.name, run)
			var both, onlyA, onlyB int
			for i := range c.n {
				switch u := unit(s, i); {
				case u < c.both:
					both++
				case u < c.both+c.onlyA:
					onlyA++
				case u < c.both+c.onlyA+c.onlyB:
					onlyB++
				}
			}
			return newcombe(both, onlyA, onlyB, c.n-both-onlyA-onlyB)
		})
		if miss := above + below; miss > 0.062 || miss < 0.03 {
			t.Errorf("%s: above %.3f, below %.3f of the intervals miss", c.name, above, below)
		}
	}
}

func ExampleCompareShares() {
	overshotA := []bool{true, true, false, true, false, false, true, true, false, true}
	overshotB := []bool{false, true, false, false, false, true, false, false, false, false}
	s := CompareShares(overshotA, overshotB)
	fmt.Printf("only A %d, only B %d: %.2f, p %.2f\n", s.OnlyA, s.OnlyB, s.Difference, s.P)
	// Output:
	// only A 5, only B 1: {0.40 -0.04 0.68}, p 0.22
}
