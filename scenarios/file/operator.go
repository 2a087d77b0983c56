package file

import (
	"time"

	"dialwright/scenarios"
)

// delays names the times of an operator as its file does, with their places.
func delays(o *scenarios.Operator) []struct {
	key string
	to  *scenarios.Delay
} {
	return []struct {
		key string
		to  *scenarios.Delay
	}{
		{"reaction", &o.Reaction}, {"perceive", &o.Perceive}, {"decide", &o.Decide}, {"act", &o.Act},
		{"begin", &o.Begin}, {"regrip", &o.Regrip}, {"fixation", &o.Fixation}, {"confirm", &o.Confirm},
		{"hand_move", &o.HandMove}, {"key_press", &o.KeyPress}, {"eye_move", &o.EyeMove},
	}
}

// spreads names the other quantities of an operator, with their units and bounds.
func spreads(o *scenarios.Operator) []struct {
	key       string
	to        *scenarios.Spread
	q         scenarios.Quantity
	low, high float64
} {
	return []struct {
		key       string
		to        *scenarios.Spread
		q         scenarios.Quantity
		low, high float64
	}{
		{"reach", &o.ReachDeg, scenarios.Angle, 1, 158},
		{"slow", &o.SlowDegPerS, scenarios.AngularSpeed, 1, 10_000},
		{"fast", &o.FastDegPerS, scenarios.AngularSpeed, 1, 10_000},
		{"noise", &o.Noise, scenarios.Share, 0, 2},
		{"finger_noise", &o.FingerNoiseDeg, scenarios.Angle, 0, 45},
		{"pace_noise", &o.PaceNoise, scenarios.Share, 0, 1},
		{"gain_error", &o.GainError, scenarios.Share, 0, 1},
		{"familiarity", &o.Familiarity, scenarios.Share, 0, 1},
	}
}

// operator reads the document as an operator; what it leaves out is the
// practised one's.
func (d *document) operator() *scenarios.Operator {
	o := scenarios.Practised()
	top := &d.top
	o.Name = top.name()
	cv := func(s *section, to *float64) {
		n := s.number("cv", scenarios.Share, to)
		if !(*to >= 0 && *to <= 1) {
			d.at(n, s.path("cv"), "a coefficient of variation of 0%% to 100%% would do")
		}
	}
	for _, x := range delays(&o) {
		s, ok := top.sub(x.key)
		if !ok {
			continue
		}
		n := s.time("mean", &x.to.Mean)
		if x.to.Mean < 0 || x.to.Mean > time.Minute {
			d.at(n, s.path("mean"), "%s; 0ms to 60s would do", scenarios.TimeText(x.to.Mean))
		}
		cv(&s, &x.to.CV)
		s.end()
	}
	for _, x := range spreads(&o) {
		s, ok := top.sub(x.key)
		if !ok {
			continue
		}
		if n := s.number("mean", x.q, &x.to.Mean); !(x.to.Mean >= x.low && x.to.Mean <= x.high) {
			d.at(n, s.path("mean"), "%g to %g would do", x.low, x.high)
		}
		cv(&s, &x.to.CV)
		s.end()
	}
	if o.FastDegPerS.Mean < o.SlowDegPerS.Mean {
		d.at(top.node, "fast", "the fastest pace is slower than the slowest")
	}
	for _, x := range []struct {
		key string
		to  *float64
	}{{"wrong_ring", &o.WrongRing}, {"wrong_mode", &o.WrongMode}, {"push_turns", &o.PushTurns}} {
		if n := top.number(x.key, scenarios.Share, x.to); !(*x.to >= 0 && *x.to <= 1) {
			d.at(n, x.key, "0%% to 100%% would do")
		}
	}
	top.end()
	return &o
}
