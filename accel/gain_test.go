package accel_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"dialwright/accel"

	"pgregory.net/rapid"
)

// detent is one detent of a test's turn. gap is in ticks since the one before.
type detent struct {
	gap int64
	dir int
}

// anyTurn draws detents as hands make them: quick ones, slow ones, rests, ties.
func anyTurn(t *rapid.T, g *accel.Gain) []detent {
	ms := g.TicksPerSecond / 1000
	gap := rapid.OneOf(
		rapid.Int64Range(0, 20*ms),
		rapid.Int64Range(15*ms, 150*ms),
		rapid.Int64Range(0, 2*int64(g.Rest)),
		rapid.SampledFrom([]int64{0, int64(g.Rest) - 1, int64(g.Rest), int64(g.Rest) + 1}),
	)
	dir := rapid.SampledFrom([]int{1, 1, 1, 1, 1, 1, -1})
	way := 1
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) detent {
		way *= dir.Draw(t, "turn")
		return detent{gap.Draw(t, "gap"), way}
	}), 1, 60).Draw(t, "detents")
}

// play returns the task steps of a turn's detents.
func play(g *accel.Gain, s *accel.Memory, now, value int64, turn []detent) (steps []int64) {
	for _, d := range turn {
		now += d.gap
		n := g.Detent(s, now, d.dir, value)
		value += int64(d.dir) * n
		steps = append(steps, n)
	}
	return steps
}

// anyCurve draws no curve, or one of any kind there is.
func anyCurve(t *rapid.T) accel.Curve {
	kinds := accel.Curves()
	n := rapid.IntRange(0, len(kinds)).Draw(t, "curve")
	if n == len(kinds) {
		return nil
	}
	k := kinds[n]
	c := k.Default
	if k.Rows != nil {
		var rows [][2]float64
		rate, gain := 0.0, 1.0
		for range rapid.IntRange(1, 6).Draw(t, k.Rows.Word) {
			rate += rapid.Float64Range(0.5, 30).Draw(t, "rate")
			gain = min(gain+rapid.Float64Range(0, 39).Draw(t, "gain"), accel.MaxGain)
			rows = append(rows, [2]float64{rate, gain})
		}
		c = k.Rows.With(c, rows)
	}
	for _, p := range k.Parameters {
		ends := map[accel.Quantity][2]float64{
			accel.Number: {0.2, 4}, accel.Factor: {1, 40}, accel.Added: {0, 40}, accel.PerSecond: {0.5, 30}, accel.Share: {0, 0.5},
		}[p.Quantity]
		with := p.With(c, rapid.Float64Range(max(p.Low, ends[0]), min(p.High, ends[1])).Draw(t, p.Word))
		if _, err := (accel.Acceleration{Curve: with}).Compile(); err == nil { // a rule between two of them may be broken
			c = with
		}
	}
	return c
}

func anyAcceleration(t *rapid.T) accel.Acceleration {
	ms := func(name string, from, to int) time.Duration {
		return time.Duration(rapid.IntRange(from, to).Draw(t, name)) * time.Millisecond
	}
	a := accel.Acceleration{
		Tick: rapid.SampledFrom([]time.Duration{0, time.Microsecond}).Draw(t, "tick"),
		Base: rapid.IntRange(0, 12).Draw(t, "base"),
		Rate: accel.Rate{
			From:     rapid.SampledFrom([]accel.From{accel.Last, accel.Average, accel.Window}).Draw(t, "from"),
			Rest:     ms("rest", 10, 2000),
			Reversal: rapid.SampledFrom([]accel.Reversal{accel.Reset, accel.Keep}).Draw(t, "reversal"),
		},
		Curve: anyCurve(t),
		Steps: rapid.SampledFrom([]accel.Steps{accel.Carry, accel.Round}).Draw(t, "whole"),
	}
	if a.Rate.From != accel.Last {
		a.Rate.Over = ms("over", 1, int(a.Rate.Rest/time.Millisecond))
	}
	return a
}

