package tune

import (
	"fmt"
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/sample"
)

// One profile holds what is recommended for a panel: by itself where all is the same, else
// with a part for each knob or task that wants its own; a task of two knobs is told with
// its knob, and who stays plain needs no part.
func TestOneProfileForThePanel(t *testing.T) {
	p := demo.Panel("quillmoor")
	result := func(combination string, k *scenarios.Knob, chosen ...*scenarios.Profile) *KnobResult {
		x := &KnobResult{Knob: k, Combination: combination, Chosen: chosen}
		for i := range chosen {
			x.Before = append(x.Before, &sample.Trials{Use: scenarios.Served{Task: k.Tasks[i].Task, Knob: k}})
		}
		return x
	}
	parts := func(x *scenarios.Profile) string {
		var list []string
		for _, part := range x.Parts {
			list = append(list, fmt.Sprintf("%s: %s", strings.Join(part.For, "+"), part.About(nil)))
		}
		return strings.Join(list, "; ")
	}
	radio, pilot := &p.Knobs[0], &p.Knobs[2]
	again := *pilot
	again.Name = "second"
	curve, other, settings := gain(2), gain(3), &scenarios.Profile{Settings: set("firmware.gap=30ms")}
	about := func(x *scenarios.Profile) string { return x.About(nil) }
	for _, x := range []struct {
		knobs []*KnobResult
		want  string
	}{
		{[]*KnobResult{result("", radio, curve), result("", pilot, curve, curve)}, ""},
		{[]*KnobResult{result("", radio, curve), result("", pilot, settings, settings)}, "radio: " + about(curve) + "; autopilot: " + about(settings)},
		{[]*KnobResult{result("", radio, scenarios.Plain()), result("", pilot, curve, curve)}, "autopilot: " + about(curve)},
		{[]*KnobResult{result("", radio, curve), result("", pilot, curve, other)}, "radio+heading: " + about(curve) + "; altitude: " + about(other)},
		{[]*KnobResult{result("", &again, other, other), result("", pilot, curve, other)}, "second+autopilot/altitude: " + about(other) + "; autopilot/heading: " + about(curve)},
		{[]*KnobResult{result("one", radio, curve), result("two", pilot, other)}, ""}, // of the first combination
	} {
		got := (&Result{Knobs: x.knobs}).Profile()
		if parts(got) != x.want || got.Name != "tuned" || (x.want == "") != (got.Acceleration.Curve == accel.Constant{Gain: 2}) {
			t.Errorf("%+v, parts %s\nwant %s", got, parts(got), x.want)
		}
	}
}

// The best curve of another kind is tried beside the best.
func TestTheBestOfAnotherKind(t *testing.T) {
	f := finals(1)
	power := func(cap float64) *scenarios.Profile {
		return &scenarios.Profile{Name: "tuned", Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: cap}}}
	}
	x := point{gain(2)}
	f.did(0, x[0], 100, 5, 0, 0)
	f.did(0, gain(3), 100, 4, 0, 0)
	f.did(0, scenarios.Plain(), 100, 1, 0, 0)
	if got := f.otherKind(x, []int{0}, 0.1); got != nil {
		t.Errorf("there is no other kind, and %+v is one", got[0].Acceleration)
	}
	for most, seconds := range map[float64]float64{4: 9, 8: 7, 12: 8} {
		f.did(0, power(most), 100, seconds, 0, 0)
	}
	got := f.otherKind(x, []int{0}, 0.1)
	if got == nil || got[0].Acceleration.Curve.Of(accel.MaxRate) != 8 || x[0].Acceleration.Curve.Of(1) != 2 {
		t.Errorf("%+v", got)
	}
}

// Of an option and its neighbours the best goes on, one neighbour among them.
func TestTheBetterOfAnOptionAndItsNeighbours(t *testing.T) {
	s := overField()
	x := s.came(gain(2), moveMembers, 5, 0, 0)
	quick, slow := s.came(gain(3), moveMembers, 4, 0, 0), s.came(gain(4), moveMembers, 6, 0, 0)
	for _, c := range []struct {
		list []*scenarios.Profile
		want *option
	}{{nil, x}, {[]*scenarios.Profile{quick.profile}, quick}, {[]*scenarios.Profile{slow.profile}, x}, {[]*scenarios.Profile{slow.profile, quick.profile}, quick}} {
		if got, err := s.better(t.Context(), x, c.list); err != nil || got != c.want {
			t.Errorf("of %d neighbours: %+v, %v", len(c.list), got.score, err)
		}
	}
}
