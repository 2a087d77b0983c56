package scenarios

import "time"

// Operator is the person at the knob: means and spreads of what people differ
// in. A simulated person is one draw from it (package scenarios/hand).
type Operator struct {
	Name string

	Reaction Delay // from the target's appearance to the first look
	Perceive Delay // τp: what is seen is so old
	Decide   Delay // τc
	Act      Delay // τm
	Begin    Delay // T0: the part of a stroke's time that does not depend on its length
	Regrip   Delay // taking the fingers back to turn on
	Fixation Delay // a careful look at one digit
	Confirm  Delay // the key press that says "done", where a task has one
	HandMove Delay // from ring to ring
	KeyPress Delay // a push, a selector button
	EyeMove  Delay // to another number

	// Reluctance is R, the time that not to run past the target is worth: the median
	// and the standard deviation of its logarithm.
	Reluctance Delay

	ReachDeg       Spread // the arc of a turn between two regrips, degrees at the fingers
	SlowDegPerS    Spread // turning click by click
	FastDegPerS    Spread // a flick
	Noise          Spread // σ: of a stroke's detents, a share of them
	FingerNoiseDeg Spread // σ0: of a stroke, whatever its length
	PaceNoise      Spread // of a stroke's pace, a share of it
	FeltNoise      Spread // f: of the detents that pass under the fingers, detents
	GainError      Spread // of what the person believes of the gain above base, a share
	Familiarity    Spread // φ: how well lag and losses of this path are known, 0 to 1

	WrongRing float64 // share of rings whose first stroke turns the other ring; nobody published one
	WrongMode float64 // share of pushes that are forgotten
	PushTurns float64 // share of pushes that turn the knob by a detent
}

// Delay is a time that differs between people: mean and coefficient of
// variation.
type Delay struct {
	Mean time.Duration
	CV   float64
}

// Spread is a quantity that differs between people: mean and coefficient of
// variation.
type Spread struct {
	Mean float64
	CV   float64
}
