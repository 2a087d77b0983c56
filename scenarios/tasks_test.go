package scenarios

import (
	"math"
	"slices"
	"testing"

	"dialwright/encoder/draw"
)

// C5, FAA AIM 4-2-10: 001 to 360, north is 360 and never 000.
func TestHeadingWrapsFrom360To001(t *testing.T) {
	for _, task := range []*Task{Heading(), Course()} {
		s := task.Scale()
		north, ok := task.Index(360 * Unity)
		if !ok || task.Count() != 360 || s.Low != 1 {
			t.Fatalf("%s: %d numbers from %d", task.Name, task.Count(), s.Low)
		}
		if _, ok := task.Index(0); ok {
			t.Errorf("%s has a number 0", task.Name)
		}
		if up := task.At(s.Add(north, 1)); up != 1*Unity {
			t.Errorf("%s: a click above 360 is %v", task.Name, up)
		}
		if down := task.At(s.Add(0, -1)); down != 360*Unity {
			t.Errorf("%s: a click below 1 is %v", task.Name, down)
		}
	}
}

// The share of multiples of five is ours; what it says must hold: 80 % are made
// so, and of the rest one in five is one by chance.
func TestHeadingsAreMostlyMultiplesOfFive(t *testing.T) {
	const trials = 10_000
	n := 0
	for i := range trials {
		_, target := Heading().Draw(draw.NewTrial(4, "heading", i))
		if Heading().At(target)%(5*Unity) == 0 {
			n++
		}
	}
	p := 0.8 + 0.2/5
	if z := (float64(n) - trials*p) / math.Sqrt(trials*p*(1-p)); math.Abs(z) > 4 {
		t.Errorf("%d of %d, want a share of %.2f (z = %.1f)", n, trials, p, z)
	}
}

// C6, 14 CFR 91.219(b)(3): hundreds and thousands of feet; the ends stop.
func TestAltitudesGoByHundredsAndThousandsBetweenBounds(t *testing.T) {
	for _, test := range []struct {
		task      *Task
		step, top Amount
	}{{Altitude(), 100 * Unity, 49_900 * Unity}, {AltitudeThousands(), 1000 * Unity, 49_000 * Unity}} {
		s := test.task.Scale()
		last := test.task.Count() - 1
		if d := test.task.At(1) - test.task.At(0); d != test.step {
			t.Errorf("%s goes by %v ft, want %v", test.task.Name, d, test.step)
		}
		if test.task.At(last) != test.top || s.Add(last, 1) != last || s.Add(0, -1) != 0 {
			t.Errorf("%s: %v ft, one more click %v", test.task.Name, test.task.At(last), test.task.At(s.Add(last, 1)))
		}
	}
	// Two rings: a click of the outer one is 1000 ft, and it stops at both ends.
	outer := Altitude().Dials(2)[0]
	if d := Altitude().Travel(outer.Place); d != "1000 ft" || outer.Scale.Wrap {
		t.Errorf("the outer ring goes by %s, wraps %v", d, outer.Scale.Wrap)
	}
}

