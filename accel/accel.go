package accel

import "time"

// Acceleration is what a profile sets. The zero value is the plain profile:
// every detent is one task step.
type Acceleration struct {
	// Tick is the clock's unit, 1 ms (also 0) or 1 µs. Every time is rounded
	// down to it, as a microcontroller's tick counter does.
	Tick time.Duration

	// Base is the task steps of a slow detent, 1 (also 0) to MaxBase. The curve
	// multiplies it.
	Base int

	// Rate says how the turning rate is estimated.
	Rate Rate

	// Curve gives the factor on Base for a turning rate; nil is Constant{1}.
	Curve Curve

	// Steps says what becomes of fractions of a step.
	Steps Steps

	// Landing is the gain, in task steps per detent with Base in it, above which
	// the value lands on multiples of a detent's steps; 0 is off. It needs the
	// absolute value, so only a program can do it.
	Landing int
}

// Shortest and longest rest.
const (
	MinRest = 10 * time.Millisecond
	MaxRest = 5 * time.Second
)

// Rate says how the turning rate is estimated from the times of the detents.
type Rate struct {
	From     From
	Over     time.Duration // Average: time constant; Window: length. 0 is 120 ms and 200 ms; at most Rest
	Rest     time.Duration // without a detent for so long, the rate is 0; MinRest to MaxRest, 0 is 400 ms
	Reversal Reversal
}

// From is where the rate estimate comes from.
type From uint8

// The rate estimates.
const (
	Last    From = iota // the newest interval between two detents
	Average             // an exponential average of the rate
	Window              // the count of detents in a sliding window
)

// String returns the word that a profile file uses.
func (f From) String() string { return name(f, "last", "average", "window") }

// Reversal is what a change of direction does to the rate estimate.
type Reversal uint8

// The rules for a change of direction.
const (
	Reset Reversal = iota // the rate starts again from 0
	Keep                  // the first detent is taken at the old estimate
)

// String returns the word that a profile file uses.
func (r Reversal) String() string { return name(r, "reset", "keep") }

// Steps is the rule that makes whole steps of a gain.
type Steps uint8

// The rules for whole steps.
const (
	Carry Steps = iota // the fraction waits for the next detent of the same direction
	Round              // to the nearest whole step, halves up, each detent by itself
)

// String returns the word that a profile file uses.
func (s Steps) String() string { return name(s, "carry", "round") }

func name[T ~uint8](v T, words ...string) string {
	if int(v) < len(words) {
		return words[v]
	}
	return "unknown"
}

// Plain reports whether every detent is one task step, whatever the rate and the
// value.
func (a Acceleration) Plain() bool {
	return (a.Base == 0 || a.Base == 1) && a.Landing == 0 && (a.Curve == nil || a.Curve.Of(MaxRate) == 1)
}
