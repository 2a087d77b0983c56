// Package explain says what each link of the path costs.
//
// The number is slow, and there are seven links to blame: contact and scan, pulses
// and queue, USB poll, key repeat, program sampling, display lag, acceleration.
// Each can be real, as in the rig and profile, or ideal. Making one ideal at a time
// would blame none where two only hurt together (a pulse is too short for the frame;
// either mended, all is well). So every combination of real and ideal links is run,
// 2⁷ at most, with the same people, targets and noise, and each link gets its
// Shapley value: its share of the difference between all real and all ideal,
// averaged over every order in which the links could be mended (Shapley, A value
// for n-person games, 1953; from memory). The values add up exactly. What two links
// cost only together is said beside them.
//
// Advice is chosen on the people of the study and measured on as many others, so
// that luck in choosing does not count as a gain.
//
// # The ideal of each link
//
//   - contact and scan: no bounce and an instant scan that is believed at once
//     (1 µs);
//   - pulses and queue: every count a press of its own, delivered one by one without
//     waiting. The engine says it with relative counts (a coarse pair becomes a
//     ladder of two steps in the program), and where a key repeat could act on the
//     presses, with presses of 1 µs that queue for their polls;
//   - USB poll: a poll at every change (1 µs);
//   - key repeat: none;
//   - program sampling: every press is applied when it arrives, and the program
//     repeats nothing by itself;
//   - display lag: none;
//   - acceleration: the plain profile at the task's step, no coarse pair, no push.
package explain

import (
	"fmt"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// set is which links are real.
type set uint8

const all set = 1<<scenarios.Links - 1

func (s set) has(l scenarios.Link) bool { return s>>l&1 == 1 }

// instant is a time that no person and no other link can notice.
const instant = time.Microsecond

// setup is a rig and a profile with some links real and the others ideal. The
// profile's settings are in the rig already.
type setup struct {
	rig     encoder.Rig
	profile scenarios.Profile
}

// mend returns the setup with only the links of s real.
func (x setup) mend(s set) setup {
	f, g := &x.rig.Firmware, &x.rig.Program
	if !s.has(scenarios.Acceleration) {
		f.Coarse = encoder.Coarse{}
		x.profile = *scenarios.Plain()
	}
	if !s.has(scenarios.ContactAndScan) {
		x.rig.Knob.Bounce = 0
		f.Scan, f.Debounce, f.Phase = instant, 1, encoder.PhaseAt(0)
		f.Decoder = encoder.Table
	}
	repeats := s.has(scenarios.KeyRepeat) && f.Output == encoder.Keys && x.rig.System.Repeat.Rate > 0 &&
		(!s.has(scenarios.ProgramSampling) || g.Sampling != encoder.State) && g.Repeats == encoder.ApplyRepeats && (!s.has(scenarios.ProgramSampling) || g.Hold.Period == 0)
	switch {
	case s.has(scenarios.PulsesAndQueue) || !f.Output.Lines():
	case repeats:
		f.Pulse, f.Gap, f.Queue, f.Hold = instant, instant, 1<<13, 0
		f.Overflow, f.Reversal = 0, 0
		x.rig.USB.Reports = encoder.QueuedReports
	default:
		if c := f.Coarse; c.Above > 0 {
			x.profile.Home = encoder.InProgram
			x.profile.Acceleration = accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: float64(c.Above), Gain: float64(c.Steps)}}}}
		}
		f.Output = encoder.Relative
		f.Pulse, f.Gap, f.Queue, f.Hold, f.Coarse = 0, 0, 0, 0, encoder.Coarse{}
		f.Overflow, f.Reversal = 0, 0
		x.rig.USB.Reports = encoder.StateReports
		x.rig.System.Repeat, g.Hold, g.Repeats = encoder.Repeat{}, encoder.Hold{}, 0
		g.MaxPerFrame, g.Excess = 0, 0
	}
	if !s.has(scenarios.USBPoll) {
		x.rig.USB.Poll, x.rig.USB.Phase = instant, encoder.PhaseAt(0)
	}
	if !s.has(scenarios.KeyRepeat) || f.Output != encoder.Keys {
		x.rig.System.Repeat = encoder.Repeat{}
	}
	if !s.has(scenarios.ProgramSampling) {
		x.rig.Program = encoder.Program{Sampling: encoder.Immediate, Repeats: g.Repeats}
	}
	if !s.has(scenarios.DisplayLag) {
		x.rig.Display.Latency = 0
	}
	return x
}

// key tells setups apart that behave differently.
func (x setup) key() string {
	x.rig.Name, x.profile.Name, x.profile.Settings = "", "", nil
	return fmt.Sprintf("%+v %+v", x.rig, x.profile)
}

// of returns the link that a setting of the rig belongs to.
func of(key string) scenarios.Link {
	switch key {
	case "firmware.scan", "firmware.phase", "firmware.debounce", "firmware.decoder":
		return scenarios.ContactAndScan
	case "firmware.coarse", "firmware.coarse.above", "firmware.coarse.steps":
		return scenarios.Acceleration
	}
	switch key[:min(len(key), 4)] {
	case "knob":
		return scenarios.ContactAndScan
	case "firm":
		return scenarios.PulsesAndQueue
	case "usb.":
		return scenarios.USBPoll
	case "prog":
		return scenarios.ProgramSampling
	case "disp":
		return scenarios.DisplayLag
	case "syst":
		return scenarios.KeyRepeat
	}
	return scenarios.Acceleration
}
