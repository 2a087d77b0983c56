package draw_test

import (
	"fmt"
	"math"
	"testing"

	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

func ExampleTrial() {
	// Two workers that meet the same trial draw the same number, in any order.
	a := draw.NewTrial(1, "heading", 7).Stream(draw.Targets)
	b := draw.NewTrial(1, "heading", 7).Stream(draw.Targets)
	later := b.Below(1, 360)
	fmt.Println(a.Below(0, 360) == b.Below(0, 360), later == a.Below(1, 360))
	// Output: true true
}

// The first outputs of SplitMix64 with state 0, as its authors' reference
// code gives them (from memory).
func TestBitsAreSplitMix64(t *testing.T) {
	for i, want := range []uint64{0xe220a8397b1dcdaf, 0x6e789e6aa1b965f4, 0x06c45d188009454f} {
		if got := draw.Stream(0).Bits(int64(i + 1)); got != want {
			t.Errorf("Bits(%d) = %#x, want %#x", i+1, got, want)
		}
	}
}

func TestBelowIsUniform(t *testing.T) {
	const n, draws = 7, 70_000
	s := draw.NewTrial(3, "uniform", 0).Stream(draw.Targets)
	var seen [n]float64
	for i := int64(0); i < draws; i++ {
		seen[s.Below(i, n)]++
	}
	want := make([]float64, n)
	for i := range want {
		want[i] = draws / n
	}
	if x := stat.ChiSquare(seen[:], want); x > (distuv.ChiSquared{K: n - 1}).Quantile(0.999) {
		t.Errorf("chi-square %.1f over %v", x, seen)
	}
}

func TestNormalHasTheMomentsAndQuantilesOfANormal(t *testing.T) {
	const draws = 400_000
	s := draw.NewTrial(4, "normal", 0).Stream(draw.Stroke)
	x := make([]float64, draws)
	var below1, fourth float64
	for i := range x {
		x[i] = float64(s.Normal(int64(i))) / draw.One
		if x[i] < 1 {
			below1++
		}
		fourth += x[i] * x[i] * x[i] * x[i]
	}
	mean, sd := stat.MeanStdDev(x, nil)
	if math.Abs(mean) > 0.006 || math.Abs(sd-1) > 0.005 {
		t.Errorf("mean %.4f, standard deviation %.4f", mean, sd)
	}
	if got := below1 / draws; math.Abs(got-distuv.UnitNormal.CDF(1)) > 0.003 {
		t.Errorf("share below one standard deviation %.4f", got)
	}
	if got := fourth / draws; math.Abs(got-3) > 0.1 {
		t.Errorf("fourth moment %.3f, want 3", got)
	}
}

func TestStreamsOfATrialDiffer(t *testing.T) {
	seen := map[uint64]string{}
	for _, task := range []string{"", "a", "b", "ab", "ba"} {
		for trial := range 50 {
			for _, p := range []draw.Purpose{draw.Path, draw.Path + 1, draw.Targets, draw.Person} {
				b := draw.NewTrial(1, task, trial).Stream(p).Bits(0)
				here := fmt.Sprintf("%s/%d/%d", task, trial, p)
				if was, ok := seen[b]; ok {
					t.Fatalf("%s and %s draw the same bits", was, here)
				}
				seen[b] = here
			}
		}
	}
}

func BenchmarkBits(b *testing.B) {
	s := draw.NewTrial(1, "bench", 0).Stream(draw.Path)
	var sum uint64
	for i := 0; b.Loop(); i++ {
		sum += s.Bits(int64(i))
	}
	sink = sum
}

var sink uint64
