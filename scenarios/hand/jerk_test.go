package hand

import (
	"math"
	"testing"
)

// Peak over mean speed of a minimum-jerk movement is 1.875 (Flash, Hogan 1985,
// derived; row A7). Measured on the times that strokes really get.
func TestPeakSpeedIsThatOfMinimumJerk(t *testing.T) {
	fastest := int64(math.MaxInt64)
	const parts = 256
	for k := range int64(parts) {
		fastest = min(fastest, timeAt((k+1)*whole/parts)-timeAt(k*whole/parts))
	}
	peak := float64(whole) / parts / float64(fastest)
	if math.Abs(peak-1.875) > 0.005*1.875 {
		t.Errorf("peak over mean is %.4f, want 1.875 ± 0.5 %%", peak)
	}
}

func TestWayAndTimeAreInverse(t *testing.T) {
	for x := int64(whole / 1024); x < whole; x += whole / 999 {
		s := float64(timeAt(x)) / whole
		if back := way(s); math.Abs(back-float64(x)/whole) > 1e-4 {
			t.Errorf("after %.4f of the time %.5f of the way is done, not %.5f", s, back, float64(x)/whole)
		}
	}
	if timeAt(0) != 0 || timeAt(whole) != whole {
		t.Errorf("the ends are at %d and %d", timeAt(0), timeAt(whole))
	}
}

func TestWayIsSymmetric(t *testing.T) {
	for x := int64(0); x <= whole/2; x += whole / 500 {
		if a, b := timeAt(x), whole-timeAt(whole-x); abs(a-b) > whole>>14 {
			t.Errorf("at %d: %d and %d", x, a, b)
		}
	}
}
