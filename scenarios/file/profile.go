package file

import (
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v4"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// profile reads the document as a profile.
func (d *document) profile() *scenarios.Profile {
	p := &scenarios.Profile{}
	top := &d.top
	p.Name = top.name()
	if s, ok := top.sub("settings"); ok {
		scratch := encoder.Default()
		for _, k := range append([]*yaml.Node(nil), s.keys...) {
			text, n := s.text(k.Value)
			if n == nil {
				continue
			}
			if err := scenarios.Set(&scratch, k.Value, text); err != nil {
				d.fault(n, s.path(k.Value), err)
			}
			p.Settings = append(p.Settings, scenarios.Setting{Key: k.Value, Value: text})
		}
	}
	if s, ok := top.sub("acceleration"); ok {
		d.acceleration(p, s)
	}
	if s, ok := top.sub("press"); ok {
		if s.whole("coarse", 2, 1_000_000, &p.PressCoarse) == nil {
			d.at(s.node, s.path("coarse"), "is missing; 10 would do")
		}
		s.end()
	}
	top.end()
	return p
}

func (d *document) acceleration(p *scenarios.Profile, s section) {
	a, before := &p.Acceleration, len(d.faults)
	p.Home = encoder.Home(s.word("home", homes...))
	base, landing := int64(0), int64(0)
	s.whole("base", 1, accel.MaxBase, &base)
	a.Base = int(base)
	a.Tick = tick(&s)
	if r, ok := s.sub("rate"); ok {
		a.Rate.From = accel.From(r.word("from", "last", "average", "window"))
		r.time("over", &a.Rate.Over)
		r.time("rest", &a.Rate.Rest)
		a.Rate.Reversal = accel.Reversal(r.word("reversal", "reset", "keep"))
		r.end()
	}
	a.Curve = d.curve(&s)
	a.Steps = accel.Steps(s.word("steps", "carry", "round"))
	if l, ok := s.sub("landing"); ok {
		if l.whole("above", 1, 1_000_000, &landing) == nil {
			d.at(l.node, l.path("above"), "is missing; 5 would do")
		}
		l.end()
	}
	a.Landing = int(landing)
	s.end()
	if len(d.faults) > before {
		return
	}
	if _, err := a.Compile(); err != nil {
		faults, ok := err.(accel.Faults)
		if !ok {
			d.at(s.node, "acceleration", "%v", err)
		}
		for _, f := range faults {
			d.at(find(s.node, f.Field), "acceleration."+f.Field, "%s; %s", f.Found, f.Want)
		}
	}
}

// tick reads the clock's unit.
func tick(s *section) time.Duration {
	if s.word("tick", "1ms", "1us") == 1 {
		return time.Microsecond
	}
	return 0
}

// curve reads one of the curves; nil is a constant gain of 1.
func (d *document) curve(s *section) accel.Curve {
	c, ok := s.sub("curve")
	if !ok {
		return nil
	}
	if len(c.keys) != 1 {
		d.at(c.node, c.field, "%d curves; one of %s would do", len(c.keys), strings.Join(scenarios.Curves(), ", "))
		return nil
	}
	defer c.end()
	must := func(s *section, key string, q scenarios.Quantity, to *float64) {
		if s.number(key, q, to) == nil {
			d.at(s.node, s.path(key), "is missing")
		}
	}
	for _, name := range scenarios.Curves() {
		v, ok := c.sub(name)
		if !ok {
			continue
		}
		defer v.end()
		switch x := standard[name].(type) {
		case accel.Constant:
			v.number("gain", scenarios.Fraction, &x.Gain)
			return x
		case accel.Ladder:
			v.number("hysteresis", scenarios.Share, &x.Hysteresis)
			for i, n := range v.must("steps") {
				e := d.section(n, v.path("steps")+"["+strconv.Itoa(i)+"]")
				var step accel.Step
				must(&e, "above", scenarios.Rate, &step.Above)
				must(&e, "gain", scenarios.Fraction, &step.Gain)
				e.end()
				x.Steps = append(x.Steps, step)
			}
			return x
		case accel.Linear:
			v.number("per", scenarios.Rate, &x.Per)
			v.number("factor", scenarios.Fraction, &x.Factor)
			v.number("cap", scenarios.Fraction, &x.Cap)
			return x
		case accel.Power:
			v.number("at", scenarios.Rate, &x.At)
			v.number("factor", scenarios.Fraction, &x.Factor)
			v.number("exponent", scenarios.Fraction, &x.Exponent)
			v.number("cap", scenarios.Fraction, &x.Cap)
			return x
		case accel.Logistic:
			v.number("low", scenarios.Fraction, &x.Low)
			v.number("high", scenarios.Fraction, &x.High)
			v.number("at", scenarios.Rate, &x.At)
			v.number("width", scenarios.Rate, &x.Width)
			return x
		case accel.Table:
			for i, n := range v.must("points") {
				e := d.section(n, v.path("points")+"["+strconv.Itoa(i)+"]")
				var point accel.Point
				must(&e, "rate", scenarios.Rate, &point.Rate)
				must(&e, "gain", scenarios.Fraction, &point.Gain)
				e.end()
				x.Points = append(x.Points, point)
			}
			return x
		}
	}
	return nil
}

// standard is what a curve is whose keys are left out. Steps and points are never
// left out.
var standard = map[string]accel.Curve{
	"constant": accel.Constant{Gain: 1},
	"ladder":   accel.Ladder{Hysteresis: 0.15},
	"linear":   accel.Linear{Per: 10, Factor: 3, Cap: 10},
	"power":    accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10},
	"logistic": accel.Logistic{Low: 1, High: 10, At: 12, Width: 3},
	"table":    accel.Table{},
}

// find returns the node of a dotted field, or the nearest above it.
func find(n *yaml.Node, field string) *yaml.Node {
	for _, name := range fieldNames(field) {
		next := (*yaml.Node)(nil)
		if i, err := strconv.Atoi(name); err == nil && n.Kind == yaml.SequenceNode && i < len(n.Content) {
			next = n.Content[i]
		}
		if n.Kind == yaml.MappingNode {
			for i := 0; i+1 < len(n.Content); i += 2 {
				if n.Content[i].Value == name {
					next = n.Content[i+1]
				}
			}
		}
		if next == nil {
			return n
		}
		n = next
	}
	return n
}

// fieldNames splits rate.rest or curve.ladder.steps[1].gain into its names.
func fieldNames(field string) []string {
	return strings.FieldsFunc(field, func(r rune) bool { return r == '.' || r == '[' || r == ']' })
}
