package scenarios

import (
	"slices"

	"dialwright/accel"
)

// Profiles returns the built-in profiles, each named by what it is. Nobody has
// published what settings people use; the values are ours, in the middle of what
// a 24-detent knob can do: click by click is under 5 detents a second, a flick
// above 20. The fast gain is 10 in all of them so that they differ by how it is
// reached.
func Profiles() []Profile {
	list := []Profile{{Name: "plain"}}
	for _, k := range accel.Curves() {
		if slices.Contains([]string{"ladder", "linear", "power", "logistic"}, k.Word) {
			list = append(list, Profile{Name: k.Word, Acceleration: accel.Acceleration{Curve: k.Example}})
		}
	}
	pair := Profile{Name: "coarse-pair", Settings: []Setting{
		{"firmware.coarse.above", "12/s"}, {"firmware.coarse.steps", "10"},
	}}
	return append(list, pair, Profile{Name: "press", PressCoarse: 10})
}

// Plain is no setting at all: every click makes one step.
func Plain() *Profile { return &Profile{Name: "plain"} }
