package scenarios

import (
	"fmt"
	"math"
	"slices"
	"time"

	"dialwright/encoder"
)

// Set gives a rig the value of one key, written as in a rig file:
//
//	Set(&rig, "firmware.pulse", "40ms")
//
// Keys that may be absent take none. Two keys take a preset by its name:
// knob.part (24x24, 15x30, …) and system.repeat (windows, x-server, …). Set does
// not look at other keys; Check does. An error is a Fault.
func Set(r *encoder.Rig, key, value string) error {
	k, ok := keyed(key)
	if !ok {
		return noKey(key)
	}
	if err := k.set(r, value); err != nil {
		return err.under(key)
	}
	return nil
}

// Get returns the value of a key as a rig file writes it, none where the rig does
// without, and "" for an unknown key or one that only names a preset.
func Get(r *encoder.Rig, key string) string {
	if k, ok := keyed(key); ok && k.get != nil {
		return k.get(r)
	}
	return ""
}

// Keys returns the keys that a rig uses, in the order in which a click travels.
func Keys(r *encoder.Rig) []string {
	var list []string
	for _, k := range table {
		if k.get != nil && k.Used(r) {
			list = append(list, k.Name)
		}
	}
	return list
}

// Settle gives every key that the rig does not use its default, and an axis
// without values 10 bits and 8 units a count, so that two rigs that behave alike
// are equal.
func Settle(r *encoder.Rig) {
	if r.Knob.MinState == 0 {
		r.Knob.MinState = 0.25
	}
	standard := encoder.Default()
	for range 2 { // the first round may settle what decides over other keys
		for _, k := range table {
			if k.get != nil && !k.Used(r) {
				k.copy(r, &standard)
			}
		}
	}
	if r.Firmware.Output == encoder.AxisOutput {
		if r.Firmware.Axis.Bits == 0 {
			r.Firmware.Axis.Bits = 10
		}
		if r.Firmware.Axis.CountsPerDetent == 0 {
			r.Firmware.Axis.CountsPerDetent = 8
		}
	}
}

// With returns the rig with some settings, each as in a rig file. A setting that
// changes the output or the sampling changes what other keys are used: those that
// are not any more go to their defaults. The order of the settings does not
// matter. An error is a Faults: unknown keys, bad values, settings that the rig
// does not use, and what Check finds.
func With(r encoder.Rig, settings []Setting) (encoder.Rig, error) {
	var faults Faults
	before := r
	for i, s := range settings {
		if slices.ContainsFunc(settings[:i], func(o Setting) bool { return o.Key == s.Key }) {
			faults = append(faults, Fault{s.Key, "is set twice", "one value would do"})
			continue
		}
		if k, ok := keyed(s.Key); ok && k.get == nil {
			if err := Set(&r, s.Key, s.Value); err != nil {
				faults = append(faults, err.(Fault))
			}
		}
	}
	for _, s := range settings { // explicit keys beside a preset win
		if k, ok := keyed(s.Key); ok && k.get == nil {
			continue
		}
		if err := Set(&r, s.Key, s.Value); err != nil {
			faults = append(faults, err.(Fault))
		}
	}
	for _, s := range settings {
		if k, ok := keyed(s.Key); ok && !k.Used(&r) && s.Value != none {
			faults = append(faults, Fault{s.Key, "this rig does not use it", k.Belongs})
		}
	}
	if len(faults) > 0 {
		return before, faults
	}
	Settle(&r)
	if faults := Check(&r); len(faults) > 0 {
		return before, faults
	}
	return r, nil
}

// Apply returns the rig with a profile's settings, and refuses a profile that the
// rig cannot carry out: press-for-coarse on a knob without a push switch, an
// acceleration in the firmware where the firmware makes no pulses of its own. An
// error is a Faults.
func Apply(p *Profile, r encoder.Rig) (encoder.Rig, error) {
	with, err := With(r, p.Settings)
	faults, _ := err.(Faults)
	for i := range faults {
		faults[i] = faults[i].under("settings")
	}
	if err != nil {
		return r, faults
	}
	if p.PressCoarse > 0 && !with.Knob.Push {
		faults = append(faults, Fault{"press.coarse", "the knob of " + Shown(rigName(&with)) + " has no push switch", "a rig with knob.push: true, or a profile without press, would do"})
	}
	if p.Home == encoder.InFirmware && !p.Acceleration.Plain() {
		switch {
		case with.Firmware.Output == encoder.AxisOutput:
			faults = append(faults, Fault{"acceleration.home", "firmware, but an axis moves by its own counts", "program would do"})
		case with.Firmware.Hold > 0:
			faults = append(faults, Fault{"acceleration.home", "firmware, but firmware.hold makes no pulses", "program would do"})
		}
		if p.Acceleration.Landing > 0 {
			faults = append(faults, Fault{"acceleration.landing", "the firmware does not know the value", "home: program, or no landing, would do"})
		}
	}
	if err := faults.err(); err != nil {
		return r, err
	}
	return with, nil
}

func rigName(r *encoder.Rig) string {
	if r.Name == "" {
		return "this rig"
	}
	return r.Name
}

// mostCycles is how fine a knob without clicks may be, on which every quarter step is
// computed: a turn is 40,000 of them. Ours.
const mostCycles = 10_000

// Check returns every rule that a rig breaks, in the order of its keys: values
// out of their bounds, keys that its output or sampling does not use, a detent
// that is no whole number of quarter steps.
func Check(r *encoder.Rig) Faults {
	var faults Faults
	standard, zero := encoder.Default(), encoder.Rig{}
	for _, k := range table {
		switch {
		case k.get == nil:
		case k.Used(r):
			if f := k.check(r); f != nil {
				faults = append(faults, f.under(k.Name))
			}
		case k.get(r) != k.get(&standard) && k.get(r) != k.get(&zero):
			faults = append(faults, Fault{k.Name, "this rig does not use it", k.Belongs})
		}
	}
	if _, ok := r.Knob.EdgesPerDetent(); !ok && r.Knob.Cycles > 0 && r.Knob.Detents > 0 {
		d, c := r.Knob.Detents, r.Knob.Cycles
		faults = append(faults, Fault{"knob.cycles",
			fmt.Sprintf("%d cycles give a detent %s quarter steps, not a whole number of at least 1", c, shifted(math.Round(4000*float64(c)/float64(d))/1000, 0)),
			fmt.Sprintf("%d or %d cycles, or none for detents, would do", d/gcd(d, 4), d)})
	}
	if r.Knob.Detents == 0 && r.Knob.Cycles > mostCycles {
		faults = append(faults, Fault{"knob.cycles", fmt.Sprintf("%d on a knob without clicks is beyond what is computed", r.Knob.Cycles), fmt.Sprintf("%d or fewer would do", mostCycles)})
	}
	for i, t := range r.Program.FrameList {
		if f := FrameTime(t); f != nil {
			faults = append(faults, f.under(fmt.Sprintf("program.frame_list[%d]", i)))
		}
	}
	return faults
}

// FrameTime returns what is wrong with one time of a list of frame times, or nil.
func FrameTime(t time.Duration) *Fault {
	if b, _ := encoder.BoundOf("program.frame_list"); !b.Holds(float64(t)) {
		return &Fault{Found: TimeText(t), Would: "a frame time above " + Time.Text(b.Low) + " and up to " + Time.Text(b.High) + " would do"}
	}
	return nil
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// Describe returns what there is to know about every key of a rig, in the order
// in which a click travels.
func Describe() []Key { return slices.Clone(table) }
