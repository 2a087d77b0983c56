package paired

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// The worked example of Wikipedia's "Holm–Bonferroni method" (from memory): of
// 0.01 0.04 0.03 0.005 the fourth and the first are rejected at 5 %.
func TestHolmAsPublished(t *testing.T) {
	for i, got := range Holm([]float64{0.01, 0.04, 0.03, 0.005}) {
		near(t, fmt.Sprintf("adjusted p %d", i+1), got, []float64{0.03, 0.06, 0.06, 0.02}[i], 1e-15)
	}
	if got := Holm(nil); len(got) != 0 {
		t.Errorf("no p values became %v", got)
	}
}

// Holm's method is the shortcut of the closed test: a hypothesis falls when
// Bonferroni rejects every set of hypotheses that holds it.
func TestHolmIsTheClosedBonferroniTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Map(rapid.IntRange(0, 40), func(i int) float64 { return float64(i) / 40 }), 1, 7).Draw(t, "p")
		got := Holm(p)
		for i := range p {
			want := 0.0
			for set := range 1 << len(p) {
				size, smallest := 0, 1.0
				for j := range p {
					if set>>j&1 == 1 {
						size++
						smallest = min(smallest, p[j])
					}
				}
				if set>>i&1 == 1 {
					want = max(want, min(1, float64(size)*smallest))
				}
			}
			if math.Abs(got[i]-want) > 1e-15 {
				t.Fatalf("%v became %v; number %d should be %v", p, got, i, want)
			}
		}
	})
}

func TestWeighingOneEstimateKeepsIt(t *testing.T) {
	e := Estimate{4, 3, 7}
	got := Weigh([]Weighed{{0.3, e}})
	near(t, "value", got.Value, 4, 1e-12)
	near(t, "low end", got.Low, 3, 1e-12)
	near(t, "high end", got.High, 7, 1e-12)
}

func TestWeighingAddsDistancesInSquares(t *testing.T) {
	got := Weigh([]Weighed{{3, Estimate{10, 9, 11}}, {1, Estimate{2, -2, 10}}})
	near(t, "value", got.Value, 8, 1e-12)
	near(t, "low end", got.Low, 8-math.Hypot(0.75, 1), 1e-12)
	near(t, "high end", got.High, 8+math.Hypot(0.75, 2), 1e-12)
}

func TestWeighingTimeoutsLeavesTheEndOpen(t *testing.T) {
	for _, c := range []struct{ open, want Estimate }{
		{Estimate{4, 3, inf}, Estimate{3, 3 - math.Sqrt(0.5), inf}},
		{Estimate{inf, 8, inf}, Estimate{inf, 4.5, inf}},
		{Estimate{inf, inf, inf}, Estimate{inf, inf, inf}},
		{Estimate{-inf, -inf, -8}, Estimate{-inf, -inf, -2.5}},
	} {
		got := Weigh([]Weighed{{1, Estimate{2, 1, 3}}, {1, c.open}})
		near(t, "value", got.Value, c.want.Value, 1e-12)
		near(t, "low end", got.Low, c.want.Low, 1e-12)
		near(t, "high end", got.High, c.want.High, 1e-12)
	}
}

func TestWeighedMediansCover(t *testing.T) {
	above, below := misses(1500, (3*math.Ln2+1*2)/4, func(run int) Estimate {
		s := stream("weigh", run)
		quick, slow := make([]float64, 121), make([]float64, 80)
		for i := range quick {
			quick[i] = -math.Log(unit(s, i))
		}
		for i := range slow {
			slow[i] = 2 + 3*distuv.UnitNormal.Quantile(unit(s, 1000+i))
		}
		return Weigh([]Weighed{{3, QuantileInterval(quick, 0.5)}, {1, QuantileInterval(slow, 0.5)}})
	})
	if miss := above + below; miss > 0.065 || miss < 0.035 {
		t.Errorf("above %.3f, below %.3f of the intervals miss", above, below)
	}
}

func ExampleHolm() {
	fmt.Println(Holm([]float64{0.001, 0.04, 0.02}))
	// Output:
	// [0.003 0.04 0.04]
}
