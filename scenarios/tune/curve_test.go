package tune

import (
	"math"
	"reflect"
	"testing"

	"dialwright/accel"
)

// rising are curves of the six first kinds whose gain depends on the rate, well within
// the bounds. A new kind may have laws of its own.
func rising() (list []accel.Curve) {
	for _, k := range accel.Curves()[:6] {
		if !k.Flat() {
			list = append(list, k.Example, k.Rising(11, 7, 0.3))
		}
	}
	return list
}

func word(c accel.Curve) string { return accel.KindOf(c).Word }

// A scaled curve has so many times the gain above 1 at every rate, a flat one so many
// times its gain, at least 1; none goes beyond what a profile may ask for.
func TestAScaledCurveHasSoMuchMoreGainAtEveryRate(t *testing.T) {
	for _, c := range rising() {
		for _, by := range []float64{0.5, 1.2, 3} {
			for rate := 0.5; rate < 60; rate *= 1.3 {
				if got, want := scaled(c, by).Of(rate), 1+(c.Of(rate)-1)*by; math.Abs(got-want) > 1e-9*want {
					t.Errorf("%+v times %g at %.2f/s: gain %g, want %g", c, by, rate, got, want)
				}
			}
		}
		if got := scaled(c, 1e4).Of(accel.MaxRate); got != accel.MaxGain && word(c) != "linear" {
			t.Errorf("%+v times 10000 reaches %g", c, got)
		}
	}
	for by, want := range map[float64]float64{1.5: 4.5, 0.1: 1, 1000: accel.MaxGain} {
		if got := scaled(accel.Constant{Gain: 3}, by).Of(1); got != want {
			t.Errorf("3 times %g is %g, want %g", by, got, want)
		}
	}
}

// A faster curve has at a rate what it had at one so many times lower. (Of a logistic
// one that holds half-way; how wide it is stays.)
func TestAFasterCurveRisesAtHigherRates(t *testing.T) {
	for _, c := range rising() {
		for _, by := range []float64{0.5, 1.2, 3} {
			rates := []float64{1, 5, 9, 13, 17, 30, 50}
			if l, ok := c.(accel.Logistic); ok {
				rates = []float64{l.At}
			}
			for _, rate := range rates {
				if got, want := faster(c, by).Of(rate*by), c.Of(rate); math.Abs(got-want) > 1e-9*want {
					t.Errorf("%+v rising at rates times %g: %g at %g/s, want %g", c, by, got, rate*by, want)
				}
			}
		}
		if _, err := (accel.Acceleration{Curve: faster(c, 1e4)}).Compile(); err != nil && word(c) != "ladder" && word(c) != "table" { // whose rates would be equal
			t.Errorf("%+v at rates times 10000: %v", c, err)
		}
	}
	if c := (accel.Constant{Gain: 3}); faster(c, 2) != c || bent(c, 2) != c {
		t.Error("a constant gain depends on the rate")
	}
}

// A curve that is bent more leaves its ends where they are and is lower before it rises;
// a line, which has no bend, ends later.
func TestABentCurveRisesMoreSuddenly(t *testing.T) {
	for _, x := range []struct{ of, want accel.Curve }{
		{accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}, accel.Power{At: 15, Factor: 4, Exponent: 3, Cap: 10}},
		{accel.Logistic{Low: 1, High: 10, At: 12, Width: 3}, accel.Logistic{Low: 1, High: 10, At: 12, Width: 2}},
		{accel.Linear{Per: 10, Factor: 3, Cap: 9}, accel.Linear{Per: 10, Factor: 3, Cap: 13}},
		{accel.Linear{Per: 10, Factor: 3, Cap: 200}, accel.Linear{Per: 10, Factor: 3, Cap: accel.MaxGain}},
		{
			accel.Ladder{Steps: []accel.Step{{Above: 5, Gain: 4}, {Above: 9, Gain: 7}, {Above: 16, Gain: 10}}, Hysteresis: 0.15},
			accel.Ladder{Steps: []accel.Step{{Above: 5, Gain: 3}, {Above: 9, Gain: 5}, {Above: 16, Gain: 10}}, Hysteresis: 0.15},
		},
	} {
		if got := bent(x.of, 1.5); !reflect.DeepEqual(got, x.want) {
			t.Errorf("%+v bent: %+v, want %+v", x.of, got, x.want)
		}
	}
	l := bent(accel.Ladder{Steps: []accel.Step{{Above: 5, Gain: 4}, {Above: 9, Gain: 7}}}, 0.1).(accel.Ladder)
	if l.Steps[0].Gain != 7 || l.Steps[1].Gain != 7 {
		t.Errorf("a ladder whose steps would fall: %+v", l)
	}
	if bent(nil, 2) != nil {
		t.Error("no curve is bent")
	}
}

// The curves a stride away are other ones, each once, as a person would write them, and
// may all be set: more and less gain, at lower and higher rates, and bent both ways where
// the kind has a bend.
func TestNearCurvesAreOneStrideAway(t *testing.T) {
	for _, c := range rising() {
		c = neater(c)
		ways := 6
		if word(c) == "table" {
			ways = 4
		}
		if l, ok := c.(accel.Ladder); ok && len(l.Steps) == 1 {
			ways = 4
		}
		list := near(c, 1.5)
		if len(list) != ways {
			t.Errorf("%+v has %d neighbours, want %d: %+v", c, len(list), ways, list)
		}
		more, less := 0, 0
		for i, n := range list {
			if reflect.DeepEqual(n, c) || !reflect.DeepEqual(n, neater(n)) {
				t.Errorf("%+v has the neighbour %+v", c, n)
			}
			for _, o := range list[:i] {
				if reflect.DeepEqual(o, n) {
					t.Errorf("%+v has %+v twice", c, n)
				}
			}
			if _, err := (accel.Acceleration{Curve: n}).Compile(); err != nil {
				t.Errorf("%+v has %+v: %v", c, n, err)
			}
			for _, rate := range []float64{9, 13, accel.MaxRate} {
				if n.Of(rate) > c.Of(rate) {
					more++
				}
				if n.Of(rate) < c.Of(rate) {
					less++
				}
			}
		}
		if more < 3 || less < 3 {
			t.Errorf("%+v: %d times more gain, %d times less: %+v", c, more, less, list)
		}
	}
	if near(nil, 1.2) != nil {
		t.Error("no curve has neighbours")
	}
}

