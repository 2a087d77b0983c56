package trial

import (
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// People find out about a knob once: benches share what they know where it is the same
// knob, and only there, and the trials are those of people who find out anew.
func TestAKnobIsFoundOutOnce(t *testing.T) {
	var grips Grips
	o, other := scenarios.Practised(), scenarios.Practised()
	power := &scenarios.Profile{Name: "power", Acceleration: accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}}
	landing := &scenarios.Profile{Name: "landing", Acceleration: power.Acceleration}
	landing.Acceleration.Landing = 3
	slow := encoder.Default()
	slow.Firmware.Pulse = 60 * time.Millisecond
	late := encoder.Default()
	late.Display.Latency = 200 * time.Millisecond
	rig := encoder.Default()
	above := numberTask(0)
	above.From = 100 * scenarios.Unity
	base := Cell{Task: numberTask(0), Rings: 1, Inner: &rig, Operator: &o, Profile: power}
	first, err := grips.Bench(base)
	if err != nil {
		t.Fatal(err)
	}
	with := func(change func(*Cell)) Cell { c := base; change(&c); return c }
	for name, x := range map[string]struct {
		cell   Cell
		shared bool
	}{
		"again":                  {base, true},
		"another task":           {with(func(c *Cell) { c.Task = numberTask(5) }), true},
		"a range from 100":       {with(func(c *Cell) { c.Task = above }), true},
		"an equal rig":           {with(func(c *Cell) { r := encoder.Default(); c.Inner = &r }), true},
		"longer pulses":          {with(func(c *Cell) { c.Inner = &slow }), false},
		"a later screen":         {with(func(c *Cell) { c.Inner = &late }), false},
		"plain":                  {with(func(c *Cell) { c.Profile = scenarios.Plain() }), false},
		"landing":                {with(func(c *Cell) { c.Profile = landing }), false},
		"landing from 100":       {with(func(c *Cell) { c.Profile, c.Task = landing, above }), false},
		"another kind of people": {with(func(c *Cell) { c.Operator = &other }), false},
	} {
		b, err := grips.Bench(x.cell)
		if err != nil {
			t.Fatal(name, err)
		}
		if shared := b.dials[0].run.Grip == first.dials[0].run.Grip; shared != x.shared {
			t.Errorf("%s: what is known of the knob is shared %t, want %t", name, shared, x.shared)
		}
		alone := bench(t, x.cell)
		for n := range 10 {
			if got, want := b.Run(1, n), alone.Run(1, n); got != want {
				t.Errorf("%s, trial %d: %+v, of people who found out anew %+v", name, n, got, want)
			}
		}
	}
}
