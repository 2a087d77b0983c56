package tune

import (
	"encoding/json"
	"math"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// around is trials whose times lie around a mean; other seeds lie otherwise.
func around(mean, spread float64, seed int, overshoots int) *sample.Trials {
	const n = 60
	times, over := make([]float64, n), make([]bool, n)
	for i := range times {
		times[i] = mean + spread*float64((7*i+seed*i*i+3*seed)%11-5)
		over[i] = (i*7+seed)%n < overshoots
	}
	return sampleOf(1, times, over)
}

// What is slower than 97 % of the settings of now beats nothing, however sure that is;
// what is sure to be quicker does.
func TestOnlyWhatIsQuickerBeatsTheSettingsOfNow(t *testing.T) {
	s := &search{Study: &Study{MaxOvershoot: 1, MaxLost: 1, For: Speed, Seed: 1}}
	f := &finals{KnobResult: &KnobResult{}, uses: nil}
	for _, mean := range []float64{10, 12, 9.9, 8} {
		f.all = append(f.all, &candidate{sample: sample.Panel{around(mean, 0.02, 1, 0)}})
	}
	f.uses = append(f.uses, f.all[0].sample[0].Use)
	s.judge([]*finals{f})
	if want := []bool{false, false, false, true}; len(f.beats) != 4 || f.beats[0] || f.beats[1] || f.beats[2] || !f.beats[3] {
		t.Errorf("beats now: %v, want %v", f.beats, want)
	}
	for _, x := range f.Front {
		if p := x.P; x.Seconds.Value > 9 && p != 1 {
			t.Errorf("a mean of %.1f s beats 10 s with p %v", x.Seconds.Value, p)
		}
	}
}

// Every pair of designs is tested in time and in overshoot, and one Holm goes over all
// of these tests.
func TestDesignPairsAreAdjustedTogether(t *testing.T) {
	d := &Decision{Study: &Study{Seed: 5}}
	for i, mean := range []float64{5, 5.3, 5.25} {
		d.Alternatives = append(d.Alternatives, &Alternative{Sample: sample.Panel{around(mean, 0.15, i, 3+4*i)}})
	}
	d.Alternatives = append(d.Alternatives, &Alternative{Cannot: "it cannot be built"})
	d.compare()
	var raw []float64
	for _, p := range d.Pairs {
		a, b := d.Alternatives[p.A].Sample, d.Alternatives[p.B].Sample
		raw = append(raw, less(a, b, 1, 5).P, overshotLess(a, b, 5).P)
	}
	if len(d.Pairs) != 3 {
		t.Fatalf("%d pairs of three alternatives", len(d.Pairs))
	}
	changed := 0
	for i, want := range paired.Holm(raw) {
		got := d.Pairs[i/2].Time.P
		if i%2 == 1 {
			got = d.Pairs[i/2].Overshoot.P
		}
		if math.Abs(got-want) > 1e-12 {
			t.Errorf("test %d: p %v, by Holm %v", i, got, want)
		}
		if want != raw[i] {
			changed++
		}
	}
	if changed < 3 {
		t.Errorf("Holm changes %d of %v only: the samples test nothing", changed, raw)
	}
}

// Names in JSON are small letters, and rates have their unit.
func TestCurvesHaveTheirNamesInJSON(t *testing.T) {
	for _, x := range []struct{ curve, want string }{
		{"ladder", `{"hysteresis":0.15,"steps":[{"above_per_s":8,"gain":3},{"above_per_s":16,"gain":10}]}`},
		{"linear", `{"cap":10,"factor":3,"per_per_s":10}`},
		{"power", `{"at_per_s":15,"cap":10,"exponent":2,"factor":4}`},
		{"logistic", `{"at_per_s":12,"high":10,"low":1,"width_per_s":3}`},
		{"plain", `null`},
	} {
		if got := valuesOf(t, x.curve); got != x.want {
			t.Errorf("%s: %s, want %s", x.curve, got, x.want)
		}
	}
}

func valuesOf(t *testing.T, profile string) string {
	for _, p := range scenarios.Profiles() {
		if p.Name == profile {
			text, err := json.Marshal(accelerationOf("", "", &p).Values)
			if err != nil {
				t.Fatal(err)
			}
			return string(text)
		}
	}
	t.Fatalf("no profile %s", profile)
	return ""
}
