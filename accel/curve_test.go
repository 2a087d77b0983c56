package accel_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
)

func TestCurvesHaveTheirDefiningValues(t *testing.T) {
	ladder := accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}, {Above: 16, Gain: 10}}, Hysteresis: 0.15}
	table := accel.Table{Points: []accel.Point{{Rate: 10, Gain: 2}, {Rate: 20, Gain: 6}}}
	for _, c := range []struct {
		name       string
		curve      accel.Curve
		rate, want float64
	}{
		{"constant at rest", accel.Constant{Gain: 3}, 0, 3},
		{"constant", accel.Constant{Gain: 3}, 20, 3},
		{"ladder at rest", ladder, 0, 1},
		{"ladder at its threshold", ladder, 8, 1},
		{"ladder above it", ladder, 8.01, 5},
		{"ladder above the second", ladder, 100, 10},
		{"linear at rest", accel.Linear{Per: 10, Factor: 3, Cap: 10}, 0, 1},
		{"linear at its rate", accel.Linear{Per: 10, Factor: 3, Cap: 10}, 10, 4},
		{"linear at twice its rate", accel.Linear{Per: 10, Factor: 3, Cap: 10}, 20, 7},
		{"linear capped", accel.Linear{Per: 10, Factor: 3, Cap: 10}, 31, 10},
		{"power at rest", power, 0, 1},
		{"power at its rate", power, 15, 5},
		{"power at half its rate", power, 7.5, 2},
		{"power capped", power, 30, 10},
		{"logistic at rest", accel.Logistic{Low: 2, High: 10, At: 12, Width: 3}, 0, 1},
		{"logistic in its middle", accel.Logistic{Low: 2, High: 10, At: 12, Width: 3}, 12, 6},
		{"logistic ln 3 widths up", accel.Logistic{Low: 2, High: 10, At: 12, Width: 3}, 12 + 3*math.Log(3), 8},
		{"logistic far up", accel.Logistic{Low: 2, High: 10, At: 12, Width: 3}, 900, 10},
		{"table at rest", table, 0, 1},
		{"table before its first point", table, 5, 1.5},
		{"table on a point", table, 10, 2},
		{"table between points", table, 15, 4},
		{"table after its last point", table, 500, 6},
	} {
		if got := c.curve.Of(c.rate); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %g, want %g", c.name, got, c.want)
		}
	}
}

// curves are one of each kind that is compiled into a table.
var curves = []struct {
	name  string
	curve accel.Curve
}{
	{"linear", accel.Linear{Per: 10, Factor: 3, Cap: 10}},
	{"power", power},
	{"steep power", accel.Power{At: 15, Factor: 4, Exponent: 3, Cap: 200}},
	{"root", accel.Power{At: 15, Factor: 4, Exponent: 0.5, Cap: 50}},
	{"logistic", accel.Logistic{Low: 1, High: 10, At: 12, Width: 3}},
	{"sharp logistic", accel.Logistic{Low: 1, High: 100, At: 12, Width: 0.2}},
	{"wheel", wheel()},
}

func TestTablesAreWithinOnePercentOfTheirFormulas(t *testing.T) {
	for _, c := range curves {
		for _, a := range []accel.Acceleration{
			{Curve: c.curve},
			{Curve: c.curve, Tick: time.Microsecond},
			{Curve: c.curve, Rate: accel.Rate{From: accel.Average, Over: 400 * time.Millisecond}},
		} {
			g := compile(t, a)
			end := uint16(math.Ldexp(float64(g.Rest), g.Shift))
			if a.Rate.From == accel.Average { // the longest estimate is of rest and over together
				end += uint16(g.Over)
			}
			var worst, at float64
			for x := uint16(0); x < end; x++ {
				rate := min(g.RateOf(x), accel.MaxRate)
				want := c.curve.Of(rate)
				if off := math.Abs(float64(g.Table.At(x))/256-want) / want; off > worst {
					worst, at = off, rate
				}
			}
			if worst > 0.01 {
				t.Errorf("%s, %v: off by %.2f %% at %.1f/s", c.name, a.Rate.From, 100*worst, at)
			}
		}
	}
}

