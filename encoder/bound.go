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
	Above     bool    // Low itself is too small
	Ideal     float64 // the least that an ideal link has, though no file may say it; 0: as Low
}

// bounds are those of every number of a rig, by its key in a rig file. They are
// ours: wider than any part, firmware or program needs, and such that times and
// counts of a trial stay far inside 64 bits. The shortest times have a reason: a scan
// or a pulse of less than 1 µs is no longer than the microcontroller takes to read a pin
// and step a debouncer (some tens of cycles at 16 MHz; common practice, no source); USB
// has no interval below its microframe of 125 µs (USB 2.0, 9.6.6); a hold and a
// program's own repeat are told in milliseconds (common practice, no source).
var bounds = map[string]Bound{
	"knob.detents":   {Low: 1, High: 10_000},
	"knob.cycles":    {Low: 1, High: 100_000},
	"knob.bounce":    {Low: 0, High: second},
	"knob.min_state": {Low: 0, High: 0.25, Above: true},

	"firmware.scan":                   {Low: microsecond, High: second},
	"firmware.phase":                  {Low: 0, High: minute},
	"firmware.debounce":               {Low: 1, High: 1000},
	"firmware.counts_per_detent":      {Low: 1, High: 100},
	"firmware.pulse":                  {Low: microsecond, High: 10 * second},
	"firmware.gap":                    {Low: 0, High: 10 * second},
	"firmware.queue":                  {Low: 0, High: 10_000},
	"firmware.hold":                   {Low: millisecond, High: 10 * second},
	"firmware.coarse.above":           {Low: 0.1, High: 1000},
	"firmware.coarse.steps":           {Low: 1, High: 10_000},
	"firmware.axis.bits":              {Low: 1, High: 24},
	"firmware.axis.counts_per_detent": {Low: 1, High: 100_000},

	"usb.poll":  {Low: 125 * microsecond, High: second, Ideal: microsecond},
	"usb.phase": {Low: 0, High: minute},

	"system.latency":      {Low: 0, High: 10 * second},
	"system.repeat.delay": {Low: 0, High: 10 * second},
	"system.repeat.rate":  {Low: 0.1, High: 1000},

	"program.frames":        {Low: 0.1, High: 10_000},
	"program.jitter":        {Low: 0, High: 0.45},
	"program.phase":         {Low: 0, High: minute},
	"program.frame_list":    {Low: 0, High: minute, Above: true}, // each of its times
	"program.max_per_frame": {Low: 1, High: 10_000},
	"program.hold.delay":    {Low: 0, High: 10 * second},
	"program.hold.period":   {Low: millisecond, High: 10 * second},

	"display.latency": {Low: 0, High: 10 * second},
}

const (
	microsecond = float64(time.Microsecond)
	millisecond = float64(time.Millisecond)
	second      = float64(time.Second)
	minute      = float64(time.Minute)
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

// Runs reports whether the engine takes a number: one that keeps to the bound, or that
// an ideal link has.
func (b Bound) Runs(v float64) bool {
	return b.Holds(v) || b.Ideal > 0 && v >= b.Ideal && v <= b.High
}

// runs returns what keeps a rig from running at all. It looks at nothing that the
// rig does not use; a key that is absent in a rig file is 0 here.
func (r *Rig) runs() error {
	var faults []error
	need := func(key string, v float64, shown any) {
		if b := bounds[key]; !b.Runs(v) {
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
