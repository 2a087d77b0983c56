package accel_test

import (
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/testdata/golden"
)

const ms = time.Millisecond

// settled is how many of the curves are held to the byte and to their bounds. A new
// one comes behind them, and may change until somebody has it in a firmware.
const settled = 6

// The limits that the package states.
func TestLimits(t *testing.T) {
	got := []any{accel.MaxGain, accel.MaxBase, accel.MaxRate, accel.MaxSteps, accel.MinRest, accel.MaxRest}
	if want := []any{255, 4096, 1000, 63, 10 * ms, 5 * time.Second}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	bounds := ""
	for _, k := range accel.Curves()[:settled] {
		list := k.Parameters
		if k.Rows != nil {
			list = append([]accel.Parameter{k.Rows.Rate, k.Rows.Gain}, list...)
		}
		for _, p := range list {
			above := ""
			if p.Above {
				above = "above "
			}
			bounds += fmt.Sprintf("%s.%s %s%g–%g\n", k.Word, p.Word, above, p.Low, p.High)
		}
	}
	if want := `constant.gain 1–255
ladder.above above 0–999
ladder.gain 1–255
ladder.hysteresis 0–0.9
linear.per above 0–1000
linear.factor 0–255
linear.cap 1–255
power.at above 0–1000
power.factor 0–255
power.exponent above 0–10
power.cap 1–255
logistic.low 1–255
logistic.high 1–255
logistic.at above 0–1000
logistic.width above 0–1000
table.rate above 0–1000
table.gain 1–255
`; bounds != want {
		t.Errorf("bounds\n%s", bounds)
	}
}