// C7, FAA AIM 7-2-2 and FAA-H-8083-15: 301 settings of inHg, 948 to 1050 hPa; a
// click off is 10 ft and about 30 ft.
func TestAltimeterSettings(t *testing.T) {
	in, hpa := AltimeterInHg(), AltimeterHPa()
	if in.Count() != 301 || in.Format(0) != "28 inHg" || in.Format(300) != "31 inHg" {
		t.Errorf("%d settings from %s to %s", in.Count(), in.Format(0), in.Format(300))
	}
	if hpa.Count() != 103 || hpa.Format(0) != "948 hPa" || hpa.Format(102) != "1050 hPa" {
		t.Errorf("%d settings from %s to %s", hpa.Count(), hpa.Format(0), hpa.Format(102))
	}
	for steps, want := range map[int64][2]string{
		1:  {"10 ft", "about 30 ft"},
		3:  {"30 ft", "about 90 ft"}, // 88.6
		-1: {"-10 ft", "about -30 ft"},
		-7: {"-70 ft", "about -210 ft"}, // -206.7
	} {
		if got := [2]string{in.Effect.Of(steps), hpa.Effect.Of(steps)}; got != want {
			t.Errorf("%d steps off are %v, want %v", steps, got, want)
		}
	}
	// The two tasks agree: the effect of 1013.2 hPa is that of 29.92 inHg.
	if ft := hpa.Effect.PerStep.Float() * 1013.2; math.Abs(ft-29_920) > 0.01 {
		t.Errorf("1013.2 hPa are %v ft, want 29920", ft)
	}
	if s := Heading().Effect.Of(3); s != "" {
		t.Errorf("three degrees off are %q", s)
	}
}

// C8: through zero by 100 ft/min, and trials do go through it.
func TestVerticalSpeedGoesThroughZero(t *testing.T) {
	task := VerticalSpeed()
	s := task.Scale()
	i, _ := task.Index(100 * Unity)
	var passed []string
	for range 3 {
		passed = append(passed, task.Format(i))
		i = s.Add(i, -1)
	}
	if want := []string{"100 ft/min", "0 ft/min", "-100 ft/min"}; !slices.Equal(passed, want) {
		t.Errorf("the knob passes %v, want %v", passed, want)
	}
	if s.Low != -60 {
		t.Errorf("the first number lies %d steps from zero, want -60", s.Low)
	}
	through := 0
	for n := range 1000 {
		from, to := task.Draw(draw.NewTrial(5, task.Name, n))
		if task.At(from) < 0 != (task.At(to) < 0) {
			through++
		}
	}
	if through < 200 {
		t.Errorf("%d of 1000 trials change the sign", through)
	}
}

// Multiples are counted right where the range goes below zero.
func TestMultiplesOfANumberBelowZero(t *testing.T) {
	task := &Task{From: -7 * Unity, To: 4 * Unity, Target: Distribution{MultiplesOf: 3 * Unity, Share: 1}}
	seen := map[Amount]bool{}
	for n := range 500 {
		_, target := task.Draw(draw.NewTrial(6, "multiples", n))
		seen[task.At(target)/Unity] = true
	}
	for _, want := range []Amount{-6, -3, 0, 3} {
		if !seen[want] {
			t.Errorf("never %d", want)
		}
		delete(seen, want)
	}
	if len(seen) > 0 {
		t.Errorf("drawn %v, which are no multiples of 3", seen)
	}
}

// Altimeter settings lie around the standard pressure, and change little.
func TestAltimeterDistributions(t *testing.T) {
	for task, want := range map[*Task][3]float64{
		AltimeterInHg(): {29.92, 0.20, 0.10},
		AltimeterHPa():  {1013, 7, 3.5},
	} {
		const trials = 4000
		var mean, square, change float64
		for n := range trials {
			from, to := task.Draw(draw.NewTrial(7, task.Name, n))
			d := task.At(from).Float() - want[0]
			c := task.At(to).Float() - task.At(from).Float()
			mean, square, change = mean+d/trials, square+float64(d*d)/trials, change+float64(c*c)/trials
		}
		if z := mean / want[1] * math.Sqrt(trials); math.Abs(z) > 4 {
			t.Errorf("%s: the mean is off by %v", task.Name, mean)
		}
		if r := math.Sqrt(square) / want[1]; math.Abs(r-1) > 0.06 {
			t.Errorf("%s: the start's SD is %.3f of %v", task.Name, r, want[1])
		}
		// Changes of no step are drawn again, which widens them a little.
		if r := math.Sqrt(change) / want[2]; r < 0.95 || r > 1.12 {
			t.Errorf("%s: the change's SD is %.3f of %v", task.Name, r, want[2])
		}
	}
}