// fractions returns the same acceleration in task steps 256 times as small, each
// detent of which is therefore the gain in 1/256 of a step, whole.
func fractions(a accel.Acceleration) accel.Acceleration {
	a.Base = max(1, a.Base) * 256
	a.Steps = accel.Round
	a.Landing = 0
	return a
}

func TestTheZeroValueIsPlain(t *testing.T) {
	if !(accel.Acceleration{}).Plain() {
		t.Error("the zero acceleration is not plain")
	}
	for name, g := range map[string]*accel.Gain{"zero gain": {}, "compiled": compile(t, accel.Acceleration{})} {
		var s accel.Memory
		for i, at := range []int64{0, 0, 1, 30, 31, 5000, 5001} {
			if n := g.Detent(&s, at, 1-2*(i%2), 93); n != 1 {
				t.Errorf("%s: %d task steps at %d", name, n, at)
			}
		}
		if gain, ok := g.Constant(); gain != 256 || !ok || g.At(0) != 1 || g.At(30) != 1 {
			t.Errorf("%s: constant gain %d/256 (%v), at rest %g, at 30/s %g", name, gain, ok, g.At(0), g.At(30))
		}
	}
}

func TestPlainMeansOneStepADetent(t *testing.T) {
	for _, c := range []struct {
		a    accel.Acceleration
		want bool
	}{
		{accel.Acceleration{Base: 1, Curve: accel.Constant{Gain: 1}}, true},
		{accel.Acceleration{Curve: accel.Power{At: 15, Exponent: 1, Cap: 10}}, true},
		{accel.Acceleration{Curve: accel.Linear{Per: 10, Factor: 3, Cap: 1}}, true},
		{accel.Acceleration{Base: 5}, false},
		{accel.Acceleration{Landing: 1}, false},
		{accel.Acceleration{Curve: accel.Constant{Gain: 2}}, false},
		{accel.Acceleration{Curve: power}, false},
	} {
		if got := c.a.Plain(); got != c.want {
			t.Errorf("%+v: plain %v", c.a, got)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		g := compile(t, a)
		var s accel.Memory
		for i, n := range play(g, &s, 0, 0, anyTurn(t, g)) {
			if n < 1 || a.Plain() && n != 1 {
				t.Fatalf("detent %d: %d task steps", i, n)
			}
		}
	})
}

func TestAQuickerKnobNeverHasLessGain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := compile(t, fractions(anyAcceleration(t)))
		before := int64(math.MaxInt64)
		for gap := int64(0); gap <= int64(g.Rest); gap += max(1, int64(g.Rest)/1000) {
			now := g.AtInterval(gap)
			if now > before {
				t.Fatalf("%d/256 at %d ticks, but %d/256 just before", now, gap, before)
			}
			before = now
		}
		// Nor a quicker detent in the middle of any turn.
		var s accel.Memory
		turn := anyTurn(t, g)
		play(g, &s, 0, 0, turn)
		var now int64
		for _, d := range turn {
			now += d.gap
		}
		dir := turn[len(turn)-1].dir
		before = math.MaxInt64
		for gap := int64(0); gap <= int64(g.Rest); gap += max(1, int64(g.Rest)/300) {
			branch := s
			steps := g.Detent(&branch, now+gap, dir, 0)
			if steps > before {
				t.Fatalf("%d/256 after %d ticks, but %d/256 sooner", steps, gap, before)
			}
			before = steps
		}
	})
}

