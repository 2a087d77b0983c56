package report

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A click so long after the one before turns at one over that.
func TestRateBins(t *testing.T) {
	for _, x := range []struct {
		gap  int64 // ns
		from float64
	}{{399e6, 2.5}, {201e6, 2.5}, {200e6, 5}, {100e6, 10}, {50e6, 20}, {22e6, 45}, {1e6, 97.5}, {1, 97.5}} {
		if got := RateStep * float64(rateBin(x.gap)); got != x.from {
			t.Errorf("%d ns: the bin from %v/s, want %v/s", x.gap, got, x.from)
		}
	}
}

// Every overshoot is in one class, and the classes follow each other.
func TestSizesHoldEveryOvershoot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		before := rapid.MapOf(rapid.Int64Range(1, 5000), rapid.IntRange(1, 9)).Draw(t, "before")
		after := rapid.MapOf(rapid.Int64Range(1, 5000), rapid.IntRange(1, 9)).Draw(t, "after")
		next := int64(1)
		b, a := 0, 0
		for _, s := range sizes(before, after) {
			if s.From != next || s.To < s.From {
				t.Fatalf("a class from %d to %d where %d is next", s.From, s.To, next)
			}
			next = s.To + 1
			b += s.Before
			a += s.After
		}
		for _, n := range before {
			b -= n
		}
		for _, n := range after {
			a -= n
		}
		if a != 0 || b != 0 {
			t.Fatalf("%d and %d overshoots are in no class or in two", b, a)
		}
	})
}

// North is 360, and 361 is 1.
func TestRingShowsWhatTheScreenShows(t *testing.T) {
	ring := Wrap{Low: 1, Span: 360}
	for v, want := range map[float64]string{1: "1", 360: "360", 361: "1", 0: "360", -9: "351", 725: "5", 12.5: "12.5"} {
		if got := ring.text(v); got != want {
			t.Errorf("%v is shown as %s, want %s", v, got, want)
		}
	}
	for _, k := range ring.ticks(340, 400) {
		if k.Label != ring.text(k.At) {
			t.Errorf("the tick at %v is called %s", k.At, k.Label)
		}
	}
	if got := (Wrap{}).text(1013); got != "1013" {
		t.Errorf("without a ring: %s", got)
	}
}

// Half of a sample lies below its median, and ties share their place.
func TestRanks(t *testing.T) {
	got := ranks([]float64{3, math.Inf(1), 1, 3})
	if want := []float64{0.5, 0.875, 0.125, 0.5}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestNamesBecomePartsOfFileNames(t *testing.T) {
	for name, want := range map[string]string{"heading": "heading", "../../etc/passwd": "etc-passwd", "Höhe 1": "h-he-1", "<>": "", "CON": "con", "a--b": "a-b"} {
		if got := slug(name); got != want {
			t.Errorf("%q becomes %q, want %q", name, got, want)
		}
	}
}

// A difference is that of the figures that are shown.
func TestDifferencesAreThoseOfTheFiguresShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b, a := rapid.Float64Range(0, 300).Draw(t, "before"), rapid.Float64Range(0, 300).Draw(t, "after")
		shown := func(s string) int { // tenths
			n, err := strconv.Atoi(strings.Replace(strings.Replace(strings.TrimPrefix(s, "+"), ".", "", 1), "−", "-", 1))
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		if got, want := shown(signed(less(a, b), 1)), shown(inSeconds(a))-shown(inSeconds(b)); got != want {
			t.Fatalf("%s less %s is shown as %d tenths, not %d", inSeconds(a), inSeconds(b), got, want)
		}
	})
}

// The unit of a setting is said once, and words are left as they are.
func TestSettingsAreSaidBeforeAndAfter(t *testing.T) {
	for _, x := range [][3]string{{"30ms", "55ms", "30 → 55 ms"}, {"8", "16", "8 → 16"}, {"buttons", "relative", "buttons → relative"}, {"30ms", "1s", "30ms → 1s"}, {"12/s", "8/s", "12 → 8 /s"}} {
		if got := spaced(x[0], x[1]); got != x[2] {
			t.Errorf("%q, want %q", got, x[2])
		}
	}
}
