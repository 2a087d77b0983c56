package hand

import (
	"math"
	"testing"

	"pgregory.net/rapid"
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

// No two edges of a stroke come nearer to one another than a path is told, and not much
// further apart at the peak, however many detents a stroke has.
func TestEdgesKeepTheirDistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := motion{edges: rapid.SampledFrom([]int64{1, 2, 4}).Draw(t, "edges"), late: rapid.Int64Range(0, 900).Draw(t, "late")}
		if m.edges == 1 {
			m.late = 0
		}
		n := rapid.Int64Range(1, 4000).Draw(t, "detents")
		least := int64(math.MaxInt64)
		for i := int64(1); i < n*m.edges; i++ {
			least = min(least, m.share(i/m.edges, i%m.edges+1, n)-m.share((i-1)/m.edges, (i-1)%m.edges+1, n))
		}
		if apart := m.apart(n); apart > least || n > 8 && apart < least-least/20-8 {
			t.Errorf("%d detents of %d edges: %d apart, at least %d", n, m.edges, least, apart)
		}
	})
}
