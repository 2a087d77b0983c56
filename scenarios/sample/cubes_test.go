package sample

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

func TestCubesAddUpInAllTheirBits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c cubes
		want := new(big.Int)
		for range rapid.IntRange(1, 40).Draw(t, "numbers") {
			x := rapid.Uint64().Draw(t, "x") >> rapid.IntRange(2, 40).Draw(t, "shift")
			c.add(x)
			b := new(big.Int).SetUint64(x)
			want.Add(want, b.Mul(b, new(big.Int).Mul(b, b)))
		}
		if got := number(c[:]...); got.Cmp(want) != 0 {
			t.Fatalf("%v, want %v", got, want)
		}
	})
	var c cubes // whose words carry in all ways
	want := new(big.Int)
	for k := range 1000 {
		x := (0x9e3779b97f4a7c15 * uint64(k+1)) >> 2
		c.add(x)
		b := new(big.Int).SetUint64(x)
		want.Add(want, b.Mul(b, new(big.Int).Mul(b, b)))
		if got := number(c[:]...); got.Cmp(want) != 0 {
			t.Fatalf("%v, want %v", got, want)
		}
		if k%5 == 0 { // or they run over
			c, want = cubes{}, new(big.Int)
		}
	}
}
