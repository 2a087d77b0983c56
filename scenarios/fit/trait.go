package fit

import (
	"math"
	"time"

	"dialwright/scenarios"
)

// trait is a quantity of a person that dialings may show.
type trait struct {
	key, unit string
	shows     string // where it shows
	read      func(o *scenarios.Operator) float64
	write     func(o *scenarios.Operator, v float64)

	// Of one that shows only in a sum, whose parts no dialing tells apart: what the sum
	// is called, which parts are set so that it holds, and the others.
	sum    string
	parts  []string
	others func(o *scenarios.Operator) float64
}

// traits are the quantities that are looked for, in the order in which a file has them.
// What somebody does between reading a number and moving shows in one sum, of which a
// look at one digit is the largest part where the target has no width.
func traits(narrow bool) []trait {
	const pauses = "in the pauses in which the number is read"
	parts := func(o *scenarios.Operator) [3]*scenarios.Delay {
		return [...]*scenarios.Delay{&o.Perceive, &o.Decide, &o.Act}
	}
	sum := func(o *scenarios.Operator) (ms float64) {
		for _, p := range parts(o) {
			ms += millis(p.Mean)
		}
		return ms
	}
	look := delayed("fixation", pauses, func(o *scenarios.Operator) *scenarios.Delay { return &o.Fixation })
	look.sum, look.parts, look.others = "perceive + decide + act + fixation", []string{"fixation"}, sum
	if !narrow {
		look = trait{
			key: "perceive", unit: "ms", shows: pauses, read: sum,
			write: func(o *scenarios.Operator, v float64) {
				was := sum(o)
				for _, p := range parts(o) {
					p.Mean = wholeMillis(millis(p.Mean) * v / was)
				}
			},
			sum: "perceive + decide + act", parts: []string{"perceive", "decide", "act"},
			others: func(*scenarios.Operator) float64 { return 0 },
		}
	}
	return []trait{
		delayed("reaction", "in when the first click comes", func(o *scenarios.Operator) *scenarios.Delay { return &o.Reaction }),
		look,
		delayed("begin", "in short strokes", func(o *scenarios.Operator) *scenarios.Delay { return &o.Begin }),
		delayed("regrip", "in the pauses between strokes far out", func(o *scenarios.Operator) *scenarios.Delay { return &o.Regrip }),
		delayed("confirm", "in what comes after the number stood", func(o *scenarios.Operator) *scenarios.Delay { return &o.Confirm }),
		delayed("reluctance", "in how the target is approached", func(o *scenarios.Operator) *scenarios.Delay { return &o.Reluctance }),
		spreading("reach", "deg", 1, 158, "in the clicks between two regrips", func(o *scenarios.Operator) *scenarios.Spread { return &o.ReachDeg }),
		spreading("pace.slow", "deg_per_s", 1, 1e4, "in slow clicks", func(o *scenarios.Operator) *scenarios.Spread { return &o.SlowDegPerS }),
		spreading("pace.fast", "deg_per_s", 1, 1e4, "in quick clicks", func(o *scenarios.Operator) *scenarios.Spread { return &o.FastDegPerS }),
		spreading("noise", "share", 0, 2, "in where the knob rests first", func(o *scenarios.Operator) *scenarios.Spread { return &o.Noise }),
		spreading("finger_noise", "deg", 0, 45, "in short strokes", func(o *scenarios.Operator) *scenarios.Spread { return &o.FingerNoiseDeg }),
		spreading("pace_noise", "share", 0, 1, "in how paces differ", func(o *scenarios.Operator) *scenarios.Spread { return &o.PaceNoise }),
		spreading("felt_noise", "share", 0, 2, "in short strokes", func(o *scenarios.Operator) *scenarios.Spread { return &o.FeltNoise }),
		spreading("gain_error", "share", 0, 1, "in where an accelerated knob rests first", func(o *scenarios.Operator) *scenarios.Spread { return &o.GainError }),
		spreading("familiarity", "share", 0, 1, "in how the display's lag is waited for", func(o *scenarios.Operator) *scenarios.Spread { return &o.Familiarity }),
	}
}

// delayed is a time, to the millisecond.
func delayed(key, shows string, of func(o *scenarios.Operator) *scenarios.Delay) trait {
	return trait{
		key: key, unit: "ms", shows: shows,
		read: func(o *scenarios.Operator) float64 { return millis(of(o).Mean) },
		write: func(o *scenarios.Operator, v float64) {
			of(o).Mean = wholeMillis(v)
		},
	}
}

func wholeMillis(ms float64) time.Duration {
	return time.Duration(math.Round(min(max(ms, 1), 60_000))) * time.Millisecond
}

func millis(d time.Duration) float64 { return float64(d) / 1e6 }

// spreading is another quantity, to three digits.
func spreading(key, unit string, low, high float64, shows string, of func(o *scenarios.Operator) *scenarios.Spread) trait {
	return trait{
		key: key, unit: unit, shows: shows,
		read:  func(o *scenarios.Operator) float64 { return of(o).Mean },
		write: func(o *scenarios.Operator, v float64) { of(o).Mean = within(v, low, high) },
	}
}

// value is the trait of an operator, in the sum that it shows in.
func (t *trait) value(o *scenarios.Operator, v float64) float64 {
	if t.sum == "" {
		return v
	}
	return v + t.others(o)
}
