package scenarios

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// anyTask draws a task of any kind: a range that wraps or stops, names, digits;
// with any distribution.
func anyTask(t *rapid.T) *Task {
	task := &Task{Name: "any", Wrap: rapid.Bool().Draw(t, "wrap")}
	switch rapid.IntRange(0, 2).Draw(t, "kind") {
	case 0:
		task.Step = Amount(rapid.Int64Range(1, 100).Draw(t, "step")) * Unity / 100
		task.From = Amount(rapid.Int64Range(-1000, 1000).Draw(t, "from")) * task.Step
		outer := rapid.Int64Range(2, 60).Draw(t, "outer numbers")
		task.PerOuter = rapid.Int64Range(2, 60).Draw(t, "per outer")
		task.To = task.From + Amount(outer*task.PerOuter-1)*task.Step
		task.Tolerance = Amount(rapid.Int64Range(0, task.Count()/8).Draw(t, "tolerance")) * task.Step
	case 1:
		a := Amount(rapid.Int64Range(-1000, 1000).Draw(t, "first")) * Unity
		for range rapid.IntRange(2, 100).Draw(t, "names") {
			task.Named = append(task.Named, a)
			a += Amount(rapid.Int64Range(1, 50).Draw(t, "gap")) * Unity
		}
	case 2:
		task.Base = rapid.Int64Range(2, 10).Draw(t, "base")
		for i := range rapid.IntRange(1, 5).Draw(t, "digits") {
			task.Digits = append(task.Digits, i)
		}
		task.Digits = rapid.Permutation(task.Digits).Draw(t, "order")
		task.Wrap = false
	}
	task.Start = anyDistribution(t, task)
	task.Target = anyDistribution(t, task)
	return task
}

func anyDistribution(t *rapid.T, task *Task) Distribution {
	number := func(label string) Amount {
		return task.At(rapid.Int64Range(0, task.Count()-1).Draw(t, label))
	}
	span := (task.At(task.Count()-1) - task.At(0)).Float()
	switch rapid.IntRange(0, 5).Draw(t, "distribution") {
	case 0:
		return Distribution{}
	case 1:
		var d Distribution
		for range 8 {
			d.Pairs = append(d.Pairs, Pair{number("from"), number("to")})
		}
		return d
	case 2:
		var d Distribution
		for range 8 {
			d.List = append(d.List, number("listed"))
		}
		return d
	case 3:
		return Distribution{Near: Near{SD: Amount(span * 1e6 / 3)}}
	case 4:
		return Distribution{Move: Move{From: Amount(span*1e6/100) + 1, To: Amount(span*1e6/2) + 2}}
	}
	return Distribution{MultiplesOf: Amount(span*1e6/10) + 1, Share: rapid.Float64Range(0, 1).Draw(t, "share")}
}

func TestEveryNumberHasItsIndex(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		task := anyTask(t)
		i := rapid.Int64Range(0, task.Count()-1).Draw(t, "i")
		a := task.At(i)
		if j, ok := task.Index(a); j != i || !ok {
			t.Fatalf("number %d is %v, whose index is %d, %v", i, a, j, ok)
		}
		if len(task.Digits) == 0 && i > 0 && task.At(i-1) >= a {
			t.Fatalf("number %d is %v and the one before it %v", i, a, task.At(i-1))
		}
		if j, ok := task.Index(a + 1); ok && task.At(j) != a+1 {
			t.Fatalf("%v is no number of the task and has index %d", a+1, j)
		}
	})
}

// What Draw promises: numbers of the task, further apart than the tolerance,
// and the same ones for the same trial.
func TestDrawnNumbersAreATrial(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		task := anyTask(t)
		trial := draw.NewTrial(rapid.Uint64().Draw(t, "seed"), task.Name, rapid.IntRange(0, 1e6).Draw(t, "trial"))
		start, target := task.Draw(trial)
		if start < 0 || start >= task.Count() || target < 0 || target >= task.Count() {
			t.Fatalf("from %d to %d of %d numbers", start, target, task.Count())
		}
		if d := task.Scale().Distance(start, target); max(d, -d) <= task.ToleranceSteps() {
			t.Fatalf("from %d to %d with a tolerance of %d", start, target, task.ToleranceSteps())
		}
		if s, g := task.Draw(trial); s != start || g != target {
			t.Fatalf("drawn again from %d to %d, first from %d to %d", s, g, start, target)
		}
	})
}

// The parts that the dials show put the number together again.
func TestDialsPutTheNumberTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		task := anyTask(t)
		i := rapid.Int64Range(0, task.Count()-1).Draw(t, "i")
		rings := rapid.IntRange(1, 2).Draw(t, "rings")
		sum, numbers := int64(0), int64(1)
		for _, d := range task.Dials(rings) {
			part := d.Part(i)
			if part < 0 || part >= d.Scale.Count {
				t.Fatalf("%q shows %d of %d numbers", d.Name, part, d.Scale.Count)
			}
			sum += part * d.Place
			numbers *= d.Scale.Count
		}
		if sum != i || numbers != task.Count() {
			t.Fatalf("the dials show %d of %d numbers, want %d of %d", sum, numbers, i, task.Count())
		}
	})
}

