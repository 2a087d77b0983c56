package tune

import (
	"math/rand/v2"
	"slices"
	"testing"

	"dialwright/scenarios"
)

// The test of a cap calls what is at the cap above it in one case of twenty, and what is
// half a point or a twentieth of the cap above it within as seldom; it ends soon where the
// answer is plain.
func TestACapIsTestedWithKnownErrors(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	const tests = 1000
	test := func(truth, most float64) (said shown, trials int) {
		for over := 0; ; {
			for range contestTrials {
				if r.Float64() < truth {
					over++
				}
			}
			trials += contestTrials
			if said = told(float64(over)/float64(trials), trials, most); said != nothing {
				return said, trials
			}
		}
	}
	for _, x := range []struct {
		truth, most float64
		right       shown
		errors      float64 // of the tests
		trials      int     // on average, at most
	}{
		{0.1, 0.1, within, 0.05, 25_000},
		{0.105, 0.1, above, 0.05, 25_000},
		{0.2, 0.2, within, 0.05, 12_000},
		{0.21, 0.2, above, 0.05, 12_000},
		{0.085, 0.1, within, 0, 4000},
		{0.12, 0.1, above, 0, 4500},
		{0, 0, within, 0, 2400},
		{0.01, 0, above, 0, 2400},
	} {
		wrong, trials := 0, 0
		for range tests {
			said, n := test(x.truth, x.most)
			trials += n
			if said != x.right {
				wrong++
			}
		}
		t.Logf("%g under %g: %d of %d wrong, %d trials", x.truth, x.most, wrong, tests, trials/tests)
		// 2.6 standard errors of luck
		if luck := 0.018; float64(wrong) > tests*(x.errors+min(luck, x.errors)) || trials > tests*x.trials {
			t.Errorf("%g under %g: %d of %d wrong, %d trials", x.truth, x.most, wrong, tests, trials/tests)
		}
	}
	if told(0.3, contestTrials, 1) != within {
		t.Error("everything is within a cap of 100 %")
	}
}

// A choice of which a test shows that it is above a cap is given up for the next best, and
// one that all tests leave stays.
func TestAChoiceAboveACapIsGivenUp(t *testing.T) {
	f := finals(2)
	for i := range 2 {
		f.did(i, f.board.now[i], choiceTrials, 9, 0, 0).shown = within
	}
	quick, next := gain(3), gain(2)
	f.did(0, quick, choiceTrials, 4, 0.08, 0).shown = within
	loud := f.did(1, quick, choiceTrials, 4, 0.09, 0)
	for i := range 2 {
		f.did(i, next, choiceTrials, 5, 0.08, 0).shown = within
	}
	same := func(a, b point) bool {
		return slices.EqualFunc(a, b, func(a, b *scenarios.Profile) bool { return a.About(nil) == b.About(nil) })
	}
	for said, want := range map[shown]point{within: {quick, quick}, above: {quick, next}} {
		loud.shown = said
		x, err := f.hold(t.Context(), f.choose())
		if err != nil {
			t.Fatal(err)
		}
		if !same(x, want) {
			t.Errorf("shown %d: %s and %s", said, x[0].About(nil), x[1].About(nil))
		}
		// With caps for the panel no use is tested by itself.
		f.Caps = Whole
		if x, err := f.hold(t.Context(), point{quick, quick}); err != nil || !same(x, point{quick, quick}) {
			t.Errorf("caps for the panel: %v", err)
		}
		f.Caps = Each
	}
}