func TestGainsAreRoundedToTheNearest256th(t *testing.T) {
	for _, c := range []struct{ gain, want float64 }{{1, 256}, {1.5, 384}, {1 + 0.49/256, 256}, {1 + 0.5/256, 257}, {1 + 0.51/256, 257}, {255, 255 * 256}} {
		flat := compile(t, accel.Acceleration{Curve: accel.Constant{Gain: c.gain}})
		ladder := compile(t, accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 5, Gain: c.gain}}}})
		if got, _ := flat.Constant(); float64(got) != c.want {
			t.Errorf("constant %g: %d/256, want %g/256", c.gain, got, c.want)
		}
		if got := ladder.At(10) * 256; got != c.want {
			t.Errorf("ladder %g: %g/256, want %g/256", c.gain, got, c.want)
		}
	}
}

// The formula is that of Hinckley, Cutrell, Bathiche, Muss, "Quantitative
// analysis of scrolling techniques", CHI 2002.
func TestATableExpressesTheWheelStudysAcceleration(t *testing.T) {
	g := compile(t, accel.Acceleration{Tick: time.Microsecond, Curve: wheel()})
	for us := int64(2000); us < 300_000; us += 777 {
		dt := float64(us) / 1e6
		want := 1.0
		if dt < 0.1 {
			want = max(1, 4*math.Pow(1+8*dt, -2.5))
		}
		if got := float64(g.AtInterval(us)) / 256; math.Abs(got-want)/want > 0.01 {
			t.Errorf("%d µs: gain %.3f, want %.3f", us, got, want)
		}
	}
}

func TestTablesFallInPiecesOfPowersOfTwo(t *testing.T) {
	for _, c := range curves {
		for _, from := range []accel.From{accel.Last, accel.Average} {
			g := compile(t, accel.Acceleration{Curve: c.curve, Rate: accel.Rate{From: from}})
			tables := []accel.Falling{g.Table}
			if from == accel.Average {
				tables = append(tables, g.Remain)
			}
			for _, table := range tables {
				if len(table) < 2 || len(table) > 64 || table[0].At != 0 || table[len(table)-1].At != 0xffff {
					t.Fatalf("%s: %d knots, %v", c.name, len(table), table)
				}
				for i, k := range table[:len(table)-1] {
					next := table[i+1]
					end := uint32(next.At)
					if end == 0xffff {
						end++
					}
					if uint32(k.At)+1<<k.Shift != end || uint32(k.At)%(1<<k.Shift) != 0 || next.Value > k.Value {
						t.Errorf("%s: %v before %v", c.name, k, next)
					}
					if table.At(k.At) != k.Value {
						t.Errorf("%s: %d at the knot %v", c.name, table.At(k.At), k)
					}
				}
				for x, before := 0, uint16(0xffff); x < 0xffff; x++ {
					now := table.At(uint16(x))
					if now > before {
						t.Fatalf("%s: rises from %d to %d at %d", c.name, before, now, x)
					}
					before = now
				}
			}
		}
	}
}

func TestTheLargestGainFits(t *testing.T) {
	g := compile(t, accel.Acceleration{Base: accel.MaxBase, Curve: accel.Linear{Per: 1, Factor: accel.MaxGain, Cap: accel.MaxGain}})
	var s accel.Memory
	g.Detent(&s, 0, 1, 0)
	if got, want := g.Detent(&s, 0, 1, 0), int64(accel.MaxBase*accel.MaxGain); got != want {
		t.Errorf("%d task steps, want %d", got, want)
	}
}

