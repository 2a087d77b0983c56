package scenarios

import "dialwright/accel"

// Profiles returns the built-in profiles, each named by what it is. Nobody has
// published what settings people use; the values are ours, in the middle of what
// a 24-detent knob can do: click by click is under 5 detents a second, a flick
// above 20. The fast gain is 10 in all of them so that they differ by how it is
// reached.
func Profiles() []Profile {
	with := func(name string, c accel.Curve) Profile {
		return Profile{Name: name, Acceleration: accel.Acceleration{Curve: c}}
	}
	pair := Profile{Name: "coarse-pair", Settings: []Setting{
		{"firmware.coarse.above", "12/s"}, {"firmware.coarse.steps", "10"},
	}}
	return []Profile{
		*Plain(),
		with("ladder", accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 3}, {Above: 16, Gain: 10}}, Hysteresis: 0.15}),
		with("linear", accel.Linear{Per: 10, Factor: 3, Cap: 10}),
		with("power", accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}),
		with("logistic", accel.Logistic{Low: 1, High: 10, At: 12, Width: 3}),
		pair,
		{Name: "press", PressCoarse: 10},
	}
}

// Plain is no setting at all: every click makes one step.
func Plain() *Profile { return &Profile{Name: "plain"} }
