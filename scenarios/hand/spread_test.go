package hand

import (
	"testing"

	"dialwright/encoder/draw"
)

// However much people differ, nobody is more than four times as quick as the mean, or
// beyond what is possible.
func TestNobodyIsFourTimesAsQuickAsTheMean(t *testing.T) {
	s := newSpread(1000, 0.5, 2000)
	for _, c := range []struct{ deviations, want int64 }{{0, 1000}, {1, 1500}, {-1, 500}, {-2, 250}, {-9, 250}, {2, 2000}, {9, 2000}} {
		if got := s.at(c.deviations * draw.One); got != c.want {
			t.Errorf("%d standard deviations from the mean: %d, want %d", c.deviations, got, c.want)
		}
	}
}