func TestASteadyKnobSettlesOnItsSteadyGain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		if a.Rate.From == accel.Average {
			a.Rate.Over = min(a.Rate.Over, 100*time.Millisecond) // to settle within the loop below
		}
		g := compile(t, fractions(a))
		gap := rapid.Int64Range(g.TicksPerSecond/200, int64(g.Rest)+10).Draw(t, "gap")
		var s accel.Memory
		var steps int64
		for i := range int64(2000) {
			steps = g.Detent(&s, i*gap, 1, 0)
		}
		if want := g.AtInterval(gap) / 256; steps != want {
			t.Fatalf("settled on %d/256, want %d/256", steps, want)
		}
		rate := float64(g.TicksPerSecond) / float64(gap)
		if got := g.At(rate) * 256; got != float64(256*steps) {
			t.Fatalf("At(%g) is %g/256, want %d/256", rate, got, 256*steps)
		}
	})
}

func TestCarryLosesAndInventsNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		a.Steps = accel.Carry
		g, exact := compile(t, a), compile(t, fractions(a))
		var s, es accel.Memory
		turn := anyTurn(t, g)
		steps, gains := play(g, &s, 0, 0, turn), play(exact, &es, 0, 0, turn)
		var sum int64 // gains minus steps since the last reversal, 1/256
		for i := range steps {
			if i > 0 && turn[i].dir != turn[i-1].dir {
				sum = 0
			}
			if sum += gains[i] - 256*steps[i]; sum < 0 || sum > 255 {
				t.Fatalf("detent %d: %d/256 task steps are owed", i, sum)
			}
		}
	})
}

func TestCarryKeepsTheLastOfTheFraction(t *testing.T) {
	const gain, detents = 331, 1000 // in 1/256
	g := compile(t, accel.Acceleration{Curve: accel.Constant{Gain: gain / 256.0}})
	var s accel.Memory
	var sum int64
	for range detents {
		sum += g.Detent(&s, 0, 1, 0)
	}
	if want := int64(gain * detents / 256); sum != want {
		t.Errorf("%d task steps, want %d", sum, want)
	}
}

func TestRoundTakesTheNearestWholeStep(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		a.Steps = accel.Round
		g, exact := compile(t, a), compile(t, fractions(a))
		var s, es accel.Memory
		turn := anyTurn(t, g)
		gains := play(exact, &es, 0, 0, turn)
		for i, n := range play(g, &s, 0, 0, turn) {
			if off := 256*n - gains[i]; off <= -128 || off > 128 {
				t.Fatalf("detent %d: %d task steps for a gain of %d/256", i, n, gains[i])
			}
		}
	})
}

func TestBothDirectionsAreMirrorImages(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		a.Landing = rapid.IntRange(0, 20).Draw(t, "landing")
		g := compile(t, a)
		turn := anyTurn(t, g)
		mirrored := slices.Clone(turn)
		for i := range mirrored {
			mirrored[i].dir *= -1
		}
		value := rapid.Int64Range(-1000, 1000).Draw(t, "value")
		var s, m accel.Memory
		if up, down := play(g, &s, 0, value, turn), play(g, &m, 0, -value, mirrored); !slices.Equal(up, down) {
			t.Fatalf("%v one way, %v the other", up, down)
		}
	})
}

// An exported header sees its tick counter modulo 2^32.
func TestOnlyDifferencesOfTimeMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := compile(t, anyAcceleration(t))
		turn := anyTurn(t, g)
		start := rapid.SampledFrom([]int64{-1 << 40, -100, 1<<32 - 300, 1<<32 - 100_000, 1 << 50}).Draw(t, "start")
		var s, l accel.Memory
		if early, late := play(g, &s, 0, 0, turn), play(g, &l, start, 0, turn); !slices.Equal(early, late) {
			t.Fatalf("%v from 0, %v from %d", early, late, start)
		}
	})
}

