package overshoot

import (
	"math"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
	"dialwright/testdata/heap"

	"pgregory.net/rapid"
)

// trialOf draws a trial: numbers that fit their units, so that folding rounds nothing.
func trialOf(t *rapid.T, n int) Trial {
	x := Trial{Number: n, Result: trial.Result{TimeToTarget: 20e9}}
	x.Distance = rapid.Int64Range(0, 40).Draw(t, "distance")
	x.Speed = float64(rapid.IntRange(0, 500).Draw(t, "speed")) * speedUnit
	x.Alarms = rapid.IntRange(0, 1).Draw(t, "alarms")
	x.Timeout = rapid.IntRange(0, 5).Draw(t, "timeout") == 0
	if rapid.Bool().Draw(t, "overshot") {
		x.Overshot, x.Overshoot = true, rapid.Int64Range(1, 9).Draw(t, "steps")
		x.ByDial[0], x.ByDial[1] = x.Overshoot, rapid.Int64Range(0, x.Overshoot).Draw(t, "of the other ring")
		x.Cause = Cause(rapid.IntRange(0, int(causes)-1).Draw(t, "cause"))
		x.PastAt = 1e6 * rapid.Int64Range(1, 20_000).Draw(t, "ms")
	}
	return x
}

func answer() *Answer {
	return &Answer{Trials: &sample.Trials{Limit: 60}, found: found{sizes: []map[int64]int{{}, {}}}}
}

// Folded trials give the answer that kept ones give, whenever they are folded.
func TestFoldedTrialsGiveTheSameAnswer(t *testing.T) {
	dials := []scenarios.Dial{{Name: "outer"}, {Name: "inner"}}
	rapid.Check(t, func(t *rapid.T) {
		kept, folded := answer(), answer()
		n := rapid.IntRange(1, 60).Draw(t, "trials")
		var worst []Worst
		for i := range n {
			x := trialOf(t, i)
			if kept.take(&x, true); x.Overshot {
				worst = append(worst, Worst{i, x.Overshoot})
			}
			if folded.take(&x, false); rapid.IntRange(0, 9).Draw(t, "fold") == 0 {
				folded.fold()
			}
		}
		folded.fold()
		kept.sum(dials)
		folded.sum(dials)
		if len(kept.every) != n || folded.every != nil {
			t.Fatalf("%d and %d of %d trials are kept", len(kept.every), len(folded.every), n)
		}
		slices.SortStableFunc(worst, func(a, b Worst) int { return int(b.Steps - a.Steps) })
		if worst = worst[:min(len(worst), worstShown)]; !slices.Equal(kept.Worst, worst) {
			t.Fatalf("worst %v, want %v", kept.Worst, worst)
		}
		near := func(a, b paired.Estimate) bool {
			return math.Abs(a.Value-b.Value)+math.Abs(a.Low-b.Low)+math.Abs(a.High-b.High) < 1e-9
		}
		if !near(kept.Extra, folded.Extra) {
			t.Fatalf("extra time %v, kept %v", folded.Extra, kept.Extra)
		}
		for i := range kept.Speed {
			if math.Abs(kept.Speed[i].To-folded.Speed[i].To) > 1e-9 {
				t.Fatalf("speeds %v, kept %v", folded.Speed, kept.Speed)
			}
			folded.Speed[i].To = kept.Speed[i].To
		}
		folded.Extra = kept.Extra
		got := *folded
		got.Trials, got.found, got.every = kept.Trials, kept.found, kept.every
		if !reflect.DeepEqual(&got, kept) {
			t.Fatalf("folded %+v\nkept %+v", got, kept)
		}
	})
}

// What an answer holds does not grow with its trials, unless every one is asked for.
func TestAnAnswerHoldsNothingATrial(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	held := func(trials int) int64 {
		before := heap.Held()
		r := run(t, study(trials, 4, "com-25"))
		defer runtime.KeepAlive(r)
		return heap.Held() - before
	}
	held(1)
	few, much := held(sample.Kept+1000), held(4*sample.Kept)
	if much-few > 1<<20 { // rare times have bins of their own
		t.Errorf("%d bytes with %d trials, %d with %d", few, sample.Kept+1000, much, 4*sample.Kept)
	}
	t.Logf("%d and %d bytes", few, much)
}
