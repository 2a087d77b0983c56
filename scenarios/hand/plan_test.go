package hand

import (
	"math"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// onIdeal is a 24-detent knob on a path that loses and delays nothing.
func onIdeal(curve accel.Curve) encoder.Setup {
	r := encoder.Default()
	r.Knob.Bounce = 0
	r.Firmware = encoder.Firmware{Scan: 50 * time.Microsecond, Debounce: 1, CountsPerDetent: 1, Output: encoder.Relative}
	r.USB.Poll = 125 * time.Microsecond
	r.System.Latency, r.Display.Latency = 0, 0
	r.Program = encoder.Program{Sampling: encoder.Immediate}
	s := encoder.Setup{Rig: &r}
	if curve != nil {
		s.Gain, _ = accel.Acceleration{Curve: curve}.Compile()
	}
	return s
}

func gripOf(t testing.TB, s encoder.Setup, p *People) *Grip {
	t.Helper()
	g, err := NewGrip(s, p)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestAHandKnowsWhatAClickBrings(t *testing.T) {
	p := people(t, scenarios.Practised())
	for _, gain := range []float64{1, 2, 2.5, 5.66} {
		g := gripOf(t, onIdeal(accel.Constant{Gain: gain}), p)
		if want := int64(gain * fine); abs(g.Base-want) > 1 {
			t.Errorf("gain %g: a click brings %d/256 steps, want %d", gain, g.Base, want)
		}
	}
}

// Half of the pulses are shorter than what a frame sees: a frame of 40 ms finds a
// pulse of 20 ms every second time (row B9).
func TestAHandKnowsWhatShareOfItsClicksArrives(t *testing.T) {
	p := people(t, scenarios.Practised())
	s := onIdeal(nil)
	s.Rig.Firmware = encoder.Default().Firmware
	s.Rig.Firmware.Pulse, s.Rig.Firmware.Gap, s.Rig.Firmware.Queue = 20*time.Millisecond, 67*time.Millisecond, 100
	s.Rig.Program = encoder.Program{Frames: 25, Jitter: 0.3}
	g := gripOf(t, s, p)
	for pace := range paces {
		got := g.between(g.arriving[pace], 8)
		if got < 65536*4/10 || got > 65536*6/10 {
			t.Errorf("pace %d: %.2f of the clicks arrive, want about half", pace, float64(got)/65536)
		}
	}
}

func TestAcceleratedStrokesBringMoreTheFasterTheyAre(t *testing.T) {
	p := people(t, scenarios.Practised())
	g := gripOf(t, onIdeal(accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}), p)
	for n := 3; n <= 8; n++ {
		for pace := 1; pace < paces; pace++ {
			slow, fast := g.between(g.speeds[2].travel[pace-1], n), g.between(g.speeds[2].travel[pace], n)
			if fast < slow {
				t.Errorf("%d clicks bring %d at pace %d and %d at pace %d", n, slow, pace-1, fast, pace)
			}
		}
	}
}

func TestPlansNeverCostMoreThanAnyStroke(t *testing.T) {
	p := people(t, scenarios.Practised())
	for name, curve := range map[string]accel.Curve{"plain": nil, "power": accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}} {
		plans := newPlans(gripOf(t, onIdeal(curve), p), 0, 1)
		for i := range 200 {
			w := p.Draw(draw.NewTrial(1, "", i))
			missing := int64(1+i) * fine / 2
			best := plans.best(&w, missing, 7, paces-1)
			if again := plans.best(&w, missing, 7, paces-1); again != best {
				t.Fatalf("%s: %+v, then %+v", name, best, again)
			}
			wrong := w.Error
			if !plans.grip.curved {
				wrong = 0
			}
			for pace := range paces {
				for n := 1; n <= 7; n++ {
					lasts := p.delays[begin].mean + int64(n)*plans.grip.speeds[w.Speed].detent[pace]
					cost := plans.expected(lasts, missing, plans.travel(w.Speed, wrong, pace, n), n, plans.cruise[w.Speed][wrong], math.MaxInt64)
					if missing < 8*fine && cost < best.cost-best.cost>>10 {
						t.Errorf("%s: for %d/256 steps %d clicks at pace %d cost %d, the plan %+v", name, missing, n, pace, cost, best)
					}
				}
			}
		}
	}
}

func TestThePlanForAFewClicksIsThoseClicks(t *testing.T) {
	p := people(t, scenarios.Practised())
	plans := newPlans(gripOf(t, onIdeal(nil), p), 0, 1)
	w := p.Draw(draw.NewTrial(1, "", 0))
	for n := 1; n <= 2; n++ { // felt, and therefore exact
		if s := plans.best(&w, int64(n)*fine, 7, paces-1); s.n != n {
			t.Errorf("for %d steps the plan is %d clicks", n, s.n)
		}
	}
}

func TestOneOrTwoClicksAreExact(t *testing.T) {
	p := people(t, scenarios.Practised())
	g := gripOf(t, onIdeal(nil), p)
	for n := range 3 {
		if sd := strokeNoise(g, p.noise.mean, p.finger.mean, n); sd != 0 {
			t.Errorf("%d clicks have a noise of %d", n, sd)
		}
	}
	if sd := float64(strokeNoise(g, p.noise.mean, 0, 8)) / draw.One; sd < 0.99*8*0.245 || sd > 1.01*8*0.245 {
		t.Errorf("8 clicks have a noise of %.2f clicks, want %.2f", sd, 8*0.245)
	}
}

func TestAPathThatShowsNothingIsRefused(t *testing.T) {
	s := onIdeal(nil)
	s.Rig.Firmware = encoder.Default().Firmware
	s.Rig.Firmware.Scan, s.Rig.Firmware.Debounce = 100*time.Millisecond, 1000 // believes nothing that lasts less than 100 s
	if _, err := NewGrip(s, people(t, scenarios.Practised())); err == nil {
		t.Error("a knob that never changes the number was taken")
	}
}
