package tune

import (
	"math"
	"slices"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// A test finds a try within the cap that lies well below it, or at the last trial hardly
// above; one that does the same as another that was tested is what that is.
func TestATestShowsOnWhichSideOfTheCapATryIs(t *testing.T) {
	for _, x := range []struct {
		overshoot float64
		want      shown
	}{{0.05, within}, {0.094, within}, {0.0975, within}, {0.102, within}, {0.104, above}, {0.11, above}, {0.3, above}} {
		f := finals(1)
		a := f.did(0, gain(2), mostTests, 4, x.overshoot, 0)
		if err := f.test(t.Context(), a); err != nil || a.shown != x.want {
			t.Errorf("%g: %d, %v; want %d", x.overshoot, a.shown, err, x.want)
		}
		b := f.did(0, gain(3), contestTrials, 4, x.overshoot, 0)
		if err := f.test(t.Context(), b); err != nil || b.shown != x.want || b.trials() != contestTrials {
			t.Errorf("%g: another that does the same is %d after %d trials, %v", x.overshoot, b.shown, b.trials(), err)
		}
	}
	// With few trials only what is far from the cap is decided.
	for n, far := range map[int]float64{contestTrials: 0.045, 2 * contestTrials: 0.022} {
		f := finals(1)
		a := f.did(0, gain(2), n, 4, 0.1-far, 0)
		if err := f.test(t.Context(), a); err != nil || a.shown != within || a.trials() != n {
			t.Errorf("%g below the cap: %d after %d trials, %v", far, a.shown, a.trials(), err)
		}
	}
}

// What may be the quickest within the cap is known well enough, loses little, is not shown
// to be above the cap and would be below it with luck; the quickest comes first.
func TestWhatMayBeTheQuickestWithinTheCap(t *testing.T) {
	f := finals(1)
	f.board.space.curves = []string{"constant"}
	here := "firmware.gap=50ms"
	slow := f.did(0, gain(2, here), contestTrials, 8, 0.05, 0)
	quick := f.did(0, gain(3, here), contestTrials, 5, 0.11, 0)      // 2.3 of 0.9 points less is below the cap
	f.did(0, gain(4, here), contestTrials, 4, 0.13, 0)               // is not
	f.did(0, gain(5, here), lookTrials-1, 3, 0.05, 0)                // hardly known
	f.did(0, gain(6, here), contestTrials, 2, 0.05, 0.06)            // loses too much
	f.did(0, gain(7, here), contestTrials, 1, 0.09, 0).shown = above // a test showed it
	elsewhere := f.did(0, gain(8, "firmware.gap=20ms"), contestTrials, 6, 0.05, 0)
	x := point{gain(2, here)}
	gains := func(list []candidate) (g []float64) {
		for _, c := range list {
			g = append(g, c.point[0].Acceleration.Curve.Of(1))
		}
		return g
	}
	if got := gains(f.candidates(x, []int{0}, false)); !slices.Equal(got, []float64{3, 2}) {
		t.Errorf("under these settings: gains %v", got)
	}
	list := f.candidates(x, []int{0}, true)
	if got := gains(list); !slices.Equal(got, []float64{3, 8, 2}) || list[1].tries[0] != elsewhere || list[1].point[0].Settings[0].Value != "20ms" {
		t.Errorf("under any: gains %v", got)
	}
	if list[0].cost != 5 || list[2].cost != 8 || math.Abs(list[0].past-0.11) > 1e-9 {
		t.Errorf("%+v", list[0])
	}
	// Those that look as if they were within the cap are tested first, then quicker ones
	// that may be.
	quick.shown, slow.shown = within, within
	budget := 1
	if got, err := f.quickest(t.Context(), x, []int{0}, false, &budget); err != nil || got[0].Acceleration.Curve.Of(1) != 3 {
		t.Errorf("%+v, %v", got[0], err)
	}
	quick.shown = above
	if got, err := f.quickest(t.Context(), x, []int{0}, false, &budget); err != nil || &got[0] != &x[0] || budget != 1 {
		t.Errorf("%+v, %v, budget %d", got[0], err, budget)
	}
	budget = 0
	if got, err := f.quickest(t.Context(), point{gain(6, here)}, []int{0}, false, &budget); err != nil || got[0].Acceleration.Curve.Of(1) != 6 {
		t.Errorf("nothing may be tested, and %+v is chosen, %v", got[0], err)
	}
}

// The choice goes up to the cap: to the quickest that a test finds within it, where the
// use can keep it.
func TestTheChoiceGoesUpToTheCap(t *testing.T) {
	on := func(overshoot float64, trials int) (f *field, x, quick point) {
		f = finals(1)
		x, quick = point{gain(2, "firmware.gap=50ms")}, point{gain(3, "firmware.gap=20ms")}
		f.did(0, x[0], choiceTrials, 8, 0.05, 0)
		f.did(0, quick[0], trials, 5, overshoot, 0)
		return f, x, quick
	}
	brink := func(f *field, x point) point {
		y, err := f.brink(t.Context(), x)
		if err != nil {
			t.Fatal(err)
		}
		return y
	}
	f, x, quick := on(0.05, choiceTrials)
	if got := brink(f, x); got[0].Acceleration != quick[0].Acceleration || written(got[0].Settings) != "firmware.gap 20ms" {
		t.Errorf("%+v", got[0])
	}
	f, x, _ = on(0.3, choiceTrials)
	if got := brink(f, x); !slices.Equal(got, x) {
		t.Errorf("beyond the cap: %+v", got[0])
	}
	for name, change := range map[string]func(*field){
		"the cap is given up": func(f *field) { f.most[0] = 0.2 }, "the cap is the panel's": func(f *field) { f.Caps = Whole }, "there is no cap": func(f *field) { f.MaxOvershoot, f.most[0] = 1, 1 },
	} {
		f, x, _ := on(0.05, choiceTrials)
		if change(f); !slices.Equal(brink(f, x), x) {
			t.Errorf("%s, and the choice goes up to it", name)
		}
	}
}

// A search goes on with the first few of different prices, and with what is calm: where
// hardly anything but the caps counts.
func TestASearchGoesOnWithDifferentPoints(t *testing.T) {
	f := finals(1)
	var list []point
	for _, seconds := range []float64{7, 5, 6, 5, 9} {
		p := gain(float64(2 + len(list)))
		f.did(0, p, 100, seconds, 0, 0)
		list = append(list, point{p})
	}
	price := func(x point) float64 { return f.score(f.try(0, x[0])).seconds }
	got := f.different(list, 3, price)
	if len(got) != 3 || price(got[0]) != 5 || price(got[1]) != 6 || price(got[2]) != 7 || &got[0][0] != &list[1][0] {
		t.Errorf("%d points", len(got))
	}
	if got := f.different(list, 9, price); len(got) != 4 {
		t.Errorf("%d different points", len(got))
	}
	if got := f.least(list, []int{0}, 0.1); &got[0] != &list[1][0] {
		t.Errorf("the least is %+v", got[0])
	}
	loud := gain(20)
	f.did(0, loud, 100, 3, 0.3, 0.07)
	if got, want := f.strict(point{loud}), 3+100*3*(0.2+0.02); math.Abs(got-want) > 1e-9 {
		t.Errorf("strictly %g, want %g", got, want)
	}
}

// Under settings stands what was tried with them for all of some uses, in a home that it
// may have.
func TestWhatWasTriedUnderSettings(t *testing.T) {
	f := finals(2)
	here := "firmware.gap=50ms"
	for i := range 2 {
		f.did(i, gain(2, here), 100, 4, 0, 0)
	}
	f.did(0, gain(3, here), 100, 4, 0, 0) // for one of them
	f.try(0, gain(4, here))               // not yet
	f.did(0, gain(5), 100, 4, 0, 0)       // with others
	got := f.under(&scenarios.Profile{Settings: set(here)}, []int{0, 1})
	if len(got) != 1 || got[0][0].Acceleration.Curve != (accel.Constant{Gain: 2}) || got[0][1] != got[0][0] {
		t.Errorf("%+v", got)
	}
	if got := f.under(&scenarios.Profile{Settings: set(here)}, []int{0}); len(got) != 2 {
		t.Errorf("of one use: %+v", got)
	}
	if got := f.under(&scenarios.Profile{Settings: set(here), Home: encoder.InFirmware}, []int{0}); len(got) != 0 {
		t.Errorf("in another home: %+v", got)
	}
}
