package fit

import (
	"fmt"
	"math"
	"slices"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
)

// build puts what was identified into the rig and the operator.
func (f *fitting) build() error {
	rig := &f.r.Rig
	var settings []scenarios.Setting
	set := func(key, value string) { settings = append(settings, scenarios.Setting{Key: key, Value: value}) }
	output, _ := f.r.Path.Get("firmware.output")
	for _, v := range f.r.Path {
		if !v.Known {
			continue
		}
		switch v.Key {
		case "firmware.output", "usb.reports":
			set(v.Key, v.Word)
		case "firmware.axis.counts_per_detent", "knob.detents", "knob.cycles":
			set(v.Key, fmt.Sprintf("%.0f", v.Value))
		case "knob.min_state":
			set(v.Key, fmt.Sprintf("%.3f", v.Value))
		default:
			switch v.Unit {
			case "ms":
				set(v.Key, milliseconds(v.Value))
			case "per_s":
				set(v.Key, fmt.Sprintf("%.3g/s", v.Value))
			}
		}
	}
	if f.knobDetents() && !slices.ContainsFunc(settings, func(s scenarios.Setting) bool { return s.Key == "knob.cycles" }) {
		n, _ := f.r.Path.Get("knob.detents")
		set("knob.cycles", fmt.Sprintf("%d", cyclesFor(int(n.Value), rig.Knob)))
	}
	if output.Word == "axis" && rig.Firmware.Axis.Bits == 0 {
		set("firmware.axis.bits", "10") // unknown; a rig file needs one
	}
	if !f.r.Path.has("usb.poll") && f.grid.intervals > 40 && rig.USB.Poll > hiddenPoll {
		set("usb.poll", milliseconds(hiddenPoll/1e6)) // a longer one would show
	}
	if output.Word == "buttons" || output.Word == "keys" {
		settings = f.bounded(settings)
	}
	next, err := scenarios.With(rig.Rig, settings)
	if err != nil {
		return fmt.Errorf("what was measured makes no rig: %w", err)
	}
	rig.Rig = next
	if rig.Name == "" {
		rig.Name = "recorded"
	}
	f.fitsAdjustable()
	f.operatorValues()
	return nil
}

// fitsAdjustable takes from what the owner can change the settings that the rig does
// not use.
func (f *fitting) fitsAdjustable() {
	rig := &f.r.Rig
	keys := scenarios.Keys(&rig.Rig)
	rig.Adjustable.Settings = slices.DeleteFunc(slices.Clone(rig.Adjustable.Settings), func(r scenarios.Range) bool { return !slices.Contains(keys, r.Key) })
}

// bounded adds what is not known, but must be different from the rig that the fit
// starts from because of what was seen.
func (f *fitting) bounded(settings []scenarios.Setting) []scenarios.Setting {
	add := func(key, value string) { settings = append(settings, scenarios.Setting{Key: key, Value: value}) }
	base := f.r.Rig.Firmware
	on, _ := f.r.Path.Get("firmware.pulse")
	off, _ := f.r.Path.Get("firmware.gap")
	if f.train.hold || f.train.singles == 0 {
		return settings
	}
	if !on.Known && float64(base.Pulse) > f.train.on.value {
		add("firmware.pulse", milliseconds(f.train.on.value/1e6))
	}
	if most := f.mostOff(); !off.Known && f.train.shortest > 0 && float64(base.Gap) > most {
		add("firmware.gap", milliseconds(most/1e6))
	}
	if base.Hold > 0 {
		add("firmware.hold", "none")
	}
	return settings
}

func (f *fitting) knobDetents() bool {
	v, ok := f.r.Path.Get("knob.detents")
	return ok && v.Known
}

// cyclesFor returns how many cycles a knob with so many detents has, going by the
// quarter steps per detent of another knob, or 4 of them where that gives no whole
// number.
func cyclesFor(detents int, like encoder.Knob) int {
	if e, ok := like.EdgesPerDetent(); ok && like.Detents > 0 && e*detents%4 == 0 {
		return e * detents / 4
	}
	return detents
}

// milliseconds writes a time in ms to the microsecond, as a rig file has it.
func milliseconds(ms float64) string {
	return scenarios.TimeText(time.Duration(math.Round(ms*1e3)) * time.Microsecond)
}

func (f *fitting) operatorValues() {
	o := &f.r.Operator
	for _, v := range f.r.Hand {
		if !v.Known {
			continue
		}
		switch v.Key {
		case "reach":
			o.ReachDeg.Mean = within(v.Value, 1, 158)
		case "pace.slow":
			o.SlowDegPerS.Mean = within(v.Value, 1, 1e4)
		case "pace.fast":
			o.FastDegPerS.Mean = within(v.Value, 1, 1e4)
		case "pace_noise":
			o.PaceNoise.Mean = within(v.Value, 0, 1)
		case "regrip":
			o.Regrip.Mean = time.Duration(math.Round(within(v.Value, 1, 1e4))) * time.Millisecond
		default:
			continue
		}
		o.Name = "recorded"
	}
	o.FastDegPerS.Mean = max(o.FastDegPerS.Mean, o.SlowDegPerS.Mean)
}

// within rounds to three digits and keeps a value between bounds.
func within(v, low, high float64) float64 {
	v = min(max(v, low), high)
	if v == 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-2)
	return min(max(math.Round(v/unit)*unit, low), high)
}