func TestWordsOfAProfileFile(t *testing.T) {
	got := fmt.Sprint(accel.Last, accel.Average, accel.Window, accel.From(3), accel.Reset, accel.Keep, accel.Reversal(2), accel.Carry, accel.Round, accel.Steps(2))
	if want := "last average window unknown reset keep unknown carry round unknown"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// What is left out is what the comments state.
func TestZeroMeansTheDefault(t *testing.T) {
	for _, from := range []accel.From{accel.Last, accel.Average, accel.Window} {
		full := accel.Acceleration{Tick: ms, Base: 1, Curve: power, Rate: accel.Rate{From: from, Rest: 400 * ms}}
		switch from {
		case accel.Average:
			full.Rate.Over = 120 * ms
		case accel.Window:
			full.Rate.Over = 200 * ms
		}
		if a, b := compile(t, accel.Acceleration{Curve: power, Rate: accel.Rate{From: from}}), compile(t, full); !reflect.DeepEqual(a, b) {
			t.Errorf("%v: %+v, written out %+v", from, a, b)
		}
	}
	if g := compile(t, accel.Acceleration{}); g.Flat != 256 || g.TicksPerSecond != 1000 || g.Rest != 400 {
		t.Errorf("%+v", g)
	}
}

// Values at the ends of their ranges compile, the next ones do not, and what is
// wrong is told once.
func TestEndsOfRanges(t *testing.T) {
	for _, x := range []struct {
		a     accel.Acceleration
		field string
	}{
		{accel.Acceleration{Base: accel.MaxBase}, ""},
		{accel.Acceleration{Landing: accel.MaxGain * accel.MaxBase}, ""},
		{accel.Acceleration{Landing: accel.MaxGain*accel.MaxBase + 1}, "landing.above: 1044481; 1 to 1044480 task steps, or none"},
		{accel.Acceleration{Rate: accel.Rate{Rest: accel.MaxRest}}, ""},
		{accel.Acceleration{Rate: accel.Rate{Rest: accel.MaxRest + ms}}, "rate.rest: 5.001s; 10ms to 5s"},
		{accel.Acceleration{Rate: accel.Rate{Rest: accel.MinRest}}, ""},
		{accel.Acceleration{Rate: accel.Rate{Rest: accel.MinRest - ms}}, "rate.rest: 9ms; 10ms to 5s"},
		{accel.Acceleration{Rate: accel.Rate{From: accel.Window, Over: 400 * ms}}, ""},
		{accel.Acceleration{Rate: accel.Rate{From: accel.Window, Over: 401 * ms}}, "rate.over: 401ms; 1ms to 400ms"},
		{accel.Acceleration{Rate: accel.Rate{From: accel.Average, Over: ms}}, ""},
		{accel.Acceleration{Rate: accel.Rate{From: accel.Average, Over: ms / 2}}, "rate.over: 500µs; 1ms to 400ms"},
		{accel.Acceleration{Rate: accel.Rate{From: accel.Window, Over: 300*ms + 1}}, "rate.over: 300.000001ms; a whole number of 1ms"},
		{accel.Acceleration{Rate: accel.Rate{Over: ms}}, "rate.over: 1ms, which rate from last does not use; leave it out, or take the rate from average or window"},
		{accel.Acceleration{Tick: 7 * time.Second}, "tick: 7s; 1ms or 1µs"},
		{accel.Acceleration{Base: -1}, "base: -1; 1 to 4096 task steps"},
		{accel.Acceleration{Curve: accel.Table{Points: []accel.Point{{Rate: 0, Gain: 2}}}}, "curve.table.points[0].gain: 2; 1"},
		{accel.Acceleration{Curve: accel.Ladder{Steps: make([]accel.Step, 64)}}, "curve.ladder.steps: 64 entries; 1 to 63 entries"},
	} {
		_, err := x.a.Compile()
		var f accel.Faults
		switch {
		case err == nil && x.field == "":
		case !errors.As(err, &f) || f[0].Error() != x.field || len(f) > 1 && x.a.Curve == nil:
			t.Errorf("%+v: %v, want %q", x.a, err, x.field)
		}
	}
}

// A rest fills 15 bits of an interval, and an interval counts ticks to the unit.
func TestRestLiesInTheUpperHalfOfFifteenBits(t *testing.T) {
	for rest := accel.MinRest; rest <= accel.MaxRest; rest += 31_397 * time.Microsecond {
		for _, tick := range []time.Duration{ms, time.Microsecond} {
			g := compile(t, accel.Acceleration{Tick: tick, Curve: power, Rate: accel.Rate{Rest: rest.Truncate(tick)}})
			if units := math.Ldexp(float64(g.Rest), g.Shift); units < 16384 || units >= 32768 {
				t.Fatalf("a rest of %v in ticks of %v is %g units", rest, tick, units)
			}
		}
	}
	for _, rest := range []time.Duration{16384, 32768, 65536, 32767, 16383} { // ticks of 1 µs
		g := compile(t, accel.Acceleration{Tick: time.Microsecond, Curve: power, Rate: accel.Rate{Rest: rest * time.Microsecond}})
		if units := math.Ldexp(float64(g.Rest), g.Shift); units < 16384 || units >= 32768 {
			t.Errorf("a rest of %d ticks is %g units", rest, units)
		}
	}
}

// The integers of a header in somebody's firmware do not change with a version of
// this program unless that is meant.
func TestCompiledIntegersAreAsTheyWere(t *testing.T) {
	var got strings.Builder
	for _, k := range accel.Curves()[:settled] {
		for _, from := range []accel.From{accel.Last, accel.Average, accel.Window} {
			for _, rest := range []time.Duration{40 * ms, 400 * ms, 5 * time.Second} {
				for i, c := range []accel.Curve{k.Example, k.Rising(17, 45, 0.9)} {
					tick := []time.Duration{ms, time.Microsecond}[i]
					over := map[accel.From]time.Duration{accel.Average: rest / time.Duration(4+36*i), accel.Window: rest / 2}[from]
					g := compile(t, accel.Acceleration{Tick: tick, Curve: c, Rate: accel.Rate{From: from, Rest: rest, Over: over}})
					sum := fnv.New64a()
					fmt.Fprint(sum, *g)
					fmt.Fprintf(&got, "%s %d, %v, rest %v: %d and %d knots, window %d, %x\n", k.Word, i, from, rest, len(g.Table), len(g.Remain), len(g.Spaced), sum.Sum64())
				}
			}
		}
	}
	golden.Check(t, "testdata/compiled.txt", got.String())
}

// Near a half of 1/256 a factor goes to the nearer side.
func TestAFactorGoesToTheNearer256th(t *testing.T) {
	for _, x := range []struct{ of65536, want int64 }{{65536 + 127, 256}, {65536 + 128, 257}, {65536 + 383, 257}, {65536 + 384, 258}} {
		if got, _ := compile(t, accel.Acceleration{Curve: accel.Constant{Gain: float64(x.of65536) / 65536}}).Constant(); got != x.want {
			t.Errorf("%d/65536: %d/256, want %d/256", x.of65536, got, x.want)
		}
	}
}

// Neither direction 0, nor a rate of nothing, nor a gap of less than nothing is an
// accident: each has the answer that the comments give.
func TestOddQuestionsHaveTheirAnswers(t *testing.T) {
	table, ladder := compile(t, accel.Acceleration{Curve: power}), compile(t, accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 1, Gain: 5}}}, Rate: accel.Rate{Rest: 5 * time.Second}})
	for _, g := range []*accel.Gain{table, ladder} {
		if gain, ok := g.Constant(); gain != 0 || ok {
			t.Errorf("a constant gain of %d/256, %v", gain, ok)
		}
		for rate, want := range map[float64]float64{0: 1, -5: 1, math.NaN(): 1, math.Inf(-1): 1, 0.1: 1} {
			if got := g.At(rate); got != want {
				t.Errorf("gain %g at %g/s, want %g", got, rate, want)
			}
		}
		if a, b := g.AtInterval(-7), g.AtInterval(0); a != b || a <= 256 {
			t.Errorf("%d/256 before 0, %d/256 at 0", a, b)
		}
		if got := g.RateOf(accel.Never); got != 0 {
			t.Errorf("never is %g/s", got)
		}
		var s, z accel.Memory
		for i := range int64(9) {
			if up, zero := g.Detent(&s, 40*i, +1, 0), g.Detent(&z, 40*i, int(i%2), 0); up != zero {
				t.Errorf("detent %d: %d steps up, %d in no direction", i, up, zero)
			}
		}
	}
	if got := ladder.At(0.9); got != 1 {
		t.Errorf("gain %g at 0.9/s", got)
	}
	if got := ladder.At(1.2); got != 5 {
		t.Errorf("gain %g at 1.2/s", got)
	}
	slow := compile(t, accel.Acceleration{Curve: accel.Linear{Per: 1, Factor: 10, Cap: 50}, Rate: accel.Rate{Rest: 5 * time.Second}})
	if got := slow.At(0.5); math.Abs(got-6) > 0.06 {
		t.Errorf("gain %g at 0.5/s, want 6", got)
	}
	flat := compile(t, accel.Acceleration{Base: 10, Landing: 10})
	if gain, ok := flat.Constant(); gain != 2560 || !ok {
		t.Errorf("a gain of 10 that need not land: %d/256, %v", gain, ok)
	}
}

