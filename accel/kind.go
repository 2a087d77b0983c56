package accel

import (
	"fmt"
	"slices"
)

// Kind is what there is to know about one kind of curve. Files, schemas, templates,
// exports and the search for settings go by it and know no curve by name.
type Kind struct {
	Word    string // in a profile file: "power"
	Formula string // the factor on the base, in the words of its parameters

	Rows       *Rows // nil: none
	Parameters []Parameter

	Default Curve // what keys that are left out stand for; rows are never left out
	Example Curve // one to start from

	// Rising returns the curve of this kind that rises to a gain (2 to 60, or 1 for
	// none) about a rate in detents per second, with a bend from 0 to 1 between the
	// ends of what people use. The numbers are not rounded.
	Rising func(rate, gain, bend float64) Curve

	is   func(Curve) bool
	rule func(Curve, *Faults) // between parameters that are each within their bounds
}

// Parameter is one number of a curve.
type Parameter struct {
	Word     string // in a profile file: "exponent"
	About    string // one line, for schemas
	Quantity Quantity
	Role     Role

	Low, High float64
	Above     bool // Low itself is too small

	of  func(Curve) float64
	set func(Curve, float64) Curve
}

// Rows are the corners of a curve that has a list of them, each a rate and a gain.
// Rates rise, gains do not fall. There are 1 to MaxSteps.
type Rows struct {
	Word       string // in a profile file: "steps"
	Rate, Gain Parameter
	FromRest   bool // the first may stand at rate 0, where the gain is 1

	Of   func(Curve) [][2]float64        // rate, gain
	With func(Curve, [][2]float64) Curve // the curve with other rows
}

// Quantity is what kind of number a parameter is.
type Quantity uint8

// The quantities.
const (
	Number    Quantity = iota // without a unit
	Factor                    // on the base; 1 is no acceleration
	Added                     // to the factor; 0 is no acceleration
	PerSecond                 // detents per second
	Share                     // of 1
)

// Role is what a parameter does to the curve; it may do two things.
type Role uint8

// The roles. A parameter without any is left alone by a search.
const (
	RateRole Role = 1 << iota // at which rate the gain rises
	GainRole                  // how far it rises
	BendRole                  // how suddenly: more so with a larger number, or with a smaller one if it is PerSecond
)

// Has reports whether the role is among the parameter's.
func (p Parameter) Has(r Role) bool { return p.Role&r != 0 }

// Of returns the parameter of a curve of its kind.
func (p Parameter) Of(c Curve) float64 { return p.of(c) }

// With returns the curve with another value of the parameter.
func (p Parameter) With(c Curve, v float64) Curve { return p.set(c, v) }

// parameter describes a number of curves of type T.
func parameter[T Curve](word, about string, q Quantity, r Role, low, high float64, at func(*T) *float64) Parameter {
	return Parameter{
		Word: word, About: about, Quantity: q, Role: r, Low: low, High: high,
		of: func(c Curve) float64 {
			v := c.(T)
			return *at(&v)
		},
		set: func(c Curve, x float64) Curve {
			v := c.(T)
			*at(&v) = x
			return v
		},
	}
}

// above makes the lower bound one that is itself too small.
func (p Parameter) above() Parameter {
	p.Above = true
	return p
}

// described completes the description of curves of type T.
func described[T Curve](k Kind) *Kind {
	k.is = func(c Curve) bool {
		_, ok := c.(T)
		return ok
	}
	return &k
}

// Curves returns every kind of curve, in the order in which they are told.
func Curves() []*Kind { return slices.Clone(kinds) }

// CurveWords returns the words for the curves of a profile file.
func CurveWords() []string {
	var words []string
	for _, k := range kinds {
		words = append(words, k.Word)
	}
	return words
}

// KindOf returns what kind a curve is; nil is a Constant. It returns nil for what
// is no curve of this package, by value.
func KindOf(c Curve) *Kind {
	if c == nil {
		return constants
	}
	for _, k := range kinds {
		if k.is(c) {
			return k
		}
	}
	return nil
}

// Flat reports whether the gain is one at every rate.
func (k *Kind) Flat() bool {
	return k.Rows == nil && !slices.ContainsFunc(k.Parameters, func(p Parameter) bool { return p.Has(RateRole) })
}

// Changed returns a curve whose numbers, those of its rows among them, a function
// has changed. A nil curve stays nil.
func Changed(c Curve, change func(p Parameter, v float64) float64) Curve {
	if c == nil {
		return nil
	}
	k := KindOf(c)
	if k.Rows != nil {
		rows := k.Rows.Of(c)
		for i := range rows {
			rows[i] = [2]float64{change(k.Rows.Rate, rows[i][0]), change(k.Rows.Gain, rows[i][1])}
		}
		c = k.Rows.With(c, rows)
	}
	for _, p := range k.Parameters {
		c = p.With(c, change(p, p.Of(c)))
	}
	return c
}

// check demands that every number lies within its bounds, and what is asked of
// several together.
func (k *Kind) check(c Curve, f *Faults) {
	before, field := len(*f), "curve."+k.Word+"."
	if k.Rows != nil {
		k.Rows.check(k.Rows.Of(c), field+k.Rows.Word, f)
	}
	for _, p := range k.Parameters {
		p.check(field+p.Word, p.Of(c), p.Low, f)
	}
	if k.rule != nil && len(*f) == before {
		k.rule(c, f)
	}
}

// check demands that a value is within the parameter's bounds, and not below low.
func (p Parameter) check(field string, v, low float64, f *Faults) {
	if p.Above {
		f.rising(field, v, low, p.High)
	} else {
		f.within(field, v, low, p.High)
	}
}

func (r *Rows) check(rows [][2]float64, field string, f *Faults) {
	f.count(field, len(rows), 1, MaxSteps)
	rate, gain := r.Rate.Low, r.Gain.Low
	for i, row := range rows {
		at := fmt.Sprintf("%s[%d].", field, i)
		if i == 0 && row[0] == 0 && r.FromRest {
			f.within(at+r.Gain.Word, row[1], 1, 1)
			continue
		}
		r.Rate.check(at+r.Rate.Word, row[0], rate, f)
		r.Gain.check(at+r.Gain.Word, row[1], gain, f)
		rate, gain = max(rate, row[0]), max(gain, row[1])
	}
}
