package file

import (
	"strings"
	"time"

	"dialwright/scenarios"
)

// delay is a time of an operator and its place.
type delay struct {
	key   string
	to    *scenarios.Delay
	about string
}

// delays names the times of an operator as its file does.
func delays(o *scenarios.Operator) []delay {
	return []delay{
		{"reaction", &o.Reaction, "from the target's appearance to the first look"},
		{"perceive", &o.Perceive, "what is seen is so old"},
		{"decide", &o.Decide, "what to do about it"},
		{"act", &o.Act, "until the fingers move"},
		{"begin", &o.Begin, "the part of a stroke's time that does not depend on its length"},
		{"regrip", &o.Regrip, "taking the fingers back to turn on"},
		{"fixation", &o.Fixation, "a careful look at one digit"},
		{"confirm", &o.Confirm, "the key press that says done, where a task has one"},
		{"hand_move", &o.HandMove, "from ring to ring"},
		{"key_press", &o.KeyPress, "a push, a selector button"},
		{"eye_move", &o.EyeMove, "to another number"},
		{"reluctance", &o.Reluctance, "what not to run past the target is worth: the median; cv is the spread of its logarithm"},
	}
}

// spread is another quantity of an operator, its place, unit and bounds.
type spread struct {
	key       string
	to        *scenarios.Spread
	q         scenarios.Quantity
	low, high float64
	about     string
}

// spreads names the other quantities of an operator as its file does.
func spreads(o *scenarios.Operator) []spread {
	return []spread{
		{"reach", &o.ReachDeg, scenarios.Angle, 1, 158, "the arc of a turn between two regrips"},
		{"pace.slow", &o.SlowDegPerS, scenarios.AngularSpeed, 1, 10_000, "turning click by click"},
		{"pace.fast", &o.FastDegPerS, scenarios.AngularSpeed, 1, 10_000, "a flick"},
		{"noise", &o.Noise, scenarios.Share, 0, 2, "of a stroke's detents, a share of them"},
		{"finger_noise", &o.FingerNoiseDeg, scenarios.Angle, 0, 45, "of a stroke, whatever its length"},
		{"pace_noise", &o.PaceNoise, scenarios.Share, 0, 1, "of a stroke's pace"},
		{"felt_noise", &o.FeltNoise, scenarios.Share, 0, 2, "of the detents that pass under the fingers, a share of one"},
		{"gain_error", &o.GainError, scenarios.Share, 0, 1, "of what the person believes of the gain above base"},
		{"familiarity", &o.Familiarity, scenarios.Share, 0, 1, "how well lag and losses of the path are known"},
	}
}

// mistake is a share of things done wrong and its place.
type mistake struct {
	key   string
	to    *float64
	about string
}

// mistakes names what an operator does wrong as its file does.
func mistakes(o *scenarios.Operator) []mistake {
	return []mistake{
		{"wrong_ring", &o.WrongRing, "share of rings whose first stroke turns the other ring"},
		{"wrong_mode", &o.WrongMode, "share of pushes that are forgotten"},
		{"push_turns", &o.PushTurns, "share of pushes that turn the knob by a detent"},
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
		if !(*to >= 0.1 && *to <= 1) { // with less, everybody's limits fall on one place and make artefacts there
			d.at(n, s.path("cv"), "%s; a coefficient of variation of 10%% to 100%% would do", scenarios.Share.Text(*to))
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
	pace, _ := top.sub("pace")
	for _, x := range spreads(&o) {
		in, key := top, x.key
		if name, of := strings.CutPrefix(key, "pace."); of {
			in, key = &pace, name
		}
		s, ok := in.sub(key)
		if !ok {
			continue
		}
		if n := s.number("mean", x.q, &x.to.Mean); !(x.to.Mean >= x.low && x.to.Mean <= x.high) {
			d.at(n, s.path("mean"), "%s; %s to %s would do", x.q.Text(x.to.Mean), x.q.Text(x.low), x.q.Text(x.high))
		}
		cv(&s, &x.to.CV)
		s.end()
	}
	if o.FastDegPerS.Mean < o.SlowDegPerS.Mean {
		d.at(find(top.node, "pace.fast"), "pace.fast", "the fastest pace is slower than the slowest")
	}
	pace.end()
	for _, x := range mistakes(&o) {
		if n := top.number(x.key, scenarios.Share, x.to); !(*x.to >= 0 && *x.to <= 1) {
			d.at(n, x.key, "%s; 0%% to 100%% would do", scenarios.Share.Text(*x.to))
		}
	}
	top.end()
	return &o
}
