package tune

import (
	"math"
	"slices"
	"strconv"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// space is what can be chosen for a knob, as a box: a coordinate for each setting,
// then the five of an acceleration.
type space struct {
	knob     *scenarios.Knob
	now      *scenarios.Profile
	settings []setting
	homes    []scenarios.Home
	curves   []string
	effort   float64 // that the knob is worth; 1 is usual
	always   bool    // there is a curve: none is no choice
	slow     float64 // the most gain that a slow click may have
}

// setting is a key with the values that it may have.
type setting struct {
	key     string
	choices []string
	words   bool // no order between the values
}

// The coordinates of an acceleration, after those of the settings.
const (
	atHome = iota
	atCurve
	atRate // at which rate the gain rises
	atGain // how far it rises
	atBend // how suddenly
	accelerationSize
)

func newSpace(k *scenarios.Knob, now *scenarios.Profile) (*space, error) {
	s := &space{effort: 1, knob: k, now: now, homes: k.Inner.Adjustable.Homes, curves: k.Inner.Adjustable.Curves}
	for _, g := range k.Inner.Adjustable.Settings {
		if k.Outer != nil && !slices.ContainsFunc(k.Outer.Adjustable.Settings, func(o scenarios.Range) bool { return o.Key == g.Key }) {
			continue // both rings have the settings of one profile
		}
		choices, err := g.Choices()
		if err != nil {
			return nil, err
		}
		x := setting{key: g.Key, choices: choices}
		for _, c := range choices {
			if _, ok := scenarios.Number(g.Key, c); !ok {
				x.words = true
			}
		}
		s.settings = append(s.settings, x)
	}
	if s.homes == nil {
		s.homes = []scenarios.Home{encoder.InProgram}
	}
	s.slow = math.Inf(1)
	for _, u := range k.Tasks {
		s.slow = min(s.slow, max(3, float64(2*u.Task.ToleranceSteps()+1)))
	}
	return s, nil
}

func (s *space) size() int { return len(s.settings) + accelerationSize }

// words says which coordinates are choices between words: a cloud of numbers does
// not move along them.
func (s *space) words(i int) bool {
	if i < len(s.settings) {
		return s.settings[i].words
	}
	return i < len(s.settings)+atRate
}

// least is the least standard deviation of a coordinate: see cma.
func (s *space) least(i int) float64 {
	if i < len(s.settings) {
		return math.Min(0.1, 1/float64(4*len(s.settings[i].choices)))
	}
	return 0.01
}

// pick returns which of n values stands at a coordinate.
func pick(x float64, n int) int { return max(0, min(n-1, int(x*float64(n)))) }

// candidate returns the candidate at a point.
func (s *space) candidate(x []float64, tasks int) *candidate {
	c := one("searched", s.profile(x), tasks)
	c.at = x
	return c
}

// profile returns the profile at a point. Where the rig names no curves the
// acceleration stays as it is now.
func (s *space) profile(x []float64) *scenarios.Profile {
	p := &scenarios.Profile{Name: "tuned"}
	var chosen []scenarios.Setting
	for i, g := range s.settings {
		chosen = append(chosen, scenarios.Setting{Key: g.key, Value: g.choices[pick(x[i], len(g.choices))]})
	}
	p.Settings = s.usable(chosen)
	p.Home, p.Acceleration = s.acceleration(x[len(s.settings):])
	if len(s.curves) == 0 {
		p.Home, p.Acceleration, p.PressCoarse = s.now.Home, s.now.Acceleration, s.now.PressCoarse
	}
	return p
}

// usable leaves out of some settings what the rig with them does not use and what
// it has anyhow, and adds what is set now besides.
func (s *space) usable(chosen []scenarios.Setting) []scenarios.Setting {
	for _, n := range s.now.Settings {
		if !slices.ContainsFunc(chosen, func(c scenarios.Setting) bool { return c.Key == n.Key }) {
			chosen = append(chosen, n)
		}
	}
	probe := s.knob.Inner.Rig
	for _, c := range chosen {
		if err := scenarios.Set(&probe, c.Key, c.Value); err != nil {
			continue // Apply says so
		}
	}
	used := scenarios.Keys(&probe)
	var list []scenarios.Setting
	for _, c := range chosen {
		if slices.Contains(used, c.Key) && scenarios.Get(&s.knob.Inner.Rig, c.Key) != c.Value {
			list = append(list, c)
		}
	}
	return list
}

// kinds is how many kinds of acceleration there are, with none.
func (s *space) kinds() int {
	if s.always {
		return len(s.curves)
	}
	return len(s.curves) + 1
}

// acceleration returns where an acceleration lives and what it is: none, or one of
// the curves, each with three numbers at most.
func (s *space) acceleration(x []float64) (scenarios.Home, accel.Acceleration) {
	home := s.homes[pick(x[atHome], len(s.homes))]
	n := pick(x[atCurve], s.kinds())
	if n == len(s.curves) {
		return encoder.InProgram, accel.Acceleration{}
	}
	between := func(low, high, x float64) float64 { return neat(low * math.Pow(high/low, x)) }
	rate, gain := between(4, 25, x[atRate]), between(2, 60, x[atGain])
	if home == encoder.InFirmware { // every step is a pulse of its own there
		gain = between(1.2, 20, x[atGain])
	}
	a := accel.Acceleration{}
	switch s.curves[n] {
	case "constant":
		a.Curve = accel.Constant{Gain: math.Round(20*math.Pow(60, x[atGain])) / 20} // a far target notices a twentieth
	case "ladder":
		steps := []accel.Step{{Above: rate, Gain: gain}}
		if x[atBend] < 0.8 { // a step between
			least := min(1.5, 1+(gain-1)/3)
			steps = []accel.Step{{Above: rate, Gain: between(least, max(1.05*least, gain/1.2), x[atBend]/0.8)}, {Above: neat(1.7 * rate), Gain: gain}}
		}
		a.Curve = accel.Ladder{Steps: steps, Hysteresis: 0.15}
	case "linear":
		a.Curve = accel.Linear{Per: rate, Factor: between(0.5, 20, x[atBend]), Cap: gain}
	case "power":
		a.Curve = accel.Power{At: rate, Factor: neat(gain / 2), Exponent: between(0.7, 5, x[atBend]), Cap: gain}
	case "logistic":
		a.Curve = accel.Logistic{Low: 1, High: gain, At: rate, Width: between(0.5, 6, x[atBend])}
	case "table":
		a.Curve = accel.Table{Points: []accel.Point{{Rate: neat(rate * between(0.3, 0.9, x[atBend])), Gain: 1}, {Rate: rate, Gain: gain}}}
	}
	for !s.tame(a.Curve) {
		a.Curve = neater(faster(a.Curve, 1.2))
	}
	return home, a
}

// clickByClick is a rate at which nobody means to be in a hurry.
const clickByClick = 5

// tame says whether a curve leaves slow clicks small enough to hit the target with. A
// person whose clicks are too large creeps, and overshoots little: a search for that
// would end at curves that nobody wants. A constant gain has no slow clicks.
func (s *space) tame(c accel.Curve) bool {
	if _, constant := c.(accel.Constant); constant || c == nil {
		return true
	}
	return c.Of(clickByClick) <= s.slow
}

// neat rounds to two digits: what a person would write into a file.
func neat(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 2, 64), 64)
	if err != nil {
		panic(err) // it was a number before
	}
	return y
}

// scaled returns a curve whose gain above 1 is multiplied, for what a little more
// or less of it does.
func scaled(c accel.Curve, by float64) accel.Curve {
	up := func(g float64) float64 { return math.Min(accel.MaxGain, 1+float64((g-1)*by)) }
	switch c := c.(type) {
	case accel.Constant:
		return accel.Constant{Gain: up(c.Gain)}
	case accel.Ladder:
		c.Steps = slices.Clone(c.Steps)
		for i := range c.Steps {
			c.Steps[i].Gain = up(c.Steps[i].Gain)
		}
		return c
	case accel.Linear:
		c.Factor, c.Cap = c.Factor*by, up(c.Cap)
		return c
	case accel.Power:
		c.Factor, c.Cap = c.Factor*by, up(c.Cap)
		return c
	case accel.Logistic:
		c.Low, c.High = up(c.Low), up(c.High)
		return c
	case accel.Table:
		c.Points = slices.Clone(c.Points)
		for i := range c.Points {
			c.Points[i].Gain = up(c.Points[i].Gain)
		}
		return c
	}
	return c
}