// The laws of encoder.Scale that tasks rely on.
func TestScaleLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := encoder.Scale{Count: rapid.Int64Range(1, 5000).Draw(t, "count"), Wrap: rapid.Bool().Draw(t, "wrap")}
		a := rapid.Int64Range(0, s.Count-1).Draw(t, "a")
		b := rapid.Int64Range(0, s.Count-1).Draw(t, "b")
		d := s.Distance(a, b)
		if got := s.Add(a, d); got != b {
			t.Fatalf("%d + (%d) = %d, want %d", a, d, got, b)
		}
		if s.Wrap && (2*d > s.Count || 2*d <= -s.Count) {
			t.Fatalf("%d is the longer way round %d", d, s.Count)
		}
		if back := s.Distance(b, a); back != -d && 2*d != s.Count {
			t.Fatalf("%d one way and %d the other", d, back)
		}
		for _, far := range []int64{d, 7 * s.Count, -7 * s.Count} {
			if got := s.Add(a, far); got < 0 || got >= s.Count {
				t.Fatalf("%d + (%d) = %d leaves the range", a, far, got)
			}
		}
		if s.Wrap && (s.Add(a, s.Count) != a || s.Add(s.Add(a, d), -d) != a) {
			t.Fatalf("turning and turning back from %d does not return", a)
		}
		if !s.Wrap && (s.Add(a, 2*s.Count) != s.Count-1 || s.Add(a, -2*s.Count) != 0) {
			t.Fatalf("the ends do not stop from %d", a)
		}
	})
}

// Pairs belong together: a trial never mixes two rows.
func TestStartAndTargetComeFromOneRow(t *testing.T) {
	var pairs []Pair
	for i := range Amount(50) {
		pairs = append(pairs, Pair{i * Unity, (99 - i) * Unity})
	}
	task := &Task{To: 99 * Unity, Start: Distribution{Pairs: pairs}, Target: Distribution{Pairs: pairs}}
	seen := map[int64]bool{}
	for n := range 1000 {
		start, target := task.Draw(draw.NewTrial(3, "rows", n))
		if start+target != 99 {
			t.Fatalf("trial %d goes from %d to %d", n, start, target)
		}
		seen[start] = true
	}
	if len(seen) != 50 {
		t.Errorf("%d of 50 rows in 1000 trials", len(seen))
	}
}

// Distributions that leave no trial get the ends, and where the range wraps two
// opposite numbers.
func TestATaskWithoutTrialsGetsTheEnds(t *testing.T) {
	only := Distribution{List: []Amount{50 * Unity}}
	elsewhere := Distribution{List: []Amount{1000 * Unity}}
	for _, d := range []Distribution{only, elsewhere, {MultiplesOf: 1000 * Unity, Share: 1}, {Near: Near{SD: Unity, Around: 1000 * Unity}}} {
		task := Task{From: 1 * Unity, To: 100 * Unity, Start: only, Target: d}
		if s, g := task.Draw(draw.NewTrial(1, "none", 0)); s != 0 || g != 99 {
			t.Errorf("from %d to %d, want the ends", s, g)
		}
		task.Wrap = true
		if s, g := task.Draw(draw.NewTrial(1, "none", 0)); s != 0 || g != 50 {
			t.Errorf("from %d to %d, want opposite numbers", s, g)
		}
	}
}

func TestTheZeroTaskHasOneNumber(t *testing.T) {
	var task Task
	if task.Count() != 1 || task.At(0) != 0 || task.Format(0) != "0" || len(task.Dials(2)) != 1 {
		t.Errorf("%d numbers, the first %s", task.Count(), task.Format(0))
	}
	if s, g := task.Draw(draw.NewTrial(1, "", 0)); s != 0 || g != 0 {
		t.Errorf("from %d to %d", s, g)
	}
}

func TestNumbersAndDistancesAreWrittenInTheTasksUnit(t *testing.T) {
	code := Transponder()
	i, _ := code.Index(42 * Unity)
	names := &Task{Unit: "kHz", Named: []Amount{118_000 * Unity, 118_005 * Unity}, Called: "channel name"}
	for _, test := range []struct{ got, want string }{
		{code.Format(i), "0042"},
		{AltimeterInHg().Format(192), "29.92 inHg"},
		{VerticalSpeed().Format(0), "-6000 ft/min"},
		{names.Format(1), "118005 kHz"},
		{names.Travel(1), "1 channel name"},
		{names.Travel(-1), "-1 channel name"},
		{names.Travel(3), "3 channel names"},
		{MapRange().Travel(2), "2 settings"},
		{Altitude().Travel(-3), "-300 ft"},
		{code.Travel(2), "2"},
	} {
		if test.got != test.want {
			t.Errorf("%q, want %q", test.got, test.want)
		}
	}
	for _, a := range []Amount{8 * Unity, -1 * Unity, 10000 * Unity, Unity / 2, 7778 * Unity} {
		if i, ok := code.Index(a); ok {
			t.Errorf("%v is code %d", a, i)
		}
	}
}

// A distribution that is ours says so, and every range and step has a source.
func TestEveryTaskNamesItsSource(t *testing.T) {
	names := map[string]bool{}
	for _, task := range Tasks() {
		if names[task.Name] || task.Name == "" || task.Title == "" || strings.Contains(task.Title+task.Source, "\n") {
			t.Errorf("task %q: %q", task.Name, task.Title)
		}
		names[task.Name] = true
		if !strings.Contains(task.Source, "distribution ours") {
			t.Errorf("%s does not say whose its distribution is: %q", task.Name, task.Source)
		}
		if p := task.PerOuter; p > 0 && task.Count()%p != 0 {
			t.Errorf("%s: %d numbers are not a multiple of %d", task.Name, task.Count(), p)
		}
		if task.Unit == "" && len(task.Digits) == 0 {
			t.Errorf("%s has no unit", task.Name)
		}
	}
}
