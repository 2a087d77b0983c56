package encoder

import (
	"errors"
	"fmt"
	"time"
)

// Bound is between what a number of a rig must lie: nanoseconds, a rate per second,
// a share of 1, or a whole number.
type Bound struct {
	Low, High float64
	Above     bool // Low itself is too small
}

// bounds are those of every number of a rig, by its key in a rig file. They are
// ours: wider than any part, firmware or program needs, and such that times and
// counts of a trial stay far inside 64 bits.
var bounds = map[string]Bound{
	"knob.detents":   {1, 10_000, false},
	"knob.cycles":    {1, 100_000, false},
	"knob.bounce":    {0, second, false},
	"knob.min_state": {0, 0.25, true},

	"firmware.scan":                   {0, second, true},
	"firmware.phase":                  {0, minute, false},
	"firmware.debounce":               {1, 1000, false},
	"firmware.counts_per_detent":      {1, 100, false},
	"firmware.pulse":                  {0, 10 * second, true},
	"firmware.gap":                    {0, 10 * second, false},
	"firmware.queue":                  {0, 10_000, false},
	"firmware.hold":                   {0, 10 * second, true},
	"firmware.coarse.above":           {0.1, 1000, false},
	"firmware.coarse.steps":           {1, 10_000, false},
	"firmware.axis.bits":              {1, 24, false},
	"firmware.axis.counts_per_detent": {1, 100_000, false},

	"usb.poll":  {0, second, true},
	"usb.phase": {0, minute, false},

	"system.latency":      {0, 10 * second, false},
	"system.repeat.delay": {0, 10 * second, false},
	"system.repeat.rate":  {0.1, 1000, false},

	"program.frames":        {0.1, 10_000, false},
	"program.jitter":        {0, 0.45, false},
	"program.phase":         {0, minute, false},
	"program.frame_list":    {0, minute, true}, // each of its times
	"program.max_per_frame": {1, 10_000, false},
	"program.hold.delay":    {0, 10 * second, false},
	"program.hold.period":   {0, 10 * second, true},

	"display.latency": {0, 10 * second, false},
}

const (
	second = float64(time.Second)
	minute = float64(time.Minute)
)

// BoundOf returns the bound of a number by its key in a rig file, and false for
// what is no number.
func BoundOf(key string) (Bound, bool) {
	b, ok := bounds[key]
	return b, ok
}

// Holds reports whether a number keeps to the bound; a NaN does not.
func (b Bound) Holds(v float64) bool {
	return v >= b.Low && v <= b.High && !(b.Above && v == b.Low)
}

// runs returns what keeps a rig from running at all. It looks at nothing that the
// rig does not use; a key that is absent in a rig file is 0 here.
func (r *Rig) runs() error {
	var faults []error
	need := func(key string, v float64, shown any) {
		if b := bounds[key]; !b.Holds(v) {
			faults = append(faults, fmt.Errorf("%s: %v is not between %g and %g", key, shown, b.Low, b.High))
		}
	}
	whole := func(key string, n int) { need(key, float64(n), n) }
	span := func(key string, t time.Duration) { need(key, float64(t), t) }
	rate := func(key string, p PerSecond) { need(key, float64(p), float64(p)) }

	k, f, g := &r.Knob, &r.Firmware, &r.Program
	if _, ok := k.EdgesPerDetent(); !ok {
		faults = append(faults, fmt.Errorf("knob: %d cycles and %d detents give no whole number of quarter steps", k.Cycles, k.Detents))
	}
	if k.Detents != 0 {
		whole("knob.detents", k.Detents)
	}
	whole("knob.cycles", k.Cycles)
	span("knob.bounce", k.Bounce)
	if k.MinState != 0 {
		need("knob.min_state", k.MinState, k.MinState)
	}
	span("firmware.scan", f.Scan)
	whole("firmware.debounce", f.Debounce)
	if f.Output == AxisOutput {
		whole("firmware.axis.bits", f.Axis.Bits)
		whole("firmware.axis.counts_per_detent", f.Axis.CountsPerDetent)
	} else if f.CountsPerDetent != 0 {
		whole("firmware.counts_per_detent", f.CountsPerDetent)
	}
	switch {
	case !f.Output.Lines():
	case f.Hold != 0:
		span("firmware.hold", f.Hold)
	default:
		span("firmware.pulse", f.Pulse)
		span("firmware.gap", f.Gap)
		whole("firmware.queue", f.Queue)
		if f.Coarse != (Coarse{}) {
			rate("firmware.coarse.above", f.Coarse.Above)
			whole("firmware.coarse.steps", f.Coarse.Steps)
		}
	}
	span("usb.poll", r.USB.Poll)
	span("system.latency", r.System.Latency)
	if f.Output == Keys && r.System.Repeat.Rate != 0 {
		span("system.repeat.delay", r.System.Repeat.Delay)
		rate("system.repeat.rate", r.System.Repeat.Rate)
	}
	for i, t := range g.FrameList {
		if b := bounds["program.frame_list"]; !b.Holds(float64(t)) {
			faults = append(faults, fmt.Errorf("program.frame_list[%d]: %v is not between %g and %g", i, t, b.Low, b.High))
		}
	}
	if g.Sampling != Immediate && len(g.FrameList) == 0 {
		rate("program.frames", g.Frames)
		need("program.jitter", g.Jitter, g.Jitter)
	}
	if g.MaxPerFrame != 0 {
		whole("program.max_per_frame", g.MaxPerFrame)
	}
	if g.Hold.Period != 0 {
		span("program.hold.delay", g.Hold.Delay)
		span("program.hold.period", g.Hold.Period)
	}
	span("display.latency", r.Display.Latency)
	return errors.Join(faults...)
}