func TestAResetForgetsAndSoDoesARest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		rest := rapid.Bool().Draw(t, "by a rest")
		if rest {
			a.Steps = accel.Round // a carried fraction outlives a rest, not a reversal
		} else {
			a.Rate.Reversal = accel.Reset
		}
		g := compile(t, a)
		first, second := anyTurn(t, g), anyTurn(t, g)
		if rest {
			second[0].gap = int64(g.Rest)
		} else {
			first[len(first)-1].dir = -second[0].dir
		}
		var s, fresh accel.Memory
		got := play(g, &s, 0, 0, slices.Concat(first, second))[len(first):]
		if want := play(g, &fresh, 0, 0, second); !slices.Equal(got, want) {
			t.Fatalf("%v after a first turn, %v without one", got, want)
		}
	})
}

func TestKeepTakesTheFirstDetentAtTheOldEstimate(t *testing.T) {
	for _, c := range []struct {
		name string
		rate accel.Rate
		turn []detent
		want []int64
	}{
		// Linear {per 1/s, factor 1}: steps are 1 + rate.
		{"last", accel.Rate{}, []detent{{0, 1}, {50, 1}, {200, -1}, {100, -1}, {50, 1}, {40, 1}},
			[]int64{1, 21, 21, 11, 11, 26}},
		{"last, after a rest", accel.Rate{}, []detent{{0, 1}, {50, 1}, {400, -1}, {100, -1}},
			[]int64{1, 21, 1, 11}},
		// 1/(120+80) = 5/s; then (0.12·5 + 1)/(0.12+0.1) = 7.27/s, from the gap
		// since the reversal.
		{"average", accel.Rate{From: accel.Average}, []detent{{0, 1}, {80, 1}, {300, -1}, {100, -1}},
			[]int64{1, 6, 6, 8}},
		// Three earlier detents in 200 ms are 15/s. At the last detent the three
		// newest of either direction are in the window.
		{"window", accel.Rate{From: accel.Window}, []detent{{0, 1}, {50, 1}, {50, 1}, {50, 1}, {60, -1}, {60, -1}},
			[]int64{1, 6, 11, 16, 16, 16}},
	} {
		a := accel.Acceleration{Rate: c.rate, Steps: accel.Round, Curve: accel.Linear{Per: 1, Factor: 1, Cap: 200}}
		a.Rate.Reversal = accel.Keep
		var s accel.Memory
		if got := play(compile(t, a), &s, 0, 0, c.turn); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// From rest, (over·r + 1)/(over + Δ) has the closed form (1 − ρ^n)/Δ with
// ρ = over/(over + Δ).
func TestTheAverageRisesGeometrically(t *testing.T) {
	const over, gap = 120, 40
	g := compile(t, fractions(accel.Acceleration{
		Rate:  accel.Rate{From: accel.Average, Over: over * time.Millisecond},
		Curve: accel.Linear{Per: 1, Factor: 1, Cap: 200},
	}))
	var s accel.Memory
	for n := range 40 {
		got := float64(g.Detent(&s, int64(n*gap), 1, 0)) / 256
		want := 1 + 1000.0/gap*(1-math.Pow(over/float64(over+gap), float64(n)))
		if math.Abs(got-want)/want > 0.01 {
			t.Errorf("detent %d: gain %.3f, want %.3f", n, got, want)
		}
	}
}

// Whether the knob gets quicker or slower, a detent Δ after the one before makes
// (over·r + 1)/(over + Δ) of the rate r.
func TestTheAverageForgetsAtOneSpeedBothWays(t *testing.T) {
	const over = 120
	g := compile(t, fractions(accel.Acceleration{
		Rate:  accel.Rate{From: accel.Average, Over: over * time.Millisecond},
		Curve: accel.Linear{Per: 1, Factor: 1, Cap: 200},
	}))
	var s accel.Memory
	rate, now := 0.0, int64(0)
	for i, gap := range []int64{0, 20, 20, 20, 20, 100, 100, 100, 380, 10, 300, 40, 41, 39, 200} {
		if now += gap; i > 0 {
			rate = (over*rate + 1000) / float64(over+gap)
		}
		if got, want := float64(g.Detent(&s, now, 1, 0))/256, 1+rate; math.Abs(got-want)/want > 0.01 {
			t.Errorf("detent %d, %d ms after the one before: gain %.3f, want %.3f", i, gap, got, want)
		}
	}
}

func TestTheWindowCountsEarlierDetents(t *testing.T) {
	a := accel.Acceleration{
		Rate:  accel.Rate{From: accel.Window, Over: 200 * time.Millisecond},
		Steps: accel.Round,
		Curve: accel.Linear{Per: 1, Factor: 1, Cap: 200},
	}
	for _, c := range []struct {
		name string
		turn []detent
		want []int64
	}{
		{"one exactly as old as the window counts", []detent{{0, 1}, {200, 1}, {200, 1}}, []int64{1, 6, 6}},
		{"one older than the window does not", []detent{{0, 1}, {201, 1}, {201, 1}}, []int64{1, 1, 1}},
		{"they leave one by one", []detent{{0, 1}, {10, 1}, {10, 1}, {185, 1}, {199, 1}}, []int64{1, 6, 11, 11, 6}},
		{"a reversal empties it", []detent{{0, 1}, {10, 1}, {10, -1}, {10, -1}}, []int64{1, 6, 1, 6}},
		{"the cap makes it no longer than it need be", slices.Repeat([]detent{{0, 1}}, 50),
			slices.Concat([]int64{1, 6, 11, 16, 21, 26, 31, 36, 41, 46, 51, 56, 61, 66, 71, 76, 81, 86, 91, 96, 101, 106, 111, 116, 121,
				126, 131, 136, 141, 146, 151, 156}, slices.Repeat([]int64{161}, 18))},
	} {
		var s accel.Memory
		if got := play(compile(t, a), &s, 0, 0, c.turn); !slices.Equal(got, c.want) {
			t.Errorf("%s:\n%v, want\n%v", c.name, got, c.want)
		}
	}
	for gap, want := range map[int64]int64{0: 161, 50: 21, 66: 16, 67: 11, 100: 11, 200: 6, 201: 1} {
		if got := compile(t, a).AtInterval(gap); math.Abs(float64(got)/256/float64(want)-1) > 0.01 {
			t.Errorf("steady at %d ms: %d/256, want about %d", gap, got, want)
		}
	}
	a.Curve = accel.Linear{Per: 1, Factor: 1, Cap: 15}
	if n := len(compile(t, a).Spaced) - 1; n != 3 {
		t.Errorf("remembers %d detents, but three in 200 ms reach the cap", n)
	}
}

func TestALadderKeepsItsStepInsideTheHysteresis(t *testing.T) {
	a := accel.Acceleration{Curve: accel.Ladder{
		Steps:      []accel.Step{{Above: 10, Gain: 5}, {Above: 20, Gain: 10}},
		Hysteresis: 0.2,
	}}
	for _, c := range []struct {
		name string
		gaps []int64 // ms
		want []int64
	}{
		{"at the threshold it stays down", []int64{0, 100, 100}, []int64{1, 1, 1}},
		{"above it, it climbs", []int64{0, 99, 99}, []int64{1, 5, 5}},
		{"it stays up above 8/s", []int64{0, 99, 110, 124}, []int64{1, 5, 5, 5}},
		{"it leaves at 8/s", []int64{0, 99, 125, 110}, []int64{1, 5, 1, 1}},
		{"it climbs two steps at once", []int64{0, 49}, []int64{1, 10}},
		{"and falls one", []int64{0, 49, 62, 63, 62}, []int64{1, 10, 10, 5, 5}},
		{"and falls two", []int64{0, 49, 300}, []int64{1, 10, 1}},
		{"a rest puts it down", []int64{0, 99, 400, 110}, []int64{1, 5, 1, 1}},
	} {
		g := compile(t, a)
		var s accel.Memory
		var turn []detent
		for _, gap := range c.gaps {
			turn = append(turn, detent{gap, 1})
		}
		if got := play(g, &s, 0, 0, turn); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestLandingLandsOnMultiplesOfTheGainsSteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAcceleration(t)
		exact := compile(t, fractions(a))
		a.Landing = rapid.IntRange(1, 30).Draw(t, "landing")
		g := compile(t, a)
		value := rapid.Int64Range(-1000, 1000).Draw(t, "value")
		var s, es accel.Memory
		var now int64
		for _, d := range anyTurn(t, g) {
			now += d.gap
			gain := exact.Detent(&es, now, d.dir, 0)
			n := g.Detent(&s, now, d.dir, value)
			value += int64(d.dir) * n
			if gain <= int64(a.Landing)*256 {
				continue
			}
			if by := (gain + 128) / 256; value%by != 0 || n < 1 || n > by {
				t.Fatalf("went %d to %d by steps of %d", n, value, by)
			}
		}
	})
}

func TestLandingByHand(t *testing.T) {
	g := compile(t, accel.Acceleration{Base: 10, Landing: 9})
	for _, c := range []struct {
		value int64
		dir   int
		want  int64
	}{
		{93, 1, 100}, {100, 1, 110}, {93, -1, 90}, {90, -1, 80},
		{3, -1, 0}, {0, -1, -10}, {-3, -1, -10}, {-10, -1, -20}, {-13, 1, -10}, {-10, 1, 0}, {-3, 1, 0},
	} {
		var s accel.Memory
		if got := c.value + int64(c.dir)*g.Detent(&s, 0, c.dir, c.value); got != c.want {
			t.Errorf("from %d in direction %d to %d, want %d", c.value, c.dir, got, c.want)
		}
	}
	if _, ok := g.Constant(); ok {
		t.Error("a landing gain is called constant")
	}
	// What was carried is dropped: 1.75 at 5/s, a landing, 1.75 again.
	g = compile(t, accel.Acceleration{Landing: 5, Curve: accel.Table{Points: []accel.Point{{Rate: 5, Gain: 1.75}, {Rate: 10, Gain: 10}}}})
	var s accel.Memory
	if got, want := play(g, &s, 0, 91, []detent{{0, 1}, {200, 1}, {50, 1}, {200, 1}, {200, 1}}), []int64{1, 1, 7, 1, 2}; !slices.Equal(got, want) {
		t.Errorf("steps %v, want %v", got, want)
	}
	// At the limit itself it does not land.
	if n := compile(t, accel.Acceleration{Base: 10, Landing: 10}).Detent(new(accel.Memory), 0, 1, 93); n != 10 {
		t.Errorf("gain 10 with landing above 10 went %d", n)
	}
}

func TestAClockThatGoesBackIsARest(t *testing.T) {
	g := compile(t, accel.Acceleration{Curve: power})
	var s accel.Memory
	if got := []int64{g.Detent(&s, 1000, 1, 0), g.Detent(&s, 1020, 1, 0), g.Detent(&s, 1010, 1, 0), g.Detent(&s, 1010, 1, 0)}; !slices.Equal(got, []int64{1, 10, 1, 10}) {
		t.Errorf("steps %v", got)
	}
}

func TestTicksRoundDown(t *testing.T) {
	ms, us := compile(t, accel.Acceleration{}), compile(t, accel.Acceleration{Tick: time.Microsecond})
	for _, c := range []struct{ ns, ms, us int64 }{
		{0, 0, 0}, {999, 0, 0}, {1000, 0, 1}, {999_999, 0, 999}, {1_000_000, 1, 1000}, {-1, -1, -1}, {-1_000_000, -1, -1000}, {-1_000_001, -2, -1001},
	} {
		if a, b := ms.Ticks(c.ns), us.Ticks(c.ns); a != c.ms || b != c.us {
			t.Errorf("%d ns: %d ms, %d µs", c.ns, a, b)
		}
	}
}
