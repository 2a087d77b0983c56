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
	Regrip:         ms(250),
	Fixation:       ms(405),
	Confirm:        ms(410),
	HandMove:       Delay{250 * time.Millisecond, 0.25},
	KeyPress:       ms(280),
	EyeMove:        ms(230),
	Reluctance:     Delay{1500 * time.Millisecond, 0.9},
	ReachDeg:       Spread{120, 0.12},
	SlowDegPerS:    Spread{50, 0.15},
	FastDegPerS:    Spread{408, 0.15},
	Noise:          Spread{0.27, 0.15},
	FingerNoiseDeg: Spread{0.65, 0.15},
	PaceNoise:      Spread{0.12, 0.15},
	FeltNoise:      Spread{0.20, 0.15},
	GainError:      Spread{0.15, 0.15},
	Familiarity:    Spread{0.50, 0.20},
}

// novice and expert are ours: practised, moved inside the published ranges.
var novice = func() Operator {
	o := practised
	o.Name = "novice"
	o.Reaction, o.Perceive, o.Decide, o.Act = ms(380), ms(125), ms(95), ms(76)
	o.Begin, o.Regrip, o.Fixation, o.Confirm = ms(105), ms(320), ms(540), ms(500)
	o.KeyPress, o.EyeMove = ms(350), ms(260)
	o.HandMove.Mean = 330 * time.Millisecond
	o.ReachDeg.Mean, o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 108, 42, 300
	o.Noise.Mean, o.FingerNoiseDeg.Mean, o.PaceNoise.Mean = 0.30, 0.85, 0.16
	o.GainError.Mean, o.Familiarity.Mean = 0.10, 0.25
	return o
}()

var expert = func() Operator {
	o := practised
	o.Name = "expert"
	o.Reaction, o.Perceive, o.Decide, o.Act = ms(250), ms(85), ms(55), ms(60)
	o.Begin, o.Regrip, o.Fixation, o.Confirm = ms(65), ms(210), ms(350), ms(330)
	o.KeyPress, o.EyeMove = ms(220), ms(200)
	o.HandMove.Mean = 200 * time.Millisecond
	o.ReachDeg.Mean, o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 130, 60, 500
	o.Noise.Mean, o.FingerNoiseDeg.Mean, o.PaceNoise.Mean = 0.20, 0.5, 0.09
	o.GainError.Mean, o.Familiarity.Mean = 0.03, 0.50
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
