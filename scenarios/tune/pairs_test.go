package tune_test

import (
	"slices"
	"testing"

	"dialwright/encoder/draw"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/tune"
)

// All pairs of alternatives are read together, in time and in overshoot: their p values
// are adjusted as one family.
func TestPairsOfAlternativesAreOneFamily(t *testing.T) {
	s := study(panel(demo.Rig("right-relative"), demo.Task("vertical-speed")))
	s.Trials = 40
	d := decide(t, s, tune.Output)
	if len(d.Pairs) < 3 {
		t.Fatalf("%d pairs", len(d.Pairs))
	}
	var raw, told []float64
	for _, p := range d.Pairs {
		a, b := d.Alternatives[p.A].Sample, d.Alternatives[p.B].Sample
		overshot := make([]float64, a[0].Len())
		for n := range overshot {
			for way, past := range map[float64]int64{1: a[0].Past[n], -1: b[0].Past[n]} {
				if past > 0 {
					overshot[n] += way
				}
			}
		}
		raw = append(raw, a.Less(1, b, draw.NewTrial(s.Seed, "tune against", -1)).P,
			paired.AverageDifference([]paired.Group{{Weight: 1, Sample: overshot}}, draw.NewTrial(s.Seed, "tune overshot against", -1)).P)
		told = append(told, p.Time.P, p.Overshoot.P)
	}
	if want := paired.Holm(raw); !slices.Equal(told, want) {
		t.Errorf("p values %v, want %v of %v", told, want, raw)
	}
}
