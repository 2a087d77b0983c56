package hand

import (
	"math"
	"reflect"
	"sync/atomic"
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
		if want := int64(gain * fine); abs(g.Base-want) > fine/16 {
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
		o := &g.outcomes[2][pace][g.nearest[8]]
		if share := float64(o.mean) / float64(o.plain); share < 0.4 || share > 0.6 {
			t.Errorf("pace %d: %.2f of the clicks arrive, want about half", pace, share)
		}
	}
}

func TestAcceleratedStrokesBringMoreTheFasterTheyAre(t *testing.T) {
	p := people(t, scenarios.Practised())
	g := gripOf(t, onIdeal(power), p)
	for n := 3; n <= 8; n++ {
		for pace := 1; pace < paces; pace++ {
			slow, fast := &g.outcomes[2][pace-1][g.nearest[n]], &g.outcomes[2][pace][g.nearest[n]]
			if fast.mean < slow.mean {
				t.Errorf("%d clicks bring %d at pace %d and %d at pace %d", n, slow.mean, pace-1, fast.mean, pace)
			}
		}
	}
}

var power = accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}

// Two profiles that give the same steps are the same knob, whatever their curves
// look like: a ladder that is never climbed, a gain that rounds to 1.
func TestAHandKnowsNothingOfACurveThatNeverActs(t *testing.T) {
	p := people(t, scenarios.Practised())
	pulses := func(curve accel.Curve, steps accel.Steps) encoder.Setup {
		s := onIdeal(nil)
		s.Rig.Firmware = encoder.Default().Firmware
		s.Rig.Firmware.Pulse, s.Rig.Firmware.Gap = 40*time.Millisecond, 40*time.Millisecond
		if curve != nil {
			s.Gain, _ = accel.Acceleration{Curve: curve, Steps: steps}.Compile()
		}
		return s
	}
	for name, curve := range map[string]accel.Curve{
		"ladder": accel.Ladder{Steps: []accel.Step{{Above: 25, Gain: 40}}},
		"table":  accel.Table{Points: []accel.Point{{Rate: 0, Gain: 1}, {Rate: 13, Gain: 1.1}, {Rate: 100, Gain: 1.4}}},
	} {
		plain, placebo := gripOf(t, pulses(nil, accel.Round), p), gripOf(t, pulses(curve, accel.Round), p)
		for _, g := range []*Grip{plain, placebo} {
			g.valueOf(0)
		}
		if !reflect.DeepEqual(plain, placebo) {
			t.Errorf("%s: the hand knows another knob than the plain one", name)
		}
	}
}

func TestPlansNeverCostMoreThanAnyStroke(t *testing.T) {
	p := people(t, scenarios.Practised())
	for name, curve := range map[string]accel.Curve{"plain": nil, "power": power} {
		plans := gripOf(t, onIdeal(curve), p).plansFor(0, 1)
		minds := func(w *Person, s plan, x int64) int64 {
			cost, past := plans.cost(w.Speed, w.Error, x*sub, s, math.MaxInt64)
			return cost + past>>10*(p.reluctance[w.Reluctance]/1000)>>20
		}
		for i := range 200 {
			w := p.Draw(draw.NewTrial(1, "", i))
			missing := int64(1+i) * fine / 2
			best := plans.best(&w, missing, 7, paces-1)
			if again := plans.best(&w, missing, 7, paces-1); again != best {
				t.Fatalf("%s: %+v, then %+v", name, best, again)
			}
			x := plans.rounded(missing)
			least := minds(&w, plan{best.pace, plans.grip.nearest[best.n]}, x)
			for pace := range paces {
				for n := 1; n <= 7; n++ {
					if cost := minds(&w, plan{pace, plans.grip.nearest[n]}, x); cost < least-least/20 {
						t.Errorf("%s: for %d steps %d clicks at pace %d cost %d, the plan %+v %d", name, x, n, pace, cost, best, least)
					}
				}
			}
		}
	}
}

// Plans are made once for a width of target and a size of step, and shared.
func TestPlansAreMadeOnce(t *testing.T) {
	g := gripOf(t, onIdeal(nil), people(t, scenarios.Practised()))
	for _, x := range [][2]int64{{0, 1}, {2, 1}, {2, 10}, {20, 10}} {
		if first := g.plansFor(x[0], x[1]); g.plansFor(x[0], x[1]) != first {
			t.Errorf("within %d, in steps of %d: planned twice", x[0], x[1])
		}
	}
	if len(g.plans) != 4 {
		t.Errorf("%d plans of four kinds", len(g.plans))
	}
}

