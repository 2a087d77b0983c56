package hand

import (
	"runtime"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/testdata/heap"
)

// cost is what getting to know a knob takes: the detents turned, and the steps that came.
func (k *Knob) cost(t testing.TB) (cost int) {
	tried, err := k.experience()
	if err != nil {
		t.Fatal(err)
	}
	count := func(detents int, list ...turned) {
		for _, x := range list {
			cost += detents + len(x.steps)
		}
	}
	count(feltDetents, k.single...)
	count(k.reach(k.people.reach.mean), k.full...)
	for i, list := range tried {
		count(k.lengths[i/rates], list...)
	}
	return cost
}

// Getting to know a knob has no cliff either: it takes no more than twice what is in
// proportion to the detents of a turn, the same strokes where contacts are read more
// often, and what is known of a knob, with a value and plans, is held in 3 MB.
func TestAKnobIsKnownInProportionToItsDetents(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	p := people(t, scenarios.Practised())
	for _, out := range []encoder.Output{encoder.Relative, encoder.Buttons} {
		first := 0
		for _, x := range []struct {
			detents, cycles int
			scan            time.Duration
			debounce        int
			most            float64
		}{
			{24, 24, time.Millisecond, 4, 1},
			{24, 24, 10 * time.Microsecond, 400, 1.1},
			{24, 24, time.Microsecond, 4, 1.1},
			{48, 48, 50 * time.Microsecond, 1, 2 * 2},
			{96, 96, 50 * time.Microsecond, 1, 2 * 4},
			{192, 192, 50 * time.Microsecond, 1, 2 * 8},
			{1000, 1000, 50 * time.Microsecond, 1, 2 * 1000 / 24.0},
			{0, 60, 50 * time.Microsecond, 1, 2 * 240 / 24.0},
			{0, 1000, 50 * time.Microsecond, 1, 2 * 4000 / 24.0},
		} {
			rig := encoder.Default()
			rig.Knob.Detents, rig.Knob.Cycles, rig.Firmware.Scan, rig.Firmware.Debounce, rig.Firmware.Output = x.detents, x.cycles, x.scan, x.debounce, out
			if x.debounce == 1 {
				rig.Knob.Bounce = 0
			}
			curve := power
			curve.At = min(1000, curve.At*float64(rig.Knob.UnitsPerTurn())/24)
			gain, err := (accel.Acceleration{Curve: curve}).Compile()
			if err != nil {
				t.Fatal(err)
			}
			before := heap.Held()
			k, err := NewKnob(encoder.Setup{Rig: &rig, Gain: gain, Home: encoder.InProgram}, p)
			if err != nil {
				t.Fatal(err)
			}
			g, err := k.Grip(gain, rig.Display.Latency)
			if err != nil {
				t.Fatal(err)
			}
			g.valueOf(0)
			g.plansFor(0, 1)
			takes, cost := heap.Held()-before, k.cost(t)
			if first == 0 {
				first = cost
			}
			grown := float64(cost) / float64(first)
			t.Logf("%v %+v: %d, %.1f times the first; %d KB", out, x, cost, grown, takes>>10)
			if grown > x.most || takes > 3<<20 {
				t.Errorf("%v %+v: getting to know it takes %d, %.1f times the first, and %d KB", out, x, cost, grown, takes>>10)
			}
			runtime.KeepAlive(g)
		}
	}
}
