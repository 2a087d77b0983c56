package evidence

import (
	"fmt"
	"math"
	"strings"
	"time"

	"dialwright/scenarios"
)

// span is a published range of a processing time, ms, around its middle (row A6).
type span struct{ low, middle, high float64 }

// The ranges of row A6.
var (
	perceiving = span{50, 100, 200}
	deciding   = span{25, 70, 170}
	acting     = span{30, 70, 100}
	correcting = span{105, 240, 470} // all three in a row
)

func (s span) holds(ns int64) bool { return float64(ns) >= 1e6*s.low && float64(ns) <= 1e6*s.high }

// skillShare is how far, in proportion, novice and expert lie from the middle of a
// range towards its slow and its fast end: a third of the way, so that people of
// either (CV 15 %) keep within the range; ours.
const skillShare = 1.0 / 3

func (s span) slower() float64 { return math.Pow(s.high/s.middle, skillShare) }
func (s span) faster() float64 { return math.Pow(s.low/s.middle, skillShare) }

// Skills derives the novice and the expert from the practised operator:
//
//   - perceive, decide and act lie a third of the way, in proportion, from practised to
//     the slow or the fast end of their own range in row A6;
//   - what the hand does (begin, regrip, hand move, key press, and the paces, the other
//     way) changes as acting does. Strokes and regrips then change by one factor, so
//     that people turn on and on (row A14) by that factor slower or faster than the
//     practised, who keep the pace of MTM-1's tables;
//   - what needs seeing and deciding too (reaction, fixation, confirm, eye move) changes
//     as the whole correction does;
//   - noise of all kinds and the gain error change as the whole correction does, and
//     familiarity the other way: ours, no source;
//   - reach is a matter of the arm and stays.
func Skills(practised scenarios.Operator) (novice, expert scenarios.Operator) {
	return skilled(practised, "novice", span.slower), skilled(practised, "expert", span.faster)
}

func skilled(o scenarios.Operator, name string, factor func(span) float64) scenarios.Operator {
	o.Name = name
	times := func(f float64, delays ...*scenarios.Delay) {
		for _, d := range delays {
			d.Mean = time.Duration(math.Round(f*float64(d.Mean)/1e6)) * time.Millisecond
		}
	}
	spreads := func(f float64, unit float64, spreads ...*scenarios.Spread) {
		for _, s := range spreads {
			s.Mean = math.Round(f*s.Mean/unit) * unit
			s.Mean = math.Round(s.Mean*1e6) / 1e6
		}
	}
	hand, all := factor(acting), factor(correcting)
	times(factor(perceiving), &o.Perceive)
	times(factor(deciding), &o.Decide)
	times(hand, &o.Act, &o.Begin, &o.Regrip, &o.HandMove, &o.KeyPress)
	times(all, &o.Reaction, &o.Fixation, &o.Confirm, &o.EyeMove)
	spreads(1/hand, 1, &o.SlowDegPerS, &o.FastDegPerS)
	spreads(all, 0.005, &o.Noise, &o.PaceNoise, &o.FeltNoise, &o.GainError)
	spreads(all, 0.01, &o.FingerNoiseDeg)
	spreads(1/all, 0.01, &o.Familiarity)
	return o
}

// SkillTable prints operators side by side, a quantity a line.
func SkillTable(os ...scenarios.Operator) string {
	var b strings.Builder
	line := func(name string, of func(o *scenarios.Operator) string) {
		fmt.Fprintf(&b, "%-22s", name)
		for i := range os {
			fmt.Fprintf(&b, " %10s", of(&os[i]))
		}
		b.WriteString("\n")
	}
	line("", func(o *scenarios.Operator) string { return o.Name })
	for _, d := range []struct {
		name string
		of   func(o *scenarios.Operator) scenarios.Delay
	}{
		{"reaction [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Reaction }},
		{"perceive [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Perceive }},
		{"decide [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Decide }},
		{"act [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Act }},
		{"begin [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Begin }},
		{"regrip [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Regrip }},
		{"fixation [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Fixation }},
		{"confirm [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Confirm }},
		{"hand move [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.HandMove }},
		{"key press [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.KeyPress }},
		{"reluctance [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.Reluctance }},
		{"eye move [ms]", func(o *scenarios.Operator) scenarios.Delay { return o.EyeMove }},
	} {
		line(d.name, func(o *scenarios.Operator) string { return fmt.Sprint(d.of(o).Mean.Milliseconds()) })
	}
	for _, s := range []struct {
		name string
		of   func(o *scenarios.Operator) scenarios.Spread
	}{
		{"reach [deg]", func(o *scenarios.Operator) scenarios.Spread { return o.ReachDeg }},
		{"slow pace [deg/s]", func(o *scenarios.Operator) scenarios.Spread { return o.SlowDegPerS }},
		{"fast pace [deg/s]", func(o *scenarios.Operator) scenarios.Spread { return o.FastDegPerS }},
		{"stroke noise [share]", func(o *scenarios.Operator) scenarios.Spread { return o.Noise }},
		{"finger noise [deg]", func(o *scenarios.Operator) scenarios.Spread { return o.FingerNoiseDeg }},
		{"pace noise [share]", func(o *scenarios.Operator) scenarios.Spread { return o.PaceNoise }},
		{"felt noise [detents]", func(o *scenarios.Operator) scenarios.Spread { return o.FeltNoise }},
		{"gain error [share]", func(o *scenarios.Operator) scenarios.Spread { return o.GainError }},
		{"familiarity [share]", func(o *scenarios.Operator) scenarios.Spread { return o.Familiarity }},
	} {
		line(s.name, func(o *scenarios.Operator) string { return fmt.Sprintf("%.4g", s.of(o).Mean) })
	}
	return b.String()
}