func TestFaultsNameTheFieldAndWhatWouldDo(t *testing.T) {
	steps := func(s ...accel.Step) accel.Acceleration {
		return accel.Acceleration{Curve: accel.Ladder{Steps: s}}
	}
	points := func(p ...accel.Point) accel.Acceleration {
		return accel.Acceleration{Curve: accel.Table{Points: p}}
	}
	curve := func(c accel.Curve) accel.Acceleration { return accel.Acceleration{Curve: c} }
	rate := func(r accel.Rate) accel.Acceleration { return accel.Acceleration{Rate: r} }
	for _, c := range []struct {
		field string
		a     accel.Acceleration
	}{
		{"tick", accel.Acceleration{Tick: time.Second}},
		{"base", accel.Acceleration{Base: -1}},
		{"base", accel.Acceleration{Base: accel.MaxBase + 1}},
		{"rate.from", rate(accel.Rate{From: 3})},
		{"rate.over", rate(accel.Rate{Over: time.Second})},
		{"rate.over", rate(accel.Rate{From: accel.Average, Over: time.Second})},
		{"rate.over", rate(accel.Rate{From: accel.Window, Over: -1})},
		{"rate.over", rate(accel.Rate{From: accel.Window, Over: 1500 * time.Microsecond})},
		{"rate.rest", rate(accel.Rate{Rest: time.Minute})},
		{"rate.rest", rate(accel.Rate{Rest: -1})},
		{"rate.reversal", rate(accel.Rate{Reversal: 2})},
		{"steps", accel.Acceleration{Steps: 2}},
		{"landing.above", accel.Acceleration{Landing: -1}},
		{"curve", curve(&accel.Constant{Gain: 2})},
		{"curve.constant.gain", curve(accel.Constant{})},
		{"curve.constant.gain", curve(accel.Constant{Gain: 0.5})},
		{"curve.constant.gain", curve(accel.Constant{Gain: math.NaN()})},
		{"curve.constant.gain", curve(accel.Constant{Gain: math.Inf(1)})},
		{"curve.ladder.steps", steps()},
		{"curve.ladder.steps", steps(make([]accel.Step, 64)...)},
		{"curve.ladder.steps[0].above", steps(accel.Step{Above: 0, Gain: 2})},
		{"curve.ladder.steps[1].above", steps(accel.Step{Above: 9, Gain: 2}, accel.Step{Above: 9, Gain: 3})},
		{"curve.ladder.steps[1].gain", steps(accel.Step{Above: 9, Gain: 3}, accel.Step{Above: 10, Gain: 2})},
		{"curve.ladder.hysteresis", curve(accel.Ladder{Steps: []accel.Step{{Above: 9, Gain: 2}}, Hysteresis: 1})},
		{"curve.linear.per", curve(accel.Linear{Cap: 1})},
		{"curve.linear.factor", curve(accel.Linear{Per: 1, Factor: -1, Cap: 2})},
		{"curve.linear.cap", curve(accel.Linear{Per: 1, Factor: 1})},
		{"curve.power.at", curve(accel.Power{Factor: 1, Exponent: 1, Cap: 2})},
		{"curve.power.factor", curve(accel.Power{At: 1, Factor: math.NaN(), Exponent: 1, Cap: 2})},
		{"curve.power.exponent", curve(accel.Power{At: 1, Factor: 1, Cap: 2})},
		{"curve.power.cap", curve(accel.Power{At: 1, Factor: 1, Exponent: 1, Cap: 300})},
		{"curve.logistic.low", curve(accel.Logistic{Low: 0.5, High: 2, At: 1, Width: 1})},
		{"curve.logistic.high", curve(accel.Logistic{Low: 5, High: 2, At: 1, Width: 1})},
		{"curve.logistic.at", curve(accel.Logistic{Low: 1, High: 2, Width: 1})},
		{"curve.logistic.width", curve(accel.Logistic{Low: 1, High: 2, At: 1})},
		{"curve.table.points", points()},
		{"curve.table.points[0].gain", points(accel.Point{Rate: 0, Gain: 2})},
		{"curve.table.points[1].rate", points(accel.Point{Rate: 0, Gain: 1}, accel.Point{Rate: 0, Gain: 1})},
		{"curve.table.points[1].gain", points(accel.Point{Rate: 5, Gain: 4}, accel.Point{Rate: 6, Gain: 3})},
	} {
		g, err := c.a.Compile()
		var faults accel.Faults
		if !errors.As(err, &faults) || g != nil {
			t.Errorf("%s: %+v compiles (%v)", c.field, c.a, err)
			continue
		}
		if f := faults[0]; f.Field != c.field || f.Found == "" || f.Want == "" {
			t.Errorf("%s: got %q", c.field, f)
		}
	}
}

func TestEveryFaultIsReportedAtOnce(t *testing.T) {
	_, err := accel.Acceleration{
		Base: -1, Steps: 7, Rate: accel.Rate{From: 9, Rest: 1, Reversal: 9},
		Curve: accel.Power{At: -1, Factor: -1, Exponent: -1, Cap: -1}, Landing: -1,
	}.Compile()
	if err == nil || strings.Count(err.Error(), "\n")+1 != 10 {
		t.Errorf("want ten lines:\n%v", err)
	}
}
