package hand

import (
	"math"
	"testing"

	"dialwright/scenarios"
)

// The sums of a value are the integral of what is still needed: constant or a line within
// a cell, and a line for ever beyond the last. Nothing is needed inside the target, and as
// much on either side of it.
func TestTheSumsOfAValueAreItsIntegral(t *testing.T) {
	v := gripOf(t, onIdeal(power), people(t, scenarios.Practised())).valueOf(2)
	sloping := 0
	for i, c := range v.cells {
		width := float64(int64(1) << c.width)
		last := i == len(v.cells)-1
		if v.cellOf(c.at-v.zone) != i || !last && (v.cellOf(c.at-v.zone+1<<c.width-1) != i || v.cells[i+1].at != c.at+1<<c.width) {
			t.Fatalf("cell %d does not reach from %d to the next", i, c.at)
		}
		if c.slope != 0 {
			sloping++
		}
		for _, part := range []int64{1, 4, 8, 12, 15, 40} {
			if part > 16 && !last {
				continue
			}
			w := float64(int64(1) << c.width * part / 16)
			want := float64(c.sum) + w*float64(c.u)
			if last {
				want += float64(c.slope) * w * w / width / 2
			} else {
				want -= float64(c.slope) * w * (1 - w/width) / 2
			}
			x := c.at + int64(w)
			if got := float64(v.upTo(x)); math.Abs(got-want) > 2*float64(c.slope)+1 || v.upTo(-x) != -v.upTo(x) {
				t.Errorf("cell %d of %g, %d/16 of it: up to %g, want %g", i, width, part, got, want)
			}
		}
	}
	if sloping < 20 || v.upTo(v.zone) != 0 || v.upTo(0) != 0 || v.upTo(-v.zone) != 0 || v.upTo(v.zone+1) == 0 {
		t.Errorf("%d cells slope, up to the target's edge %d", sloping, v.upTo(v.zone))
	}
}
