package accel

import "math"

// Limits of what a profile may ask for. They are wider than any knob needs and
// keep the arithmetic inside 32 bits.
const (
	MaxGain  = 255  // factor on the base
	MaxBase  = 4096 // task steps per slow detent
	MaxRate  = 1000 // detents per second; what is quicker counts as this
	MaxSteps = 63   // steps of a ladder, points of a table
)

// Curve is the factor on the base step as a function of the turning rate. It is
// one of the kinds that Curves lists.
type Curve interface {
	// Of returns the factor at a rate in detents per second, not yet rounded to
	// 1/256. At rate 0 it is 1 for every curve but a flat one. A Ladder answers
	// for a knob that sped up to the rate from rest.
	Of(rate float64) float64
}

// kinds are the curves there are: a new one is a type with Of, its description,
// and a place here.
var kinds = []*Kind{constants, ladders, linears, powers, logistics, tables}

// between goes from low to high in equal ratios as x goes from 0 to 1.
func between(low, high, x float64) float64 { return low * math.Pow(high/low, x) }

// Constant is one gain at every rate, at rest too.
type Constant struct {
	Gain float64 // 1 to MaxGain
}

// Of returns the gain.
func (c Constant) Of(float64) float64 { return c.Gain }

var constants = described[Constant](Kind{
	Word: "constant", Formula: "one gain at every rate",
	Parameters: []Parameter{
		parameter("gain", "factor on base", Factor, GainRole, 1, MaxGain, func(c *Constant) *float64 { return &c.Gain }),
	},
	Default: Constant{1},
	Example: Constant{2},
	Rising:  func(_, gain, _ float64) Curve { return Constant{gain} },
})

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

var ladders = described[Ladder](Kind{
	Word: "ladder", Formula: "a gain in steps",
	Rows: &Rows{
		Word: "steps",
		Rate: Parameter{Word: "above", About: "detents per second, rising", Quantity: PerSecond, Role: RateRole, Low: 0, High: MaxRate - 1, Above: true},
		Gain: Parameter{Word: "gain", About: "factor on base, not falling", Quantity: Factor, Role: GainRole | BendRole, Low: 1, High: MaxGain},
		Of: func(c Curve) [][2]float64 {
			var rows [][2]float64
			for _, s := range c.(Ladder).Steps {
				rows = append(rows, [2]float64{s.Above, s.Gain})
			}
			return rows
		},
		With: func(c Curve, rows [][2]float64) Curve {
			l := c.(Ladder)
			l.Steps = nil
			for _, r := range rows {
				l.Steps = append(l.Steps, Step{r[0], r[1]})
			}
			return l
		},
	},
	Parameters: []Parameter{
		parameter("hysteresis", "share of a threshold that the rate must fall below it", Share, 0, 0, 0.9, func(l *Ladder) *float64 { return &l.Hysteresis }),
	},
	Default: Ladder{Hysteresis: 0.15},
	Example: Ladder{Steps: []Step{{8, 3}, {16, 10}}, Hysteresis: 0.15},
	Rising: func(rate, gain, bend float64) Curve {
		l := Ladder{Steps: []Step{{rate, gain}}, Hysteresis: 0.15}
		if bend < 0.8 { // a step between
			least := min(1.5, 1+(gain-1)/3)
			l.Steps = []Step{{rate, between(least, max(1.05*least, gain/1.2), bend/0.8)}, {1.7 * rate, gain}}
		}
		return l
	},
})

// Linear is 1 + Factor·rate/Per, at most Cap.
type Linear struct {
	Per    float64 // detents per second, above 0, at most MaxRate
	Factor float64 // gain added for each Per, 0 to MaxGain
	Cap    float64 // 1 to MaxGain
}

// Of returns the gain at a rate.
func (l Linear) Of(rate float64) float64 { return min(1+float64(l.Factor*rate)/l.Per, l.Cap) }