// Below one detent a second a curve is what its formula says.
func TestCurvesBelowOneDetentASecond(t *testing.T) {
	for _, x := range []struct {
		c    accel.Curve
		want float64
	}{
		{accel.Power{At: 1, Factor: 4, Exponent: 2, Cap: 10}, 2},
		{accel.Logistic{Low: 2, High: 10, At: 0.5, Width: 3}, 6},
		{accel.Linear{Per: 1, Factor: 4, Cap: 10}, 3},
	} {
		if got := x.c.Of(0.5); math.Abs(got-x.want) > 1e-12 {
			t.Errorf("%+v gives %g at 0.5/s, want %g", x.c, got, x.want)
		}
		if got := x.c.Of(-1); got > 1 && accel.KindOf(x.c).Word != "linear" {
			t.Errorf("%+v gives %g at -1/s", x.c, got)
		}
	}
}

// What is carried is dropped to the last 1/256, at a reversal and at a landing.
func TestNothingIsLeftOfADroppedCarry(t *testing.T) {
	g := compile(t, accel.Acceleration{Curve: accel.Constant{Gain: 1 + 255.0/256}})
	var s accel.Memory
	if got := play(g, &s, 0, 0, []detent{{0, 1}, {10, -1}, {10, -1}}); !slices.Equal(got, []int64{1, 1, 2}) {
		t.Errorf("steps %v", got)
	}
	// A factor of 1.996 at 5/s; over 10/s it lands.
	g = compile(t, accel.Acceleration{Landing: 5, Curve: accel.Ladder{Steps: []accel.Step{{Above: 4, Gain: 1 + 255.0/256}, {Above: 10, Gain: 10}}}})
	s = accel.Memory{}
	if got := play(g, &s, 0, 0, []detent{{0, 1}, {200, 1}, {50, 1}, {200, 1}}); got[3] != 1 {
		t.Errorf("steps %v, want 1 after the landing", got)
	}
}

