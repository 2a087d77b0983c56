package hand

import (
	"fmt"
	"math"
	"time"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// Sizes of the classes that people fall into. A class is known to the plan tables;
// everything else a person differs in is drawn freely.
const (
	errorClasses = 16 // what a person is wrong by about the gain above base
	speedClasses = 5  // how fast a person turns
	paces        = 6  // from click by click to a flick, geometric

	reluctanceClasses = 6 // how much a person minds to run past the target
)

// maxReachDeg is the longest twist: pronation and supination of a forearm, 75.8° +
// 82.1° (Boone, Azen, J. Bone Joint Surg. 61-A, 1979; row A8).
const maxReachDeg = 158

// Where the delays of an operator stand in a list.
const (
	reaction = iota
	perceive
	decide
	act
	begin
	regrip
	fixation
	confirm
	handMove
	keyPress
	eyeMove
	delays
)

// People is an operator made ready for drawing simulated persons from.
type People struct {
	operator scenarios.Operator
	delays   [delays]spread // ns
	reach    spread         // thousandths of a degree
	noise    spread         // 1/draw.One
	finger   spread         // thousandths of a degree
	pace     spread         // 1/draw.One
	felt     spread         // 1/draw.One of a detent
	phi      spread         // 1/draw.One

	gainErrors [errorClasses]int64      // 1/draw.One of the gain above base
	doubts     [doubts]int64            // the same, as what people know of their own
	reluctance [reluctanceClasses]int64 // ns
}

// Person is one simulated person, drawn for a trial.
type Person struct {
	Reaction, Perceive, Decide, Act, Begin, Regrip, Fixation, Confirm, HandMove, KeyPress, EyeMove int64 // ns

	Reach       int64 // thousandths of a degree
	Noise       int64 // σ, in 1/draw.One of a stroke's detents
	FingerNoise int64 // σ0, thousandths of a degree
	PaceNoise   int64 // in 1/draw.One
	FeltNoise   int64 // f, in 1/draw.One of a detent
	Familiarity int64 // φ, in 1/draw.One

	Speed, Error, Reluctance int // classes

	// Arc is where in its reach the hand starts, in 1/draw.Share of it, counted
	// from the end at which no turning in the first direction is left behind.
	Arc int64
}

// spread is a mean and a standard deviation, both whole numbers of one unit.
type spread struct {
	mean, sd, floor, ceiling int64
}

// NewPeople makes an operator ready. An error names the quantity that no person
// can have.
func NewPeople(o scenarios.Operator) (*People, error) {
	p := &People{operator: o}
	for i, d := range [delays]struct {
		name string
		scenarios.Delay
	}{
		{"reaction", o.Reaction}, {"perceive", o.Perceive}, {"decide", o.Decide}, {"act", o.Act},
		{"begin", o.Begin}, {"regrip", o.Regrip}, {"fixation", o.Fixation}, {"confirm", o.Confirm},
		{"hand_move", o.HandMove}, {"key_press", o.KeyPress}, {"eye_move", o.EyeMove},
	} {
		if d.Mean < 0 || d.Mean > time.Minute || !(d.CV >= 0 && d.CV <= 1) {
			return nil, fmt.Errorf("operator %s: %s: %v with a coefficient of variation of %g; a time from 0 to 1m and a coefficient from 0 to 1 would do", o.Name, d.name, d.Mean, d.CV)
		}
		p.delays[i] = newSpread(float64(d.Mean), d.CV, math.MaxInt64)
	}
	for _, s := range []struct {
		name      string
		of        scenarios.Spread
		low, high float64
		unit      float64
		ceiling   int64
		to        *spread
	}{
		{"reach", o.ReachDeg, 1, maxReachDeg, 1000, maxReachDeg * 1000, &p.reach},
		{"noise", o.Noise, 0, 2, draw.One, math.MaxInt64, &p.noise},
		{"finger_noise", o.FingerNoiseDeg, 0, 45, 1000, math.MaxInt64, &p.finger},
		{"pace_noise", o.PaceNoise, 0, 1, draw.One, draw.One, &p.pace},
		{"felt_noise", o.FeltNoise, 0, 2, draw.One, math.MaxInt64, &p.felt},
		{"familiarity", o.Familiarity, 0, 1, draw.One, draw.One, &p.phi},
		{"gain_error", o.GainError, 0, 1, draw.One, draw.One, new(spread)},
		{"slow", o.SlowDegPerS, 1, 10000, 1, math.MaxInt64, new(spread)},
		{"fast", o.FastDegPerS, o.SlowDegPerS.Mean, 10000, 1, math.MaxInt64, new(spread)},
	} {
		if !(s.of.Mean >= s.low && s.of.Mean <= s.high) || !(s.of.CV >= 0 && s.of.CV <= 1) {
			return nil, fmt.Errorf("operator %s: %s: %g with a coefficient of variation of %g; %g to %g and a coefficient from 0 to 1 would do", o.Name, s.name, s.of.Mean, s.of.CV, s.low, s.high)
		}
		*s.to = newSpread(s.of.Mean*s.unit, s.of.CV, s.ceiling)
	}
	for k := range p.gainErrors {
		p.gainErrors[k] = mistaken(o.GainError.Mean * classNormal(k, errorClasses))
	}
	if r := o.Reluctance; r.Mean < 0 || r.Mean > time.Minute || !(r.CV >= 0 && r.CV <= 1) {
		return nil, fmt.Errorf("operator %s: reluctance: %v with a spread of %g of its logarithm; a time from 0 to 1m and a spread from 0 to 1 would do", o.Name, r.Mean, r.CV)
	}
	for k := range p.doubts {
		p.doubts[k] = mistaken(o.GainError.Mean * classNormal(k, doubts))
	}
	for k := range p.reluctance {
		p.reluctance[k] = int64(math.Round(float64(o.Reluctance.Mean) * math.Exp(o.Reluctance.CV*classNormal(k, reluctanceClasses))))
	}
	return p, nil
}

// mistaken is an error of the gain in 1/draw.One: nobody believes that turning faster
// brings less.
func mistaken(share float64) int64 { return int64(math.Round(max(share, -0.9) * draw.One)) }

func newSpread(mean, cv float64, ceiling int64) spread {
	m := int64(math.Round(mean))
	return spread{mean: m, sd: int64(math.Round(mean * cv)), floor: m / 4, ceiling: ceiling}
}

// at returns the value that lies z standard deviations (in 1/draw.One) from the
// mean, but at least a quarter of the mean.
func (s spread) at(z int64) int64 {
	return min(max(s.mean+s.sd*z>>20, s.floor), s.ceiling)
}

// classNormal returns the normal deviate that class k of n equally likely ones
// stands for, scaled so that the classes have variance 1.
func classNormal(k, n int) float64 { return classNormals[n][k] }

// classNormals holds classNormal for up to 32 classes.
var classNormals = func() (table [33][]float64) {
	for n := 1; n < len(table); n++ {
		sum := 0.0
		for k := range n {
			z := math.Sqrt2 * math.Erfinv(2*(float64(k)+.5)/float64(n)-1)
			table[n] = append(table[n], z)
			sum += float64(z * z)
		}
		for k := range n {
			if sum > 0 {
				table[n][k] /= math.Sqrt(sum / float64(n))
			}
		}
	}
	return table
}()

// Draw returns the person who does a trial. Only the trial's source decides, so
// that the same person meets every candidate.
func (p *People) Draw(trial draw.Trial) Person {
	s := trial.Stream(draw.Person)
	var w Person
	for i, to := range [delays]*int64{
		&w.Reaction, &w.Perceive, &w.Decide, &w.Act, &w.Begin, &w.Regrip,
		&w.Fixation, &w.Confirm, &w.HandMove, &w.KeyPress, &w.EyeMove,
	} {
		*to = p.delays[i].at(s.Normal(int64(i)))
	}
	w.Reach = p.reach.at(s.Normal(11))
	w.Noise = p.noise.at(s.Normal(12))
	w.FingerNoise = p.finger.at(s.Normal(13))
	w.PaceNoise = p.pace.at(s.Normal(14))
	w.Familiarity = p.phi.at(s.Normal(15))
	w.Speed = int(s.Below(16, speedClasses))
	w.Error = int(s.Below(17, errorClasses))
	w.FeltNoise = p.felt.at(s.Normal(20))
	w.Reluctance = int(s.Below(19, reluctanceClasses))
	w.Arc = draw.Share/5 + s.Unit(18)*3/5
	return w
}
