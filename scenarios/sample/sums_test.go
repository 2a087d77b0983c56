package sample_test

import (
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// close says whether estimates are the same to within so much.
func close(a, b paired.Estimate, within float64) bool {
	off := func(x, y float64) bool {
		return x != y && !(math.Abs(x-y) <= within) && !(math.IsNaN(x) && math.IsNaN(y))
	}
	return !off(a.Value, b.Value) && !off(a.Low, b.Low) && !off(a.High, b.High)
}

// half is half a millisecond, by which a time is off at most, in s.
const half = 0.0005 + 1e-9

// Folded trials say what the same trials say that are kept: means, shares and counts
// exactly, quantiles of times to half a millisecond, and the test of a mean no less than
// it does; and however they are cut into parts it is the same.
func TestFoldedTrialsSayWhatKeptOnesSay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "trials")
		lists := [][]trial.Result{results(t, n), results(t, n), results(t, n)}
		if rapid.Bool().Draw(t, "often the same") {
			for i := range n / 2 {
				lists[1][i] = lists[0][i]
			}
		}
		kept, whole, parts := make(sample.Panel, 3), make(sample.Panel, 3), make(sample.Panel, 3)
		for i, list := range lists {
			kept[i], whole[i], parts[i] = taken(2, list), taken(2, list), taken(2, nil)
		}
		whole[0].Summary() // and is forgotten
		sample.Fold(whole...)
		for first := 0; first < n; {
			last := min(n, first+rapid.IntRange(1, 20).Draw(t, "part"))
			for i := range parts {
				for m := first; m < last; m++ {
					parts[i].Take(m, &lists[i][m])
				}
			}
			sample.Fold(parts...)
			first = last
		}
		for i := range kept {
			x, y := kept[i].Summary(), whole[i].Summary()
			if !reflect.DeepEqual(y, parts[i].Summary()) || parts[i].Len() != n {
				t.Fatalf("in parts %+v\nwhole %+v", parts[i].Summary(), y)
			}
			if !close(x.Time, y.Time, half) || !close(paired.Estimate{Value: x.P90, Low: x.P95, High: x.Mean}, paired.Estimate{Value: y.P90, Low: y.P95, High: y.Mean}, half) || math.Abs(x.Mean-y.Mean) > 1e-9 {
				t.Fatalf("times of folded trials %+v\nof kept ones %+v", y, x)
			}
			same := *y
			same.Time, same.P90, same.P95, same.Mean = x.Time, x.P90, x.P95, x.Mean
			if !reflect.DeepEqual(&same, x) {
				t.Fatalf("folded %+v\nkept %+v", y, x)
			}
			if i == 0 {
				continue
			}
			v, w := sample.Judge("a", kept[i], "b", kept[0], 1), sample.Judge("a", whole[i], "b", whole[0], 1)
			if !reflect.DeepEqual(w, sample.Judge("a", parts[i], "b", parts[0], 1)) {
				t.Fatalf("a verdict in parts is another one than %+v", w)
			}
			if w.Time.Average.P < v.Time.Average.P-0.015 || math.Abs(v.Of-w.Of) > 1e-9 || !reflect.DeepEqual(v.Overshoot, w.Overshoot) || v.Time.Signs != w.Time.Signs ||
				!close(v.Time.Median, w.Time.Median, 2*half) || !close(v.Time.Average.Mean, w.Time.Average.Mean, 1e-9) || v.Time.Trials != w.Time.Trials ||
				v.Time.TimeoutsA != w.Time.TimeoutsA || v.Time.TimeoutsB != w.Time.TimeoutsB || v.Time.TimeoutsBoth != w.Time.TimeoutsBoth ||
				!close(paired.Estimate{Value: v.Time.Least, High: v.Time.Most}, paired.Estimate{Value: w.Time.Least, High: w.Time.Most}, 2*half) {
				t.Fatalf("folded %+v\nkept %+v", w, v)
			}
		}
		panel, folded := sample.Panel{kept[1], kept[2]}, sample.Panel{whole[1], whole[2]}
		x, y := panel.Score(), folded.Score()
		if !close(x.Seconds, y.Seconds, 1e-9) || math.Abs(x.Overshoot-y.Overshoot)+math.Abs(x.Lost-y.Lost) > 1e-12 {
			t.Fatalf("a score of folded trials %+v, of kept ones %+v", y, x)
		}
		first := sample.Panel{kept[0], kept[0]}
		a, b := panel.Less(1, first, sample.Source(1, "")), folded.Less(1, sample.Panel{whole[0], whole[0]}, sample.Source(1, ""))
		if !close(a.Mean, b.Mean, 1e-9) || b.P < a.P-0.015 {
			t.Fatalf("against the first folded %+v, kept %+v", b, a)
		}
	})
}

// Of the longest times that a task may take there may be as many as can be asked for.
func TestADayFoldsADayOften(t *testing.T) {
	day := trial.Result{TimeToTarget: 86400e9}
	x := taken(1, []trial.Result{day, day, {TimeToTarget: 1e9}})
	x.Limit = 86400
	sample.Fold(x)
	e := sample.Panel{x}.Score().Seconds
	if m := (2*86400 + 1.0) / 3; math.Abs(e.Value-m) > 1e-6 || !(e.Low < m && m < e.High) {
		t.Errorf("%+v, want %v", e, m)
	}
	if p := x.Summary().Time.Value; math.Abs(p-86400) > 86400.0/65536 {
		t.Errorf("the median is %v", p)
	}
}
