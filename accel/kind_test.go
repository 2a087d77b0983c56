package accel_test

import (
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"dialwright/accel"
)

// Whatever type has Of is among Curves, and tells of each of its fields.
func TestEveryCurveDescribesItself(t *testing.T) {
	var told []string
	for _, k := range accel.Curves() {
		of := reflect.TypeOf(k.Default)
		told = append(told, of.Name())
		fields := len(k.Parameters)
		if k.Rows != nil {
			fields++
		}
		if of.NumField() != fields {
			t.Errorf("%s has %d fields and tells of %d", k.Word, of.NumField(), fields)
		}
		if k.Formula == "" || k.Word == "" || accel.KindOf(k.Default) != k || accel.KindOf(k.Example) != k {
			t.Errorf("%+v", k)
		}
	}
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, name := range files {
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			m, ok := d.(*ast.FuncDecl)
			if !ok || m.Recv == nil || m.Name.Name != "Of" || len(m.Type.Params.List) != 1 {
				continue
			}
			if arg, ok := m.Type.Params.List[0].Type.(*ast.Ident); !ok || arg.Name != "float64" {
				continue
			}
			found++
			if of := m.Recv.List[0].Type.(*ast.Ident).Name; !slices.Contains(told, of) {
				t.Errorf("%s is a curve and not among Curves", of)
			}
		}
	}
	if found != len(told) {
		t.Errorf("%d types have Of, %d are told", found, len(told))
	}
	if accel.KindOf(nil).Word != "constant" || accel.KindOf(&accel.Power{}) != nil {
		t.Error("no curve is a constant one, and a pointer is no curve")
	}
}

// Parameters are numbers of their own: setting one changes it and no other.
func TestAParameterIsOneNumber(t *testing.T) {
	for _, k := range accel.Curves() {
		words := map[string]bool{}
		for i, p := range k.Parameters {
			c := p.With(k.Example, 3.25)
			for j, q := range k.Parameters {
				if got := q.Of(c); i == j && got != 3.25 || i != j && got != q.Of(k.Example) {
					t.Errorf("%s.%s set to 3.25: %s is %g", k.Word, p.Word, q.Word, got)
				}
			}
			if words[p.Word] || p.Word == "" || p.About == "" || p.Low >= p.High {
				t.Errorf("%s: %+v", k.Word, p)
			}
			words[p.Word] = true
		}
		if k.Rows == nil {
			continue
		}
		rows := [][2]float64{{3, 2}, {4, 2.5}, {7, 9}}
		c := k.Rows.With(k.Example, rows)
		if got := k.Rows.Of(c); !reflect.DeepEqual(got, rows) {
			t.Errorf("%s: %v", k.Word, got)
		}
		for _, p := range k.Parameters {
			if p.Of(c) != p.Of(k.Example) {
				t.Errorf("%s: other %s, other %s", k.Word, k.Rows.Word, p.Word)
			}
		}
	}
}

// What a file leaves out: the values that the interface states.
func TestDefaultsOfCurves(t *testing.T) {
	want := map[string]accel.Curve{
		"constant": accel.Constant{Gain: 1},
		"ladder":   accel.Ladder{Hysteresis: 0.15},
		"linear":   accel.Linear{Per: 10, Factor: 3, Cap: 10},
		"power":    accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10},
		"logistic": accel.Logistic{Low: 1, High: 10, At: 12, Width: 3},
		"table":    accel.Table{},
	}
	for _, k := range accel.Curves() {
		if w, ok := want[k.Word]; ok && !reflect.DeepEqual(k.Default, w) {
			t.Errorf("%s: %+v, want %+v", k.Word, k.Default, w)
		}
		if _, err := (accel.Acceleration{Curve: k.Default}).Compile(); err != nil && k.Rows == nil {
			t.Errorf("the default of %s: %v", k.Word, err)
		}
		if _, err := (accel.Acceleration{Curve: k.Example}).Compile(); err != nil {
			t.Errorf("the example of %s: %v", k.Word, err)
		}
	}
}

// A parameter takes its bounds, and nothing beyond them.
func TestParametersHoldTheirBounds(t *testing.T) {
	for _, k := range accel.Curves() {
		for _, p := range k.Parameters {
			for _, x := range []struct {
				v    float64
				good bool
			}{
				{p.Low, !p.Above}, {math.Nextafter(p.Low, -1), false}, {math.Nextafter(p.High, 1e9), false}, {math.NaN(), false}, {math.Inf(1), false},
				{(p.Low + p.High) / 2, true}, {p.High, true},
			} {
				c := k.Example
				if accel.KindOf(c).Word == "logistic" { // whose two gains have an order
					c = accel.Logistic{Low: 1, High: accel.MaxGain, At: 12, Width: 3}
				}
				_, err := accel.Acceleration{Curve: p.With(c, x.v)}.Compile()
				var f accel.Faults
				if x.good == (err != nil) || err != nil && (!errors.As(err, &f) || f[0].Field != "curve."+k.Word+"."+p.Word) {
					t.Errorf("%s.%s %g: %v", k.Word, p.Word, x.v, err)
				}
			}
		}
	}
}