// Halves go up and what is just under a half goes down, rounded and landed alike.
func TestAHalfGoesUp(t *testing.T) {
	for _, x := range []struct {
		gain         float64
		round, lands int64
	}{{7 + 127.0/256, 7, 7}, {7.5, 8, 8}, {7 + 129.0/256, 8, 8}} {
		if got := compile(t, accel.Acceleration{Curve: accel.Constant{Gain: x.gain}, Steps: accel.Round}).Detent(new(accel.Memory), 0, 1, 0); got != x.round {
			t.Errorf("%g rounds to %d, want %d", x.gain, got, x.round)
		}
		if got := compile(t, accel.Acceleration{Curve: accel.Constant{Gain: x.gain}, Landing: 5}).Detent(new(accel.Memory), 0, 1, 0); got != x.lands {
			t.Errorf("%g lands on %d, want %d", x.gain, got, x.lands)
		}
	}
}

// A window remembers the 32 newest detents and forgets the older ones one by one.
func TestTheWindowForgetsItsOldest(t *testing.T) {
	g := compile(t, accel.Acceleration{
		Rate:  accel.Rate{From: accel.Window, Over: 200 * ms},
		Steps: accel.Round,
		Curve: accel.Linear{Per: 1, Factor: 1, Cap: 200},
	})
	var s accel.Memory
	var turn []detent
	for i := range 50 {
		turn = append(turn, detent{int64(4 + i%3), 1})
	}
	steps := play(g, &s, 0, 0, append(turn, detent{100, 1}, detent{90, 1}, detent{150, 1}))
	age, now := []int64{}, int64(0)
	var at []int64
	for _, d := range append(turn, detent{100, 1}, detent{90, 1}, detent{150, 1}) {
		now += d.gap
		n := 0
		for _, b := range at[max(0, len(at)-32):] {
			if now-b <= 200 {
				n++
			}
		}
		age = append(age, 1+5*int64(n))
		at = append(at, now)
	}
	if !slices.Equal(steps, age) {
		t.Errorf("steps\n%v, want\n%v", steps, age)
	}
}

