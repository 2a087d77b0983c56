package paired

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestTimeoutsCountAsTheLimitInDifferences(t *testing.T) {
	got := Differences([]float64{2, inf, 3, inf}, []float64{5, 1, inf, inf}, 300)
	if want := []float64{-3, 299, -297, 0}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

func TestSamplesOfUnlikeLengthPanic(t *testing.T) {
	for what, pair := range map[string]func(){
		"three times with two":    func() { Differences(make([]float64, 3), make([]float64, 2), 300) },
		"two times with three":    func() { Differences(make([]float64, 2), make([]float64, 3), 300) },
		"two outcomes with three": func() { CompareShares(make([]bool, 2), make([]bool, 3)) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s were paired", what)
				}
			}()
			pair()
		}()
	}
}

// times draws two paired samples in quarters of a second up to a limit of 10 s,
// full of ties and timeouts.
func times(t *rapid.T) (a, b []float64) {
	time := rapid.Map(rapid.IntRange(1, 52), func(i int) float64 {
		if i > 40 {
			return inf
		}
		return float64(i) / 4
	})
	n := rapid.IntRange(1, 40).Draw(t, "trials")
	return rapid.SliceOfN(time, n, n).Draw(t, "a"), rapid.SliceOfN(time, n, n).Draw(t, "b")
}

// finished replaces timeouts by times from the limit on.
func finished(t *rapid.T, x []float64) []float64 {
	y := slices.Clone(x)
	for i, v := range y {
		if math.IsInf(v, 1) {
			y[i] = float64(rapid.IntRange(10, 5000).Draw(t, "after the limit"))
		}
	}
	return y
}

func TestBoundsHoldTheMedianOfTrialsRunToTheirEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := times(t)
		d := CompareTimes(a, b, 10, source)
		whole := QuantileInterval(Differences(finished(t, a), finished(t, b), math.MaxFloat64), 0.5)
		if whole.Value < d.Least || whole.Value > d.Most || whole.Low < d.Median.Low || whole.High > d.Median.High {
			t.Fatalf("%v is not within %+v", whole, d)
		}
		if d.Median.Value < d.Least || d.Median.Value > d.Most {
			t.Fatalf("%+v is out of order", d)
		}
	})
}

func TestFewTimeoutsLeaveTheMedianCertain(t *testing.T) {
	a, b := make([]float64, 101), make([]float64, 101)
	for i := range a {
		a[i], b[i] = 3, 5+float64(i%3)/10
	}
	a[7], b[7], b[20] = inf, 4, inf
	d := CompareTimes(a, b, 300, source)
	if d.Least != d.Median.Value || d.Most != d.Median.Value || math.IsInf(d.Median.Low, 0) || math.IsInf(d.Median.High, 0) {
		t.Errorf("%+v", d)
	}
	if d.TimeoutsA != 1 || d.TimeoutsB != 1 || d.TimeoutsBoth != 0 || d.Trials != 101 {
		t.Errorf("timeouts are miscounted: %+v", d)
	}
}

func TestMedianAmongTimeoutsIsOpen(t *testing.T) {
	a, b := make([]float64, 60), make([]float64, 60)
	for i := range a {
		a[i], b[i] = 40, inf
	}
	d := CompareTimes(a, b, 300, source)
	if want := (Estimate{-260, -inf, -260}); d.Median != want || d.Least != -inf || d.Most != -260 {
		t.Errorf("B never done: %+v", d)
	}
	d = CompareTimes(b, b, 300, source)
	if want := (Estimate{0, -inf, inf}); d.Median != want || d.TimeoutsBoth != 60 {
		t.Errorf("none ever done: %+v", d)
	}
}

func TestDifferencesMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := times(t)
		d, m := CompareTimes(a, b, 10, source), CompareTimes(b, a, 10, source)
		if m.Median.Negated() != d.Median || m.Least != -d.Most || m.Most != -d.Least {
			t.Fatalf("medians %+v and %+v", d, m)
		}
		if m.Signs.P != d.Signs.P || m.Signs.Plus != d.Signs.Minus || m.Average.P != d.Average.P {
			t.Fatalf("tests %+v and %+v", d, m)
		}
		e := m.Average.Mean.Negated()
		if w := d.Average.Mean; math.Abs(e.Low-w.Low)+math.Abs(e.High-w.High) > 1e-9 {
			t.Fatalf("means %v and %v", w, e)
		}
	})
}

func ExampleCompareTimes() {
	ladder := []float64{6.1, 5.8, 7.0, 6.4, 9.9, 6.6, 5.9, 6.0, 7.2, 6.3}
	plain := []float64{8.0, 7.9, 8.8, 8.1, 9.9, 8.2, 8.1, math.Inf(1), 8.9, 8.0}
	d := CompareTimes(ladder, plain, 300, source)
	fmt.Printf("median %.2f s, %.2f to %.2f\n", d.Median.Value, d.Median.Low, d.Median.High)
	fmt.Printf("faster in %d, the same in %d, slower in %d: p %.4f\n", d.Signs.Minus, d.Signs.Zero, d.Signs.Plus, d.Signs.P)
	// Output:
	// median -1.75 s, -2.10 to -1.65
	// faster in 9, the same in 1, slower in 0: p 0.0039
}

func BenchmarkCompareTimes(b *testing.B) {
	for _, n := range []int{400, 2000, 4000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			x, y := make([]float64, n), make([]float64, n)
			for i := range x {
				x[i], y[i] = 9*unit(stream("benchmark", 1), i), 9*unit(stream("benchmark", 2), i)
			}
			x[0], y[1] = inf, inf
			for b.Loop() {
				CompareTimes(x, y, 300, source)
			}
		})
	}
}

// A difference is useful from a tenth of a second and 2 % of the time on, both.
func TestUsefulIsATenthOfASecondAndAFiftieth(t *testing.T) {
	for _, x := range []struct {
		difference, of float64
		useful         bool
	}{
		{0.1, 5, true}, {-0.1, 5, true}, {0.099, 1, false}, {-0.099, 1, false},
		{0.2, 10, true}, {0.19, 10, false}, {-0.5, 30, false}, {0, 0, false},
	} {
		if got := Useful(x.difference, x.of); got != x.useful {
			t.Errorf("%g s of %g s: %v", x.difference, x.of, got)
		}
	}
}