// Around a flat curve lie eight on either side, each so many times the one before.
func TestALineOfFlatCurvesGoesBothWays(t *testing.T) {
	list := line(accel.Constant{Gain: 10}, 1.1)
	if len(list) != 16 {
		t.Fatalf("%d curves", len(list))
	}
	for i, c := range list {
		n := float64(i - 8)
		if i >= 8 {
			n++
		}
		if want := 10 * math.Pow(1.1, n); math.Abs(c.Of(1)-want) > 0.025+1e-9 {
			t.Errorf("number %g has a gain of %g, want %g to a twentieth", n, c.Of(1), want)
		}
	}
	for _, c := range line(accel.Constant{Gain: 1}, 1.001) {
		t.Errorf("to a twentieth %g is 1", c.Of(1))
	}
}

// Milder curves have ever less gain above 1, down to where the gain is hardly felt.
func TestMilderCurvesEndWhereTheGainIsHardlyFelt(t *testing.T) {
	for _, c := range rising() {
		before := c.Of(accel.MaxRate)
		list := milder(c)
		for _, m := range list {
			top := m.Of(accel.MaxRate)
			if ratio := (before - 1) / (top - 1); ratio < 1.2 || ratio > 1.55 && word(c) != "linear" { // 1.35, in two digits
				t.Errorf("%+v: %+v is milder by %g", c, m, ratio)
			}
			before = top
		}
		if len(list) == 0 || before < 1.3 || before > 1.5 {
			t.Errorf("%+v: the mildest of %d has a gain of %g", c, len(list), before)
		}
	}
	if milder(nil) != nil || milder(accel.Constant{Gain: 5}) != nil {
		t.Error("a curve that does not rise has milder ones")
	}
}

// Numbers are written in two digits, flat gains in twentieths, and what no search changes
// stays as it is.
func TestNeatNumbersHaveTwoDigits(t *testing.T) {
	for _, x := range []struct{ of, want accel.Curve }{
		{accel.Power{At: 14.96, Factor: 4.04, Exponent: 1.449, Cap: 126}, accel.Power{At: 15, Factor: 4, Exponent: 1.4, Cap: 130}},
		{accel.Ladder{Steps: []accel.Step{{Above: 8.13, Gain: 3.06}}, Hysteresis: 0.1234}, accel.Ladder{Steps: []accel.Step{{Above: 8.1, Gain: 3.1}}, Hysteresis: 0.1234}},
		{accel.Constant{Gain: 12.37}, accel.Constant{Gain: 12.35}}, {accel.Constant{Gain: 12.38}, accel.Constant{Gain: 12.4}},
	} {
		if got := neater(x.of); !reflect.DeepEqual(got, x.want) {
			t.Errorf("%+v becomes %+v, want %+v", x.of, got, x.want)
		}
	}
}

// A search begins with two gains of a kind, or with eight of a flat one; where there is no
// curve yet it looks at one of each kind that may be had.
func TestASearchBeginsWithUsualCurves(t *testing.T) {
	for _, k := range accel.Curves() {
		list, want := usual(k), []float64{3, 12}
		if k.Flat() {
			want = []float64{1.5, 2, 3, 5, 8, 12, 20, 35}
		}
		if len(list) != len(want) {
			t.Fatalf("%s: %+v", k.Word, list)
		}
		for i, c := range list {
			if top := c.Of(accel.MaxRate); accel.KindOf(c) != k || math.Abs(top-want[i]) > 0.01*want[i] {
				t.Errorf("%s: %+v reaches %g, want %g", k.Word, c, top, want[i])
			}
		}
	}
	s := &space{curves: []string{"power", "constant"}}
	first := s.around(nil)
	if len(first) != 2 || word(first[0]) != "power" || word(first[1]) != "constant" {
		t.Errorf("around none: %+v", first)
	}
	for _, c := range first {
		if top := c.Of(accel.MaxRate); top < 1.3 || top > 1.5 {
			t.Errorf("%+v is to be hardly felt, and reaches %g", c, top)
		}
	}
	if n := len(s.around(accel.Constant{Gain: 10})); n != 16 {
		t.Errorf("around a flat curve: %d", n)
	}
	if got, want := s.around(first[0]), append(near(first[0], 1.2), near(first[0], 1.06)...); !reflect.DeepEqual(got, want) {
		t.Errorf("around %+v: %+v, want %+v", first[0], got, want)
	}
	ladder := accel.Ladder{Steps: []accel.Step{{Above: 2, Gain: 2}, {Above: 6, Gain: 3}}}
	around := s.around(ladder)
	if same := around[len(around)-1]; word(same) != "power" || math.Abs(same.Of(accel.MaxRate)-3) > 0.2 {
		t.Errorf("beside a ladder that gives 3 at a middling rate stands %+v", same)
	}
}
