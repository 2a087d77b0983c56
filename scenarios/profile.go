package scenarios

import (
	"dialwright/accel"
	"dialwright/encoder"
)

// Profile is what a person can set: the acceleration and where it lives, the
// settings of the rig that are theirs to change, and press-for-coarse.
type Profile struct {
	Name         string
	Settings     []Setting
	Home         Home
	Acceleration accel.Acceleration
	PressCoarse  int64 // task steps that a step counts after a push; 0 is off
}

// Setting is one key of a rig file and the value that a profile gives it, as it
// is written there: firmware.on, 40ms.
type Setting struct{ Key, Value string }

// Home is where the acceleration lives.
type Home = encoder.Home
