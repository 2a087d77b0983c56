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
	Begin:          ms(100),
	Regrip:         ms(240),
	Fixation:       ms(390),
	Confirm:        ms(420),
	HandMove:       Delay{250 * time.Millisecond, 0.25},
	KeyPress:       ms(280),
	EyeMove:        ms(230),
	ReachDeg:       Spread{120, 0.12},
	SlowDegPerS:    Spread{75, 0.15},
	FastDegPerS:    Spread{400, 0.15},
	Noise:          Spread{0.245, 0.15},
	FingerNoiseDeg: Spread{0.5, 0.15},
	PaceNoise:      Spread{0.12, 0.15},
	GainError:      Spread{0.22, 0.15},
	Familiarity:    Spread{0.30, 0.20},
}

// novice and expert are ours: practised, moved inside the published ranges.
var novice = func() Operator {
	o := practised
	o.Name = "novice"
	o.Reaction, o.Perceive, o.Decide, o.Act = ms(380), ms(125), ms(95), ms(76)
	o.Begin, o.Regrip, o.Fixation, o.Confirm = ms(125), ms(300), ms(490), ms(500)
	o.KeyPress, o.EyeMove = ms(350), ms(260)
	o.HandMove.Mean = 330 * time.Millisecond
	o.ReachDeg.Mean, o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 108, 60, 300
	o.Noise.Mean, o.FingerNoiseDeg.Mean, o.PaceNoise.Mean = 0.31, 0.7, 0.16
	o.GainError.Mean, o.Familiarity.Mean = 0.30, 0.22
	return o
}()

var expert = func() Operator {
	o := practised
	o.Name = "expert"
	o.Reaction, o.Perceive, o.Decide, o.Act = ms(250), ms(85), ms(55), ms(60)
	o.Begin, o.Regrip, o.Fixation, o.Confirm = ms(80), ms(195), ms(310), ms(340)
	o.KeyPress, o.EyeMove = ms(220), ms(200)
	o.HandMove.Mean = 200 * time.Millisecond
	o.ReachDeg.Mean, o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 130, 90, 500
	o.Noise.Mean, o.FingerNoiseDeg.Mean, o.PaceNoise.Mean = 0.20, 0.4, 0.09
	o.GainError.Mean, o.Familiarity.Mean = 0.16, 0.45
	return o
}()

// OnWheel returns the operator with a finger on a notched wheel (as of a mouse)
// instead of a hand on a knob: the same person, but a finger flicks three times as
// fast as a wrist and is quicker to begin.
func (o Operator) OnWheel() Operator {
	o.Name += " on a wheel"
	o.Begin.Mean = o.Begin.Mean * 50 / 80
	o.SlowDegPerS.Mean *= 80.0 / 75
	o.FastDegPerS.Mean *= 1200.0 / 400
	return o
}
