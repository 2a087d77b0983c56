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
	kind := accel.Curves()[slices.Index(accel.CurveWords(), s.curves[n])]
	rate, gain := between(4, 25, x[atRate]), between(2, 60, x[atGain])
	switch {
	case kind.Flat():
		gain = math.Pow(60, x[atGain])
	case home == encoder.InFirmware: // every step is a pulse of its own there
		gain = between(1.2, 20, x[atGain])
	}
	a := accel.Acceleration{Curve: neater(kind.Rising(rate, gain, x[atBend]))}
	for !s.tame(a.Curve) {
		a.Curve = neater(faster(a.Curve, 1.2))
	}
	return home, a
}

// clickByClick is a rate at which nobody means to be in a hurry.
const clickByClick = 5

// tame says whether a curve leaves slow clicks small enough to hit the target with. A
// person whose clicks are too large creeps, and overshoots little: a search for that
// would end at curves that nobody wants. A flat one has no slow clicks.
func (s *space) tame(c accel.Curve) bool {
	if accel.KindOf(c).Flat() {
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
	return accel.Changed(c, func(p accel.Parameter, v float64) float64 {
		switch {
		case !p.Has(accel.GainRole):
			return v
		case p.Quantity == accel.Added:
			return v * by
		}
		return math.Min(accel.MaxGain, 1+float64((v-1)*by))
	})
}
