package hand

import (
	"math"
	"testing"

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
