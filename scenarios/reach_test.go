package scenarios_test

import (
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// A gain is told at rates that get through the path: those of its pulses, of the frames
// that must see them, and of the profile's own settings; a firmware sees the knob itself.
func TestGainsAreToldAtRatesThatGetThrough(t *testing.T) {
	curve := accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}
	slow := func(change func(r *encoder.Rig)) *encoder.Rig {
		r := encoder.Default()
		r.Firmware.Pulse, r.Firmware.Gap = 50*time.Millisecond, 75*time.Millisecond
		r.Program.Frames = encoder.PerSecond(60)
		if change != nil {
			change(&r)
		}
		return &r
	}
	for _, x := range []struct {
		name    string
		profile scenarios.Profile
		on      *encoder.Rig
		want    string
	}{
		{"any", scenarios.Profile{Acceleration: accel.Acceleration{Curve: curve}}, nil, "1.44 at 5/s, 3.56 at 12/s, 10 at 25/s"},
		{"pulses", scenarios.Profile{Acceleration: accel.Acceleration{Curve: curve}}, slow(nil), "1.44 at 5/s, 2.14 at 8/s, the most that gets through"},
		{"base", scenarios.Profile{Acceleration: accel.Acceleration{Base: 2, Curve: curve}}, slow(nil), "2.89 at 5/s, 4.28 at 8/s, the most that gets through"},
		{"no curve", scenarios.Profile{Acceleration: accel.Acceleration{Base: 2}}, slow(nil), "2 at every rate"},
		{"flat", scenarios.Profile{Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 7}}}, slow(nil), "7 at every rate"},
		{"own settings", scenarios.Profile{Acceleration: accel.Acceleration{Curve: curve}, Settings: []scenarios.Setting{{Key: "firmware.gap", Value: "25ms"}}}, slow(nil),
			"1.44 at 5/s, 3.56 at 12/s, 4.16 at 13.3/s, the most that gets through"},
		{"firmware", scenarios.Profile{Home: encoder.InFirmware, Acceleration: accel.Acceleration{Curve: curve}}, slow(nil), "1.44 at 5/s, 3.56 at 12/s, 10 at 25/s"},
		{"frames", scenarios.Profile{Acceleration: accel.Acceleration{Curve: curve}}, slow(func(r *encoder.Rig) { r.Program.Frames = 8 }), "1.28 at 4/s, the most that gets through"},
		{"counts", scenarios.Profile{Acceleration: accel.Acceleration{Curve: curve}}, slow(func(r *encoder.Rig) { r.Firmware.Output = encoder.Relative; scenarios.Settle(r) }), "1.44 at 5/s, 3.56 at 12/s, 10 at 25/s"},
	} {
		if got := x.profile.Gains(x.on); got != x.want {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
	}
}
