package scenarios

import (
	"fmt"

	"dialwright/encoder"
)

// Ring names the ring of a knob that a dial is turned with.
type Ring uint8

// The rings. A knob with one ring has only the inner one.
const (
	Inner Ring = iota
	Outer
)

// Dial is a part of a task that is turned by itself: the whole number, what one
// of two rings dials, or one digit.
type Dial struct {
	Name      string // "", "outer", "inner", "digit 1"…
	Ring      Ring
	Scale     encoder.Scale
	Tolerance int64 // steps
	Place     int64 // how far the whole number moves with one step of this dial
}

// Dials returns the dials of the task in the order in which they are turned, on
// a knob with one or two rings. What an inner ring dials wraps without a carry
// to the outer one; the outer ring wraps or stops as the task does.
func (t *Task) Dials(rings int) []Dial {
	if len(t.Digits) > 0 {
		dials := make([]Dial, len(t.Digits))
		for i, d := range t.Digits {
			dials[i] = Dial{
				Name:  fmt.Sprintf("digit %d", len(t.Digits)-d),
				Scale: encoder.Scale{Count: t.Base, Wrap: true},
				Place: t.place(d),
			}
		}
		return dials
	}
	if rings == 2 && t.PerOuter > 0 {
		return []Dial{
			{Name: "outer", Ring: Outer, Place: t.PerOuter, Scale: encoder.Scale{Count: t.Count() / t.PerOuter, Wrap: t.Wrap}},
			{Name: "inner", Ring: Inner, Place: 1, Scale: encoder.Scale{Count: t.PerOuter, Wrap: true}, Tolerance: t.ToleranceSteps()},
		}
	}
	return []Dial{{Place: 1, Scale: t.Scale(), Tolerance: t.ToleranceSteps()}}
}

// place returns how far the number moves with one step of a digit.
func (t *Task) place(digit int) int64 {
	p := int64(1)
	for range digit {
		p *= t.Base
	}
	return p
}

// Part returns what the dial shows of the whole number with index i.
func (d Dial) Part(i int64) int64 {
	if d.Name == "" {
		return i
	}
	return i / d.Place % d.Scale.Count
}

// Clicks returns how many detents the way from one number to another takes at
// gain 1 on a knob with one or two rings, each dial turned the shorter way
// where it wraps.
func (t *Task) Clicks(from, to int64, rings int) int64 {
	n := int64(0)
	for _, d := range t.Dials(rings) {
		off := d.Scale.Distance(d.Part(from), d.Part(to))
		n += max(off, -off)
	}
	return n
}
