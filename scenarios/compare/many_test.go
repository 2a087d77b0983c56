package compare_test

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/sample"
	"dialwright/testdata/heap"
)

// many compares two profiles on one task, with more trials than are kept.
func many(trials int) *compare.Study {
	s := study(trials, "plain", "power")
	panel := demo.Panel("quillmoor")
	for _, u := range panel.Served() {
		if u.Task.Name == "com-25" {
			s.Panel = panel.Only(scenarios.Pick{Task: u.Task})
		}
	}
	return s
}

// More trials than are kept say what they say when every one is kept, times to the ms;
// and it does not depend on workers.
func TestManyTrialsAreSummed(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	s := many(sample.Kept + 700)
	got := run(t, s)
	s.Workers = 2
	if !reflect.DeepEqual(got.Report(), run(t, s).Report()) {
		t.Error("two workers say something else")
	}
	s.Every = true
	every := run(t, s)
	if !got.Trials[0][0].Folded() || every.Trials[0][0].Folded() {
		t.Fatal("the trials were not folded, or those that were to be kept were")
	}
	text := func(r *compare.Result) string {
		var b strings.Builder
		if err := errors.Join(r.Page().Print(&b, columns.Width), r.Detail().Print(&b, columns.Width)); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if a, b := text(got), text(every); a != b {
		t.Errorf("summed:\n%s\nwith every trial:\n%s", a, b)
	}
	for i, p := range got.Report().Profiles {
		x, y := p.Tasks[0], every.Report().Profiles[i].Tasks[0]
		for what, off := range map[string]float64{
			"median": *x.Time.Median - *y.Time.Median, "low": *x.Time.Low - *y.Time.Low, "high": *x.Time.High - *y.Time.High,
			"p90": *x.Time.P90 - *y.Time.P90, "p95": *x.Time.P95 - *y.Time.P95, "mean": 1000 * (x.Time.Mean - y.Time.Mean),
		} {
			if math.Abs(off) > 0.000501 {
				t.Errorf("%s: %s is off by %v s", p.Name, what, off)
			}
		}
		x.Time, x.Against, y.Time, y.Against = sample.Time{}, nil, sample.Time{}, nil
		if !reflect.DeepEqual(x, y) {
			t.Errorf("summed %+v\nwith every trial %+v", x, y)
		}
	}
}

// Interrupted after it began to sum, a comparison is one of so many trials.
func TestASummedComparisonIsPartialToo(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	ctx, cancel := context.WithCancel(context.Background())
	s := many(10_000_000)
	s.Progress = func(done, _ int) {
		if done > 2*sample.Kept+3000 {
			cancel()
		}
	}
	got, err := compare.Run(ctx, s)
	if !errors.Is(err, context.Canceled) || got == nil || !got.Partial {
		t.Fatalf("result %v, error %v", got != nil, err)
	}
	n := got.Trials[0][0].Len()
	if n <= sample.Kept {
		t.Fatalf("%d trials are left", n)
	}
	s.Trials, s.Progress = n, nil
	if want := run(t, s); !reflect.DeepEqual(got.Report(), want.Report()) {
		t.Errorf("interrupted after %d: %+v\na study of as many: %+v", n, got.Report(), want.Report())
	}
}

// What a comparison holds does not grow with its trials.
func TestAComparisonHoldsNothingATrial(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	held := func(trials int) int64 {
		before := heap.Held()
		r := run(t, many(trials))
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