// What a dialing needs is what its first stroke is expected to cost with all that comes
// after it, and what the person minds; beyond reach every step more takes as long as
// turning on and on. Steps that count ten are ten as wide.
func TestWhatADialingNeedsGrowsWithTheWay(t *testing.T) {
	p := people(t, scenarios.Practised())
	g := gripOf(t, onIdeal(power), p)
	w := p.Draw(draw.NewTrial(1, "", 3))
	for _, multiple := range []int64{1, 10} {
		plans := g.plansFor(0, multiple)
		if plans.base() != multiple*g.Base {
			t.Errorf("in steps of %d a slow detent brings %d/256", multiple, plans.base())
		}
		for _, steps := range []int64{1, 3, 8} {
			best := plans.best(&w, steps*multiple*fine, g.reach(w.Reach), paces-1)
			cost, past := plans.cost(w.Speed, w.Error, steps*sub, plan{best.pace, g.nearest[best.n]}, math.MaxInt64)
			want := float64(cost)/1e6 + float64(past)/certain*float64(p.reluctance[w.Reluctance])/1e9
			if got := float64(plans.needs(&w, steps*multiple*fine)) / 1e9; math.Abs(got-want) > 0.0005*want {
				t.Errorf("%d steps of %d need %.4f s, want %.4f", steps, multiple, got, want)
			}
		}
		far := int64(1000) * multiple * fine
		want := 1000 * float64(sub) * float64(plans.cruise) / (1 << cruiseShift) / 1e6
		if got := float64(plans.needs(&w, 2*far)-plans.needs(&w, far)) / 1e9; math.Abs(got-want) > 0.0005*want {
			t.Errorf("a thousand steps of %d more need %.4f s, want %.4f", multiple, got, want)
		}
	}
}

// A stroke goes as far as the arc is free in its direction, and as the forearm reaches
// beyond the arc that a person likes to turn in: of 158° half of what is left, whole detents.
func TestAStrokeEndsWithTheArc(t *testing.T) {
	for _, x := range []struct {
		reach, arc int64 // thousandths of a degree
		dir        int8
		want       int64 // detents of 15°
	}{
		{142_000, 0, +1, 10}, {142_000, 1, +1, 9}, {142_000, 142_000, +1, 1}, // (142 − 0 + 8)/15, less a hair, 8/15
		{142_000, 142_000, -1, 10}, {142_000, 0, -1, 1}, {98_000, 60_000, -1, 6}, {98_000, 60_000, +1, 4},
	} {
		h := Hand{Person: Person{Reach: x.reach}, arc: x.arc, dial: &Dial{Grip: &Grip{motion: &motion{perTurn: 24}}}}
		if got := h.stretch(x.dir); got != x.want {
			t.Errorf("%+v: %d detents", x, got)
		}
	}
}

func TestThePlanForAFewClicksIsThoseClicks(t *testing.T) {
	p := people(t, scenarios.Practised())
	plans := gripOf(t, onIdeal(nil), p).plansFor(0, 1)
	w := p.Draw(draw.NewTrial(1, "", 0))
	for n := 1; n <= 2; n++ {
		if s := plans.best(&w, int64(n)*fine, 7, paces-1); s.n != n {
			t.Errorf("for %d steps the plan is %d clicks", n, s.n)
		}
	}
}

// Rule 1: SD(n) = √((σ(n−1))² + (σ0/unit)² + f²), f = 0.20 detent; nothing is exact
// by decree. On a smooth knob √((σn)² + (σ0/unit)²).
func TestStrokesAreAsNoisyAsTheModelSays(t *testing.T) {
	p := people(t, scenarios.Practised())
	g := gripOf(t, onIdeal(nil), p)
	smooth := Grip{motion: &motion{Smooth: true, perTurn: 96}}
	for n := 1; n <= 10; n++ {
		sigma, finger := 0.245*float64(n-1), 0.65*24/360
		want := math.Sqrt(sigma*sigma + finger*finger + 0.04)
		if got := float64(g.strokeNoise(n, 256901, 650, draw.One/5)) / draw.One; math.Abs(got-want) > 0.001 {
			t.Errorf("%d clicks have a noise of %.3f clicks, want %.3f", n, got, want)
		}
		want = math.Hypot(0.245*float64(n), 0.65*96/360)
		if got := float64(smooth.strokeNoise(n, 256901, 650, 0)) / draw.One; math.Abs(got-want) > 0.001 {
			t.Errorf("%d quarter steps have a noise of %.3f, want %.3f", n, got, want)
		}
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

// What is remembered of one distance and reach is never taken for that of another, nor
// cut short, on the finest knobs that there may be.
func TestAPlanIsItsOwnOnTheFinestKnobs(t *testing.T) {
	p := people(t, scenarios.Practised())
	for _, k := range []encoder.Knob{{Cycles: 10_000}, {Cycles: 10_000, Detents: 10_000}} {
		s := onIdeal(nil)
		s.Rig.Knob = k
		g := gripOf(t, s, p)
		if n := len(g.strokes); n > math.MaxUint8 {
			t.Fatalf("%d strokes are too many to be told apart", n)
		}
		plans := g.plansFor(0, 1)
		w := p.Draw(draw.NewTrial(1, "", 3))
		type question struct {
			steps int64
			most  int
		}
		fresh := map[question]stroke{}
		for steps := int64(1); steps < 20_000; steps += steps/20 + 1 {
			for _, most := range []int{808, 8192 + 808, 2*8192 + 808} {
				most = min(most, g.most)
				few := make([]atomic.Pointer[planned], fewPlans)
				plans.remembered.Store(&few)
				fresh[question{steps, most}] = plans.best(&w, steps*fine, most, paces-1)
			}
		}
		for range 2 {
			for q, want := range fresh {
				if got := plans.best(&w, q.steps*fine, q.most, paces-1); got != want || got.n > q.most {
					t.Fatalf("knob %+v, %d steps, at most %d detents: %+v, by itself %+v", k, q.steps, q.most, got, want)
				}
			}
		}
	}
}
