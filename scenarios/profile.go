package scenarios

import (
	"fmt"
	"slices"
	"strings"

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
	PressCoarse  int64  // task steps that a step counts after a push; 0 is off
	Parts        []Part // where knobs or tasks want their own
}

// Part is what a profile says for some knobs and tasks, instead of what it says besides.
type Part struct {
	For []string // knobs and tasks, by name; a task of one knob as knob/task
	Profile
}

// On returns what a profile says for a task on a knob: the part that names the task
// there, or else the task, or else the knob, or else what it says besides. It has the profile's name.
func (p *Profile) On(knob, task string) *Profile {
	for _, name := range []string{knob + "/" + task, task, knob} {
		for i := range p.Parts {
			if part := &p.Parts[i]; slices.Contains(part.For, name) {
				on := part.Profile
				on.Name = p.Name
				return &on
			}
		}
	}
	if p.Parts == nil {
		return p
	}
	on := *p
	on.Parts = nil
	return &on
}

// Bounds of Profile.PressCoarse where there is one.
const (
	MinPressCoarse = 2
	MaxPressCoarse = 1_000_000
)

// Setting is one key of a rig file and the value that a profile gives it, as it
// is written there: firmware.pulse, 40ms.
type Setting struct{ Key, Value string }

// String writes the setting as it is spoken of: firmware.pulse 40 ms.
func (s Setting) String() string { return s.Key + " " + spaced(s.Value) }

// Home is where the acceleration lives.
type Home = encoder.Home

// About says in a few words what the profile does: on a rig, with gains at the rates that
// get through it; nil is any.
func (p *Profile) About(on *encoder.Rig) string {
	var parts []string
	if !p.Acceleration.Plain() {
		parts = append(parts, fmt.Sprintf("gain %s, in the %s", p.Gains(on), p.Home))
	}
	for _, s := range p.Settings {
		parts = append(parts, s.String())
	}
	if p.PressCoarse > 0 {
		parts = append(parts, fmt.Sprintf("a push makes a step count %d", p.PressCoarse))
	}
	if parts == nil {
		return "one step a click, at any speed"
	}
	return strings.Join(parts, "; ")
}

// Calm is the share of dialings that may overshoot where nobody says otherwise: one in
// ten (ours).
const Calm = 0.10
