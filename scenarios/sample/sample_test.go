package sample_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// results are made-up trials of all kinds.
func results(t *rapid.T, n int) []trial.Result {
	list := make([]trial.Result, n)
	for i := range list {
		r := &list[i]
		r.TimeToTarget = rapid.Int64Range(1e8, 40e9).Draw(t, "ns")
		r.Timeout = rapid.IntRange(0, 9).Draw(t, "timeout") == 0
		if r.Timeout {
			r.TimeToTarget = 60e9
		}
		r.Overshoot = max(0, rapid.Int64Range(-5, 9).Draw(t, "past"))
		a := &r.Account
		a.Detents = rapid.IntRange(1, 50).Draw(t, "detents")
		if rapid.IntRange(0, 4).Draw(t, "held") == 0 {
			a.Presses, a.Held = 3, 1e9 // a firmware holds its line
			continue
		}
		a.Illegal = rapid.IntRange(0, a.Detents).Draw(t, "illegal")
		a.Delivered = a.Detents - a.Illegal
	}
	return list
}

func taken(perHour float64, list []trial.Result) *sample.Trials {
	t := &sample.Trials{Limit: 60, Use: scenarios.Served{Task: &scenarios.Task{Name: "task"}, Knob: &scenarios.Knob{Name: "knob", Inner: &scenarios.Rig{}}, PerHour: perHour}}
	for n := range list {
		t.Take(n, &list[n])
	}
	return t
}

// Trials that are cut are the trials of a study that asked for no more, in every
// figure; all samples keep as many as the shortest has.
func TestCutTrialsAreThoseOfASmallerStudy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := results(t, rapid.IntRange(1, 40).Draw(t, "a")), results(t, rapid.IntRange(1, 40).Draw(t, "b"))
		most := rapid.IntRange(1, 50).Draw(t, "most")
		x, y := taken(1, a), taken(1, b)
		x.Summary() // and is forgotten
		n := sample.Cut(most, x, y)
		if n != min(most, len(a), len(b)) || x.Len() != n || y.Len() != n {
			t.Fatalf("cut to %d: %d and %d of %d and %d, at most %d", n, x.Len(), y.Len(), len(a), len(b), most)
		}
		more := results(t, 1)
		for _, c := range []struct{ cut, small *sample.Trials }{{x, taken(1, a[:n])}, {y, taken(1, b[:n])}} {
			c.cut.Take(n, &more[0]) // and goes on
			c.small.Take(n, &more[0])
			if !reflect.DeepEqual(c.cut.Summary(), c.small.Summary()) || !reflect.DeepEqual(c.cut.Overshot(), c.small.Overshot()) {
				t.Fatalf("cut: %+v, small study: %+v", c.cut.Summary(), c.small.Summary())
			}
		}
	})
}

// A panel's figures are the means over its dialings, each task as often as it is done.
func TestAScoreIsAMeanOverDialings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var panel sample.Panel
		var seconds, over, lost, hours float64
		for range rapid.IntRange(1, 4).Draw(t, "uses") {
			w := float64(rapid.IntRange(1, 20).Draw(t, "per hour"))
			list := results(t, rapid.IntRange(2, 30).Draw(t, "trials"))
			panel = append(panel, taken(w, list))
			sum, past, detents, gone := 0.0, 0, 0, 0
			for _, r := range list {
				sum += r.Seconds()
				if r.Overshoot > 0 {
					past++
				}
				if r.Account.Presses == 0 {
					detents += r.Account.Detents
					gone += r.Account.Lost()
				}
			}
			n := float64(len(list))
			seconds, over, lost, hours = seconds+w*sum/n, over+w*float64(past)/n, lost+w*float64(gone)/float64(max(1, detents)), hours+w
		}
		s := panel.Score()
		mean, overshoot, missing := panel.Means()
		for what, x := range map[string][3]float64{
			"time": {s.Seconds.Value, mean, seconds / hours}, "overshoot": {s.Overshoot, overshoot, over / hours}, "lost": {s.Lost, missing, lost / hours},
		} {
			if math.Abs(x[0]-x[2]) > 1e-9 || math.Abs(x[1]-x[2]) > 1e-9 {
				t.Errorf("%s: score %v, mean %v, by hand %v", what, x[0], x[1], x[2])
			}
		}
		if d := panel.Less(1, panel, sample.Source(1, "")); d.Mean.Value != 0 || d.P != 1 {
			t.Errorf("a panel against itself: %+v", d)
		}
		if d := panel.Less(0.5, panel, draw.NewTrial(1, "half", 0)); math.Abs(d.Mean.Value-mean/2) > 1e-9 {
			t.Errorf("a panel less half of itself: %v, want %v", d.Mean.Value, mean/2)
		}
	})
}

// In JSON a quantile among timeouts is null, and so are lost clicks without a fate.
func TestWhatIsNotKnownIsNull(t *testing.T) {
	held := trial.Result{Timeout: true, TimeToTarget: 60e9, Account: encoder.Account{Detents: 9, Presses: 2}}
	x := taken(1, []trial.Result{held, held, held})
	x.Stays = errors.New("no push")
	text, err := json.Marshal(x.Report())
	if err != nil {
		t.Fatal(err)
	}
	want := `{"task":"task","knob":"knob","rig":"","stays_plain_because":"no push","trials":3,"timeouts":3,` +
		`"time_to_target_s":{"median":null,"low":null,"high":null,"p90":null,"p95":null,"mean":60},"overshoot":{"share":0,"low":0,"high":0.561497,"p90_steps":0},"lost_share":null}`
	if string(text) != want {
		t.Errorf("%s\nwant\n%s", text, want)
	}
	if got := sample.Seconds(x.Summary().Time); got != "> limit" {
		t.Errorf("a median among timeouts is %s", got)
	}
}

func ExamplePanel_Score() {
	quick, slow := trial.Result{TimeToTarget: 2e9}, trial.Result{TimeToTarget: 8e9, Overshoot: 3}
	heading, altitude := taken(20, []trial.Result{quick, quick}), taken(5, []trial.Result{slow, slow})
	s := sample.Panel{heading, altitude}.Score()
	fmt.Printf("%.1f s a dialing, %.0f %% of them overshoot\n", s.Seconds.Value, 100*s.Overshoot)
	// Output: 3.2 s a dialing, 20 % of them overshoot
}