// Detents that are farther apart than the window is long stand for rate 0, whose
// factor is 1 to the last 1/256.
func TestOutsideTheWindowTheFactorIsOne(t *testing.T) {
	g := compile(t, fractions(accel.Acceleration{Rate: accel.Rate{From: accel.Window, Over: 100 * ms}, Curve: power}))
	var s accel.Memory
	if got := play(g, &s, 0, 0, []detent{{0, 1}, {150, 1}, {399, 1}}); !slices.Equal(got, []int64{256, 256, 256}) {
		t.Errorf("gains %v in 1/256", got)
	}
	// A ladder that 32 detents in five seconds never climb remembers one of them.
	g = compile(t, accel.Acceleration{Rate: accel.Rate{From: accel.Window, Over: 5 * time.Second, Rest: 5 * time.Second}, Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}}}})
	if len(g.Spaced) != 2 {
		t.Errorf("%d places", len(g.Spaced))
	}
	s = accel.Memory{}
	for _, n := range play(g, &s, 0, 0, slices.Repeat([]detent{{10, 1}}, 40)) {
		if n != 1 {
			t.Errorf("%d steps", n)
		}
	}
}

// A curve that never leaves 1 needs no table, and one that does is not flat.
func TestACurveThatNeverRisesIsFlat(t *testing.T) {
	for _, k := range accel.Curves() {
		for _, gain := range []float64{1, 2, 3} {
			c := accel.Changed(k.Example, func(p accel.Parameter, v float64) float64 {
				if p.Quantity == accel.Factor {
					return gain
				}
				return v
			})
			if accel.KindOf(c).Word == "logistic" && gain > 1 {
				c = accel.Logistic{Low: 1, High: gain, At: 12, Width: 0.1}
			}
			if c.Of(accel.MaxRate) != gain {
				continue // nothing caps it
			}
			g, err := accel.Acceleration{Base: 3, Curve: c}.Compile()
			if err != nil {
				continue // a table starts at 1
			}
			if flat := gain == 1 || k.Flat(); flat != (g.Flat != 0) || flat && (g.Flat != uint32(3*256*gain) || g.Table != nil || g.Factor != nil) {
				t.Errorf("%+v: %+v", c, g)
			}
		}
	}
}

// A ladder's gain starts at exactly the base.
func TestUnderItsFirstStepALadderIsTheBase(t *testing.T) {
	g := compile(t, fractions(accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}}}}))
	var s accel.Memory
	if got := play(g, &s, 0, 0, []detent{{0, 1}, {200, 1}, {200, 1}, {100, 1}}); !slices.Equal(got, []int64{256, 256, 256, 1280}) {
		t.Errorf("gains %v in 1/256", got)
	}
}

// A ladder that a search asks for has a step between while it bends gently.
func TestTheStepsOfARisingLadder(t *testing.T) {
	for _, x := range []struct {
		rate, gain, bend float64
		want             []accel.Step
	}{
		{10, 12, 0, []accel.Step{{Above: 10, Gain: 1.5}, {Above: 17, Gain: 12}}},
		{10, 12, 0.4, []accel.Step{{Above: 10, Gain: math.Sqrt(15)}, {Above: 17, Gain: 12}}}, // half-way from 1.5 to 10
		{10, 12, 0.8, []accel.Step{{Above: 10, Gain: 12}}},
		{10, 1.6, 0, []accel.Step{{Above: 10, Gain: 1.2}, {Above: 17, Gain: 1.6}}},
		{10, 1.6, 0.4, []accel.Step{{Above: 10, Gain: math.Sqrt(1.2 * 1.6 / 1.2)}, {Above: 17, Gain: 1.6}}},
		{10, 1.2, 0.4, []accel.Step{{Above: 10, Gain: (1 + 0.2/3) * math.Sqrt(1.05)}, {Above: 17, Gain: 1.2}}},
	} {
		got := accel.Curves()[1].Rising(x.rate, x.gain, x.bend).(accel.Ladder)
		if len(got.Steps) != len(x.want) || got.Hysteresis != 0.15 {
			t.Fatalf("%+v: %+v", x, got)
		}
		for i, s := range got.Steps {
			if math.Abs(s.Above-x.want[i].Above) > 1e-9 || math.Abs(s.Gain-x.want[i].Gain) > 1e-9 {
				t.Errorf("%+v: %+v", x, got)
			}
		}
	}
}
