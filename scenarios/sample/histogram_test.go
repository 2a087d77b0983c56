package sample_test

import (
	"math/big"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"dialwright/scenarios/sample"
)

// numbers of every size.
var numbers = rapid.Custom(func(t *rapid.T) uint64 {
	return rapid.Uint64().Draw(t, "x") >> rapid.IntRange(0, 63).Draw(t, "shift")
})

// A quantile of a histogram is the number of that rank, to half a bin.
func TestAHistogramKnowsQuantilesToItsResolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOfN(numbers, 1, 200).Draw(t, "numbers")
		var h sample.Histogram
		for _, x := range xs {
			h.Add(x)
		}
		slices.Sort(xs)
		for _, per := range []uint64{0, 1, 100, 500, 900, 950, 999, 1000} {
			rank := max(1, (len(xs)*int(per)+999)/1000)
			want, got := xs[rank-1], h.Quantile(per)
			if off := max(want, got) - min(want, got); float64(off) > sample.Resolution*float64(want) || want < 512 && off > 0 {
				t.Fatalf("%d in 1000: %d, by sorting %d", per, got, want)
			}
		}
	})
}

// Parts add up to the whole in any order and grouping, and what a file keeps of a
// histogram gives it back.
func TestHistogramsAndSumsOfPartsAreThoseOfTheWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		xs := rapid.SliceOf(numbers).Draw(t, "numbers")
		parts := make([]sample.Histogram, rapid.IntRange(1, 6).Draw(t, "parts"))
		sums, squares := make([]sample.Sum, len(parts)), make([]sample.Sum, len(parts))
		var whole sample.Histogram
		sum, square := new(big.Int), new(big.Int)
		for _, x := range xs {
			whole.Add(x)
			i := rapid.IntRange(0, len(parts)-1).Draw(t, "part")
			parts[i].Add(x)
			x >>= 8 // so that 128 bits are enough
			sums[i].Add(x)
			squares[i].AddSquare(x)
			b := new(big.Int).SetUint64(x)
			sum.Add(sum, b)
			square.Add(square, b.Mul(b, b))
		}
		for len(parts) > 1 {
			i := rapid.IntRange(1, len(parts)-1).Draw(t, "with the first")
			parts[i].Merge(&parts[0])
			sums[i].Merge(sums[0])
			squares[i].Merge(squares[0])
			parts, sums, squares = parts[1:], sums[1:], squares[1:]
		}
		bins := func(h *sample.Histogram) (list [][2]uint64) {
			for bin, n := range h.Bins() {
				list = append(list, [2]uint64{uint64(bin), n})
			}
			return list
		}
		var again sample.Histogram
		for bin, n := range whole.Bins() {
			if !again.Refill(bin, n) {
				t.Fatalf("there is no bin %d", bin)
			}
		}
		if !reflect.DeepEqual(bins(&parts[0]), bins(&whole)) || !reflect.DeepEqual(bins(&again), bins(&whole)) || parts[0].Len() != uint64(len(xs)) {
			t.Fatalf("parts %v, whole %v, again %v", bins(&parts[0]), bins(&whole), bins(&again))
		}
		in128 := func(s sample.Sum) *big.Int {
			b := new(big.Int).Lsh(new(big.Int).SetUint64(s.High), 64)
			return b.Add(b, new(big.Int).SetUint64(s.Low))
		}
		if in128(sums[0]).Cmp(sum) != 0 || in128(squares[0]).Cmp(square) != 0 {
			t.Fatalf("sums %v and %v, want %v and %v", sums[0], squares[0], sum, square)
		}
		if n := uint64(len(xs)); n > 0 {
			twice := new(big.Int).Mul(sum, big.NewInt(2)) // half up
			want := twice.Add(twice, new(big.Int).SetUint64(n)).Div(twice, new(big.Int).SetUint64(2*n))
			if got := sums[0].Over(n); n%2 == 0 && new(big.Int).SetUint64(got).Cmp(want) != 0 {
				t.Fatalf("%v over %d is %d, want %v", sum, n, got, want)
			}
		}
	})
	var h sample.Histogram
	if h.Refill(-1, 1) || h.Refill(1<<20, 1) || h.Quantile(500) != 0 {
		t.Error("an empty histogram has a quantile, or a bin that there is not is filled")
	}
}