// A line has no bend of its own: its cap alone makes it end sooner or later.
var linears = described[Linear](Kind{
	Word: "linear", Formula: "1 + factor·rate/per, at most cap",
	Parameters: []Parameter{
		parameter("per", "detents per second", PerSecond, RateRole, 0, MaxRate, func(l *Linear) *float64 { return &l.Per }).above(),
		parameter("factor", "gain added for each per", Added, GainRole, 0, MaxGain, func(l *Linear) *float64 { return &l.Factor }),
		parameter("cap", "largest factor on base", Factor, GainRole|BendRole, 1, MaxGain, func(l *Linear) *float64 { return &l.Cap }),
	},
	Default: Linear{Per: 10, Factor: 3, Cap: 10},
	Example: Linear{Per: 10, Factor: 3, Cap: 10},
	Rising: func(rate, gain, bend float64) Curve {
		return Linear{Per: rate, Factor: between(0.5, 20, bend), Cap: gain}
	},
})

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

var powers = described[Power](Kind{
	Word: "power", Formula: "1 + factor·(rate/at)^exponent, at most cap",
	Parameters: []Parameter{
		parameter("at", "detents per second", PerSecond, RateRole, 0, MaxRate, func(p *Power) *float64 { return &p.At }).above(),
		parameter("factor", "gain added at that rate", Added, GainRole, 0, MaxGain, func(p *Power) *float64 { return &p.Factor }),
		parameter("exponent", "a number", Number, BendRole, 0, 10, func(p *Power) *float64 { return &p.Exponent }).above(),
		parameter("cap", "largest factor on base", Factor, GainRole, 1, MaxGain, func(p *Power) *float64 { return &p.Cap }),
	},
	Default: Power{At: 15, Factor: 4, Exponent: 2, Cap: 10},
	Example: Power{At: 15, Factor: 4, Exponent: 2, Cap: 10},
	Rising: func(rate, gain, bend float64) Curve {
		return Power{At: rate, Factor: gain / 2, Exponent: between(0.7, 5, bend), Cap: gain}
	},
})

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

var logistics = described[Logistic](Kind{
	Word: "logistic", Formula: "low + (high−low)/(1+exp(−(rate−at)/width))",
	Parameters: []Parameter{
		parameter("low", "factor on base at rest", Factor, GainRole, 1, MaxGain, func(l *Logistic) *float64 { return &l.Low }),
		parameter("high", "factor on base at speed", Factor, GainRole, 1, MaxGain, func(l *Logistic) *float64 { return &l.High }),
		parameter("at", "detents per second half-way between them", PerSecond, RateRole, 0, MaxRate, func(l *Logistic) *float64 { return &l.At }).above(),
		parameter("width", "detents per second", PerSecond, BendRole, 0, MaxRate, func(l *Logistic) *float64 { return &l.Width }).above(),
	},
	Default: Logistic{Low: 1, High: 10, At: 12, Width: 3},
	Example: Logistic{Low: 1, High: 10, At: 12, Width: 3},
	Rising: func(rate, gain, bend float64) Curve {
		return Logistic{Low: 1, High: gain, At: rate, Width: between(0.5, 6, bend)}
	},
	rule: func(c Curve, f *Faults) {
		l := c.(Logistic)
		f.within("curve.logistic.high", l.High, l.Low, MaxGain)
	},
})

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

var tables = described[Table](Kind{
	Word: "table", Formula: "straight pieces between points, from gain 1 at rate 0",
	Rows: &Rows{
		Word:     "points",
		Rate:     Parameter{Word: "rate", About: "detents per second, rising", Quantity: PerSecond, Role: RateRole, Low: 0, High: MaxRate, Above: true},
		Gain:     Parameter{Word: "gain", About: "factor on base, not falling", Quantity: Factor, Role: GainRole, Low: 1, High: MaxGain},
		FromRest: true,
		Of: func(c Curve) [][2]float64 {
			var rows [][2]float64
			for _, p := range c.(Table).Points {
				rows = append(rows, [2]float64{p.Rate, p.Gain})
			}
			return rows
		},
		With: func(_ Curve, rows [][2]float64) Curve {
			var t Table
			for _, r := range rows {
				t.Points = append(t.Points, Point{r[0], r[1]})
			}
			return t
		},
	},
	Default: Table{},
	Example: Table{Points: []Point{{0, 1}, {8, 2}, {16, 10}}},
	Rising: func(rate, gain, bend float64) Curve {
		return Table{Points: []Point{{rate * between(0.3, 0.9, bend), 1}, {rate, gain}}}
	},
})
