package hand

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

func people(t testing.TB, o scenarios.Operator) *People {
	t.Helper()
	p, err := NewPeople(o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Card, Moran, Newell, The Psychology of Human-Computer Interaction (1983):
// perceive 50–200, decide 25–170, act 30–100 ms, one correction 105–470 (row A6).
func TestPeopleStayInsideThePublishedProcessingTimes(t *testing.T) {
	const n = 4000
	for _, o := range scenarios.Operators() {
		p := people(t, o)
		inside := 0
		for i := range n {
			w := p.Draw(draw.NewTrial(1, "", i))
			sum := w.Perceive + w.Decide + w.Act
			if w.Perceive >= 50e6 && w.Perceive <= 200e6 && w.Decide >= 25e6 && w.Decide <= 170e6 &&
				w.Act >= 30e6 && w.Act <= 100e6 && sum >= 105e6 && sum <= 470e6 {
				inside++
			}
			if sum < 105e6 {
				t.Errorf("%s: person %d corrects after %d ms, sooner than the fastest published", o.Name, i, sum/1e6)
			}
		}
		if share := float64(inside) / n; share < 0.95 {
			t.Errorf("%s: %.1f %% of the people are inside the published ranges, want 95 %%", o.Name, 100*share)
		}
	}
}

// One twist of a forearm is at most 75.8° + 82.1° (Boone, Azen 1979; row A8).
func TestNobodyTwistsFurtherThanAForearmCan(t *testing.T) {
	for _, o := range scenarios.Operators() {
		p := people(t, o)
		for i := range 4000 {
			if w := p.Draw(draw.NewTrial(2, "", i)); w.Reach > 158_000 {
				t.Fatalf("%s: person %d reaches %d thousandths of a degree", o.Name, i, w.Reach)
			}
		}
	}
}

func TestEveryQuantityVariesByTenPercentOrMore(t *testing.T) {
	for _, o := range scenarios.Operators() {
		p := people(t, o)
		quantities := map[string]func(Person) int64{
			"reaction":    func(w Person) int64 { return w.Reaction },
			"regrip":      func(w Person) int64 { return w.Regrip },
			"reach":       func(w Person) int64 { return w.Reach },
			"noise":       func(w Person) int64 { return w.Noise },
			"familiarity": func(w Person) int64 { return w.Familiarity },
			"speed": func(w Person) int64 {
				return int64(1000 * p.degPerS(w.Speed, paces-1))
			},
		}
		for name, of := range quantities {
			const n = 4000
			sum, squares := 0.0, 0.0
			for i := range n {
				x := float64(of(p.Draw(draw.NewTrial(3, "", i))))
				sum += x
				squares += x * x
			}
			mean := sum / n
			if cv := math.Sqrt(squares/n-mean*mean) / mean; cv < 0.10 {
				t.Errorf("%s: %s varies by %.1f %%", o.Name, name, 100*cv)
			}
		}
	}
}

func TestTheSamePersonDoesATrialWhateverIsCompared(t *testing.T) {
	a := people(t, scenarios.Practised())
	o := scenarios.Practised()
	o.Noise.Mean *= 2
	b := people(t, o)
	for i := range 100 {
		x, y := a.Draw(draw.NewTrial(4, "heading", i)), b.Draw(draw.NewTrial(4, "heading", i))
		y.Noise = x.Noise
		if x != y {
			t.Fatalf("trial %d: %+v and %+v differ by more than the noise", i, x, y)
		}
	}
}

// Every quantity may lie at the ends of its range and not beyond, and what is refused is
// named with what would do.
func TestTheEndsOfWhatPeopleCanBe(t *testing.T) {
	check := func(o scenarios.Operator, name, what string, wrong bool) {
		t.Helper()
		_, err := NewPeople(o)
		if wrong != (err != nil) || err != nil && !strings.HasPrefix(err.Error(), "operator practised: "+name+": ") {
			t.Errorf("%s, %s: %v", name, what, err)
		}
	}
	for name, of := range map[string]func(*scenarios.Operator) *scenarios.Delay{
		"reaction": func(o *scenarios.Operator) *scenarios.Delay { return &o.Reaction },
		"eye_move": func(o *scenarios.Operator) *scenarios.Delay { return &o.EyeMove }, "reluctance": func(o *scenarios.Operator) *scenarios.Delay { return &o.Reluctance },
	} {
		for _, x := range []struct {
			mean  time.Duration
			cv    float64
			wrong bool
		}{{0, 0, false}, {time.Minute, 1, false}, {-1, 0, true}, {time.Minute + 1, 0, true}, {0, -0.01, true}, {0, 1.01, true}, {0, math.NaN(), true}} {
			o := scenarios.Practised()
			*of(&o) = scenarios.Delay{Mean: x.mean, CV: x.cv}
			check(o, name, fmt.Sprint(x), x.wrong)
		}
	}
	slow := scenarios.Practised().SlowDegPerS.Mean
	for _, x := range []struct {
		name      string
		of        func(*scenarios.Operator) *scenarios.Spread
		low, high float64
	}{
		{"reach", func(o *scenarios.Operator) *scenarios.Spread { return &o.ReachDeg }, 1, 158},
		{"noise", func(o *scenarios.Operator) *scenarios.Spread { return &o.Noise }, 0, 2},
		{"finger_noise", func(o *scenarios.Operator) *scenarios.Spread { return &o.FingerNoiseDeg }, 0, 45},
		{"pace_noise", func(o *scenarios.Operator) *scenarios.Spread { return &o.PaceNoise }, 0, 1},
		{"felt_noise", func(o *scenarios.Operator) *scenarios.Spread { return &o.FeltNoise }, 0, 2},
		{"familiarity", func(o *scenarios.Operator) *scenarios.Spread { return &o.Familiarity }, 0, 1},
		{"gain_error", func(o *scenarios.Operator) *scenarios.Spread { return &o.GainError }, 0, 1},
		{"fast", func(o *scenarios.Operator) *scenarios.Spread { return &o.FastDegPerS }, slow, 10000},
	} {
		for _, v := range []struct {
			mean, cv float64
			wrong    bool
		}{{x.low, 0, false}, {x.high, 1, false}, {x.low - 0.01, 0, true}, {x.high + 0.01, 0, true}, {math.NaN(), 0, true}, {x.high, -0.01, true}, {x.high, 1.01, true}} {
			o := scenarios.Practised()
			*x.of(&o) = scenarios.Spread{Mean: v.mean, CV: v.cv}
			check(o, x.name, fmt.Sprint(v), v.wrong)
		}
	}
	o := scenarios.Practised()
	o.SlowDegPerS.Mean, o.FastDegPerS.Mean = 1, 1
	check(o, "slow", "one degree a second", false)
	o.SlowDegPerS.Mean = 0.99
	check(o, "slow", "less", true)
}

// Whoever's reluctance lies k standard deviations of its logarithm above the median minds
// e^(k·CV) times as much; classes are equally likely and spread as far as they should.
func TestPeopleMindByALogNormalReluctance(t *testing.T) {
	o := scenarios.Practised()
	p := people(t, o)
	sum, squares := 0.0, 0.0
	for k, r := range p.reluctance {
		z := math.Log(float64(r)/float64(o.Reluctance.Mean)) / o.Reluctance.CV
		sum, squares = sum+z, squares+z*z
		if mirror := p.reluctance[reluctanceClasses-1-k]; math.Abs(float64(r)*float64(mirror)/math.Pow(float64(o.Reluctance.Mean), 2)-1) > 1e-6 {
			t.Errorf("class %d minds %d ns, the class opposite %d", k, r, mirror)
		}
		if k > 0 && r <= p.reluctance[k-1] {
			t.Errorf("class %d minds no more than class %d", k, k-1)
		}
	}
	if math.Abs(sum) > 1e-6 || math.Abs(squares/reluctanceClasses-1) > 1e-6 {
		t.Errorf("deviates of mean %g and variance %g", sum/reluctanceClasses, squares/reluctanceClasses)
	}
	for k, e := range p.gainErrors {
		if want := max(-0.9, o.GainError.Mean*classNormal(k, errorClasses)); math.Abs(float64(e)/draw.One-want) > 1e-6 {
			t.Errorf("class %d is wrong by %g, want %g", k, float64(e)/draw.One, want)
		}
	}
	o.GainError.Mean = 1
	if e := people(t, o).gainErrors[0]; math.Abs(float64(e)/draw.One+0.9) > 1e-6 {
		t.Errorf("whoever is most wrong believes in %g of what lies above the plain travel", 1+float64(e)/draw.One)
	}
}

func TestImpossiblePeopleAreRefused(t *testing.T) {
	for name, change := range map[string]func(*scenarios.Operator){
		"negative time":  func(o *scenarios.Operator) { o.Regrip.Mean = -1 },
		"NaN":            func(o *scenarios.Operator) { o.Noise.Mean = math.NaN() },
		"spread of 200%": func(o *scenarios.Operator) { o.Act.CV = 2 },
		"reach of 200°":  func(o *scenarios.Operator) { o.ReachDeg.Mean = 200 },
		"slow over fast": func(o *scenarios.Operator) { o.SlowDegPerS.Mean = 500 },
	} {
		o := scenarios.Practised()
		change(&o)
		if _, err := NewPeople(o); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}
