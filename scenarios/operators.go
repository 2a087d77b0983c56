package scenarios

import "time"

// Operators returns the built-in operators: novice, practised, expert. What the
// figures rest on is in the table of package scenarios/hand.
func Operators() []Operator { return []Operator{novice, practised, expert} }

// Practised returns the operator that is meant where none is named.
func Practised() Operator { return practised }

func ms(mean int64) Delay { return Delay{time.Duration(mean) * time.Millisecond, 0.15} }

// practised holds the frozen set: fitted to the published wheel (row A1) and, for
// the familiarity, to the lag study (A2).
var practised = Operator{
	Name:           "practised",
	Reaction:       ms(300),
	Perceive:       ms(100),
	Decide:         ms(70),
	Act:            ms(70),
	Begin:          ms(70),
	Regrip:         ms(270),
	Fixation:       ms(400),
	Confirm:        ms(390),
	HandMove:       Delay{250 * time.Millisecond, 0.25},
	KeyPress:       ms(280),
	EyeMove:        ms(230),
	Reluctance:     Delay{1300 * time.Millisecond, 0.9},
	ReachDeg:       Spread{120, 0.12},
	SlowDegPerS:    Spread{50, 0.15},
	FastDegPerS:    Spread{444, 0.15},
	Noise:          Spread{0.26, 0.15},
	FingerNoiseDeg: Spread{0.65, 0.15},
	PaceNoise:      Spread{0.12, 0.15},
	FeltNoise:      Spread{0.20, 0.15},
	GainError:      Spread{0.26, 0.15},
	Familiarity:    Spread{0.40, 0.20},
}

// novice and expert are derived from the practised one by a stated procedure: every
// processing time lies a third of the way, in proportion, from its middle to the slow
// or the fast end of its range in row A6, and what the hand and the eye do follows
// (a test of package evidence derives them, and holds that these are its numbers).
var novice = func() Operator {
	o := practised
	o.Name = "novice"
	o.Reaction, o.Perceive, o.Decide, o.Act = ms(375), ms(126), ms(94), ms(79)
	o.Begin, o.Regrip, o.Fixation, o.Confirm = ms(79), ms(304), ms(500), ms(488)
	o.KeyPress, o.EyeMove = ms(315), ms(288)
	o.HandMove.Mean = 282 * time.Millisecond
	o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 44, 394
	o.Noise.Mean, o.FingerNoiseDeg.Mean, o.PaceNoise.Mean, o.FeltNoise.Mean = 0.325, 0.81, 0.15, 0.25
	o.GainError.Mean, o.Familiarity.Mean = 0.325, 0.32
	return o
}()

var expert = func() Operator {
	o := practised
	o.Name = "expert"
	o.Reaction, o.Perceive, o.Decide, o.Act = ms(228), ms(79), ms(50), ms(53)
	o.Begin, o.Regrip, o.Fixation, o.Confirm = ms(53), ms(204), ms(304), ms(296)
	o.KeyPress, o.EyeMove = ms(211), ms(175)
	o.HandMove.Mean = 188 * time.Millisecond
	o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 66, 589
	o.Noise.Mean, o.FingerNoiseDeg.Mean, o.PaceNoise.Mean, o.FeltNoise.Mean = 0.195, 0.49, 0.09, 0.15
	o.GainError.Mean, o.Familiarity.Mean = 0.195, 0.53
	return o
}()

// OnWheel returns the operator with a finger on a notched wheel (as of a mouse)
// instead of a hand on a knob: the same person, but a finger flicks three times as
// fast as a wrist and is quicker to begin.
func (o Operator) OnWheel() Operator {
	o.Name += " on a wheel"
	o.Begin.Mean = o.Begin.Mean * 50 / 80
	o.SlowDegPerS.Mean *= 53.0 / 50
	o.FastDegPerS.Mean *= 1200.0 / 400
	return o
}