// Rows rise from the lowest to the highest, one at each bound.
func TestRowsHoldTheirBounds(t *testing.T) {
	for _, k := range accel.Curves() {
		r := k.Rows
		if r == nil {
			continue
		}
		field := "curve." + k.Word + "." + r.Word
		long := func(n int) (rows [][2]float64) {
			for i := range n {
				rows = append(rows, [2]float64{float64(i + 1), float64(i + 2)})
			}
			return rows
		}
		for _, x := range []struct {
			rows  [][2]float64
			fault string
		}{
			{[][2]float64{{r.Rate.High, r.Gain.High}}, ""},
			{[][2]float64{{math.Nextafter(r.Rate.High, 1e9), 2}}, field + "[0]." + r.Rate.Word},
			{[][2]float64{{5, math.Nextafter(r.Gain.High, 1e9)}}, field + "[0]." + r.Gain.Word},
			{[][2]float64{{5, 1}, {6, 1}}, ""},
			{[][2]float64{{5, 0.99}}, field + "[0]." + r.Gain.Word},
			{[][2]float64{{-1, 2}}, field + "[0]." + r.Rate.Word},
			{[][2]float64{{5, 2}, {0, 2}}, field + "[1]." + r.Rate.Word},
			{[][2]float64{{5, 2}, {5, 2}}, field + "[1]." + r.Rate.Word},
			{[][2]float64{{5, 2}, {6, 2}, {7, 1.5}}, field + "[2]." + r.Gain.Word},
			{long(accel.MaxSteps), ""},
			{long(accel.MaxSteps + 1), field},
			{nil, field},
		} {
			_, err := accel.Acceleration{Curve: r.With(k.Example, x.rows)}.Compile()
			var f accel.Faults
			if (err == nil) != (x.fault == "") || err != nil && (!errors.As(err, &f) || f[0].Field != x.fault) {
				t.Errorf("%s %v: %v, want a fault of %q", k.Word, x.rows, err, x.fault)
			}
		}
		_, err := accel.Acceleration{Curve: r.With(k.Example, [][2]float64{{0, 1}, {5, 2}})}.Compile()
		if r.FromRest != (err == nil) {
			t.Errorf("%s from rest: %v", k.Word, err)
		}
	}
}

// A search's three numbers make a curve of every kind: usable, 1 at rest, no higher
// than was asked for, and higher for more gain, later for a higher rate.
func TestACurveRisesAsItIsAskedTo(t *testing.T) {
	for _, k := range accel.Curves() {
		for rate := 4.0; rate <= 25; rate += 3 {
			for _, gain := range []float64{1.2, 2, 7.5, 60} {
				for bend := 0.0; bend <= 1; bend += 0.125 {
					c := k.Rising(rate, gain, bend)
					if _, err := (accel.Acceleration{Curve: c}).Compile(); err != nil || accel.KindOf(c) != k {
						t.Fatalf("%s rising at %g to %g, bend %g: %+v, %v", k.Word, rate, gain, bend, c, err)
					}
					higher, later := k.Rising(rate, 1.5*gain, bend), k.Rising(1.5*rate, gain, bend)
					for at := 0.0; at <= 100; at++ {
						got := c.Of(at)
						if at == 0 && got != 1 && !k.Flat() || got < 1 || got > gain {
							t.Fatalf("%+v gives %g at %g/s", c, got, at)
						}
						if higher.Of(at) < got-1e-9 || later.Of(at) > got+1e-9 {
							t.Fatalf("at %g/s %+v gives %g, %+v %g, %+v %g", at, c, got, higher, higher.Of(at), later, later.Of(at))
						}
					}
				}
			}
		}
		if c := k.Rising(12, 10, 0.5); !k.Flat() && c.Of(1000) < 5 {
			t.Errorf("%+v does not rise", c)
		}
	}
}

// Roles say what a number does: a later rate gives no more gain anywhere, a larger
// gain no less.
func TestNumbersDoWhatTheirRoleSays(t *testing.T) {
	for _, k := range accel.Curves() {
		later := accel.Changed(k.Example, func(p accel.Parameter, v float64) float64 {
			if p.Has(accel.RateRole) {
				v *= 1.25
			}
			return v
		})
		larger := accel.Changed(k.Example, func(p accel.Parameter, v float64) float64 {
			switch {
			case p.Has(accel.GainRole) && p.Quantity == accel.Factor:
				v = 1 + 1.25*(v-1)
			case p.Has(accel.GainRole):
				v *= 1.25
			}
			return v
		})
		moved, grown := false, false
		for at := 0.0; at <= 100; at += 0.5 {
			was := k.Example.Of(at)
			if later.Of(at) > was || larger.Of(at) < was {
				t.Errorf("%s at %g/s: %g, later %g, larger %g", k.Word, at, was, later.Of(at), larger.Of(at))
			}
			if !k.Flat() && at > 0 && math.Abs(later.Of(1.25*at)-was) > 1e-9 && k.Word != "logistic" { // whose width stays
				t.Errorf("%s: %g at %g/s, but later %g at %g/s", k.Word, was, at, later.Of(1.25*at), 1.25*at)
			}
			if math.Abs(larger.Of(at)-1-1.25*(was-1)) > 1e-9 {
				t.Errorf("%s at %g/s: %g, larger %g", k.Word, at, was, larger.Of(at))
			}
			moved, grown = moved || later.Of(at) < was, grown || larger.Of(at) > was
		}
		if moved == k.Flat() || !grown {
			t.Errorf("%s: later %v, larger %v", k.Word, moved, grown)
		}
	}
}

func TestChangedLeavesTheCurveItCameFrom(t *testing.T) {
	double := func(_ accel.Parameter, v float64) float64 { return 2 * v }
	if accel.Changed(nil, double) != nil {
		t.Error("no curve was changed into one")
	}
	for _, k := range accel.Curves() {
		before := accel.Changed(k.Example, func(_ accel.Parameter, v float64) float64 { return v })
		if !reflect.DeepEqual(before, k.Example) {
			t.Errorf("%+v unchanged is %+v", k.Example, before)
		}
		if c := accel.Changed(k.Example, double); reflect.DeepEqual(c, before) || !reflect.DeepEqual(k.Example, before) {
			t.Errorf("%+v doubled is %+v", before, c)
		}
	}
}
