package accel

import (
	"fmt"
	"math"
	"time"
)

// Limits of what a profile may ask for. They are wider than any knob needs and
// keep the arithmetic inside 32 bits.
const (
	MaxGain  = 255  // factor on the base
	MaxBase  = 4096 // task steps per slow detent
	MaxRate  = 1000 // detents per second; what is quicker counts as this
	MaxSteps = 63   // steps of a ladder, points of a table
	MinRest  = 10 * time.Millisecond
	MaxRest  = 5 * time.Second
)

// Curve is the factor on the base step as a function of the turning rate. It is
// one of Constant, Ladder, Linear, Power, Logistic and Table.
type Curve interface {
	// Of returns the factor at a rate in detents per second, not yet rounded to
	// 1/256. At rate 0 it is 1 for every curve but Constant. A Ladder answers
	// for a knob that sped up to the rate from rest.
	Of(rate float64) float64

	check(*Faults)
}

// Constant is one gain at every rate, at rest too.
type Constant struct {
	Gain float64 // 1 to MaxGain
}

// Of returns the gain.
func (c Constant) Of(float64) float64 { return c.Gain }

func (c Constant) check(f *Faults) { f.within("curve.constant.gain", c.Gain, 1, MaxGain) }

// Ladder is a gain in steps. Step i is entered when the rate rises above
// Steps[i].Above and left when it falls to Steps[i].Above·(1−Hysteresis) or
// below; under the first step the gain is 1.
type Ladder struct {
	Steps      []Step  // 1 to MaxSteps, thresholds rising, gains not falling
	Hysteresis float64 // share of the threshold, 0 to 0.9
}

// Step is one step of a Ladder.
type Step struct {
	Above float64 // detents per second, above 0, at most MaxRate−1: no rate is above MaxRate
	Gain  float64 // 1 to MaxGain
}

// Of returns the gain of the highest step whose threshold is under the rate.
func (l Ladder) Of(rate float64) float64 {
	gain := 1.0
	for _, s := range l.Steps {
		if rate > s.Above {
			gain = s.Gain
		}
	}
	return gain
}

func (l Ladder) check(f *Faults) {
	f.count("curve.ladder.steps", len(l.Steps), 1, MaxSteps)
	f.within("curve.ladder.hysteresis", l.Hysteresis, 0, 0.9)
	above, gain := 0.0, 1.0
	for i, s := range l.Steps {
		field := fmt.Sprintf("curve.ladder.steps[%d]", i)
		f.rising(field+".above", s.Above, above, MaxRate-1)
		f.within(field+".gain", s.Gain, gain, MaxGain)
		above, gain = max(above, s.Above), max(gain, s.Gain)
	}
}

// Linear is 1 + Factor·rate/Per, at most Cap.
type Linear struct {
	Per    float64 // detents per second, above 0, at most MaxRate
	Factor float64 // gain added for each Per, 0 to MaxGain
	Cap    float64 // 1 to MaxGain
}

// Of returns the gain at a rate.
func (l Linear) Of(rate float64) float64 { return min(1+float64(l.Factor*rate)/l.Per, l.Cap) }

func (l Linear) check(f *Faults) {
	f.rising("curve.linear.per", l.Per, 0, MaxRate)
	f.within("curve.linear.factor", l.Factor, 0, MaxGain)
	f.within("curve.linear.cap", l.Cap, 1, MaxGain)
}

// Power is 1 + Factor·(rate/At)^Exponent, at most Cap.
type Power struct {
	At       float64 // detents per second, above 0, at most MaxRate
	Factor   float64 // gain added at the rate At, 0 to MaxGain
	Exponent float64 // above 0, at most 10
	Cap      float64 // 1 to MaxGain
}

// Of returns the gain at a rate.
func (p Power) Of(rate float64) float64 {
	if rate <= 0 {
		return 1
	}
	return min(1+float64(p.Factor*math.Pow(rate/p.At, p.Exponent)), p.Cap)
}

func (p Power) check(f *Faults) {
	f.rising("curve.power.at", p.At, 0, MaxRate)
	f.within("curve.power.factor", p.Factor, 0, MaxGain)
	f.rising("curve.power.exponent", p.Exponent, 0, 10)
	f.within("curve.power.cap", p.Cap, 1, MaxGain)
}

// Logistic is Low + (High−Low)/(1+exp(−(rate−At)/Width)): half-way between the two
// gains at the rate At, 1 % of the way 4.6 widths below it and 99 % of the way 4.6
// widths above. At rate 0, which is the estimate after a rest, it is 1.
type Logistic struct {
	Low, High float64 // 1 to MaxGain, Low ≤ High
	At        float64 // detents per second, above 0, at most MaxRate
	Width     float64 // detents per second, above 0, at most MaxRate
}

// Of returns the gain at a rate.
func (l Logistic) Of(rate float64) float64 {
	if rate <= 0 {
		return 1
	}
	return l.Low + float64((l.High-l.Low)/(1+math.Exp(-(rate-l.At)/l.Width)))
}

func (l Logistic) check(f *Faults) {
	f.within("curve.logistic.low", l.Low, 1, MaxGain)
	f.within("curve.logistic.high", l.High, l.Low, MaxGain)
	f.rising("curve.logistic.at", l.At, 0, MaxRate)
	f.rising("curve.logistic.width", l.Width, 0, MaxRate)
}

// Table is a curve of one's own: straight pieces between points, from gain 1 at
// rate 0 to the last point, whose gain holds for every higher rate.
type Table struct {
	Points []Point // 1 to MaxSteps, rates rising, gains not falling
}

// Point is one point of a Table.
type Point struct {
	Rate float64 // detents per second, 0 to MaxRate
	Gain float64 // 1 to MaxGain; 1 where Rate is 0
}

// Of returns the gain at a rate.
func (t Table) Of(rate float64) float64 {
	from := Point{Rate: 0, Gain: 1}
	for _, to := range t.Points {
		if rate < to.Rate {
			share := (rate - from.Rate) / (to.Rate - from.Rate)
			return from.Gain + float64((to.Gain-from.Gain)*share)
		}
		from = to
	}
	return from.Gain
}

func (t Table) check(f *Faults) {
	f.count("curve.table.points", len(t.Points), 1, MaxSteps)
	rate, gain := 0.0, 1.0
	for i, p := range t.Points {
		field := fmt.Sprintf("curve.table.points[%d]", i)
		if i == 0 && p.Rate == 0 {
			f.within(field+".gain", p.Gain, 1, 1)
			continue
		}
		f.rising(field+".rate", p.Rate, rate, MaxRate)
		f.within(field+".gain", p.Gain, gain, MaxGain)
		rate, gain = max(rate, p.Rate), max(gain, p.Gain)
	}
}
