package report

import (
	"bytes"
	"context"
	"encoding/json"
	"slices"
	"strings"
	"sync"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/evidence"
	"dialwright/scenarios/file"
	"dialwright/scenarios/tune"
)

// little is evidence in short: what it says does not matter here.
var little = []evidence.Check{
	{ID: "A1", What: "a law", Source: "a study", Status: evidence.Memory, Published: "1 + 2·ID", Measured: "1.1 + 1.9·ID", Band: "10 %", Holds: new(bool)},
	{ID: "B1", What: "another", Source: "a standard", Status: evidence.Read, Published: "8 ms", Reason: "its recording is not here"},
}

// demoStudy is what the command does without flags.
func demoStudy() *Study {
	p, o := scenarios.Profiles()[0], scenarios.Operators()[1]
	return &Study{Panel: demo.Panel("quillmoor"), Profile: &p, Operator: &o, MaxOvershoot: 0.1, MaxLost: 0.05, For: tune.Speed, Trials: 400, Seed: 1, Workers: 2}
}

// smallStudy has the autopilot knob only, and little to choose there.
func smallStudy() *Study {
	s := demoStudy()
	s.Panel.Knobs = slices.DeleteFunc(s.Panel.Knobs, func(k scenarios.Knob) bool { return k.Name != "autopilot" })
	knob := &s.Panel.Knobs[0]
	knob.Tasks = knob.Tasks[:1]
	rig := *knob.Inner
	rig.Adjustable.Settings = slices.DeleteFunc(slices.Clone(rig.Adjustable.Settings), func(r scenarios.Range) bool { return r.Key != "firmware.queue" })
	rig.Adjustable.Curves = nil
	knob.Inner = &rig
	s.Workers = 1
	s.Trials, s.Evidence, s.MaxOvershoot = 60, little, 1 // without a cap on overshoot a search is short
	return s
}

var demoResult = sync.OnceValues(func() (*Result, error) { return Run(context.Background(), demoStudy()) })

var smallResult = sync.OnceValues(func() (*Result, error) { return Run(context.Background(), smallStudy()) })

// result is the demo's, or that of a small study where tests are to be short.
func result(t *testing.T) *Result {
	t.Helper()
	run := demoResult
	if testing.Short() {
		run = smallResult
	}
	r, err := run()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

var origin = Origin{Command: "dialwright report", Version: "test", Inputs: []file.Input{{Name: "quillmoor"}, {Name: "mine.yaml", SHA256: strings.Repeat("ab", 32)}}}

func pageOf(t *testing.T, r *Result) string {
	t.Helper()
	var out bytes.Buffer
	if err := r.HTML(&out, origin); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// The page of the demo is small enough to send by mail.
func TestPageIsUnder600KB(t *testing.T) {
	if n := len(pageOf(t, result(t))); n > 600_000 {
		t.Errorf("%d bytes", n)
	}
}

func TestSameSeedGivesSameBytesOnAnyWorkers(t *testing.T) {
	var all []string
	for _, workers := range []int{1, 3} {
		run := smallResult // on one worker
		if workers > 1 {
			s := smallStudy()
			s.Workers = workers
			run = func() (*Result, error) { return Run(context.Background(), s) }
		}
		r, err := run()
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := r.Text(&text, origin, true); err != nil {
			t.Fatal(err)
		}
		j, err := json.Marshal(r.Report())
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, pageOf(t, r)+text.String()+string(j))
	}
	if all[0] != all[1] {
		t.Error("one worker and three do not give the same bytes")
	}
}

// The same result is written the same way each time, whatever the order of maps.
func TestPageIsWrittenTheSameTwice(t *testing.T) {
	r := result(t)
	once, again := pageOf(t, r), pageOf(t, r)
	if once != again {
		t.Error("two pages of one result differ")
	}
}

func TestPageHasADateOnlyWhereAskedFor(t *testing.T) {
	r := result(t)
	if s := pageOf(t, r); strings.Contains(s, "202") && strings.Contains(s, "2026-") {
		t.Error("a date nobody asked for")
	}
	o := origin
	o.Date = "2026-11-25"
	var out bytes.Buffer
	if err := r.HTML(&out, o); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "2026-11-25") {
		t.Error("the date is missing")
	}
}

func TestAnInterruptedReportSaysSo(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s := smallStudy()
	s.Progress = func(done, all int) {
		if done > 82*all/100 { // where the time goes is being looked at
			cancel()
		}
	}
	r, err := Run(ctx, s)
	if err == nil || r == nil || !r.Partial {
		t.Fatalf("error %v, result %v", err, r != nil)
	}
	if s := pageOf(t, r); !strings.Contains(s, "Partial:") || !strings.Contains(s, "Where the time goes was not looked at") {
		t.Error("the page does not say what is missing")
	}
	cancelled, stop := context.WithCancel(context.Background())
	stop()
	if r, err := Run(cancelled, smallStudy()); r != nil || err == nil {
		t.Errorf("a report of nothing: %v", err)
	}
}

// The seed's own trials are what compare does under that seed.
func TestWatchedTrialsAreTheComparedOnes(t *testing.T) {
	for _, d := range result(t).Dialings {
		for _, w := range []*Way{&d.Before, &d.After} {
			if len(w.Watched.Sizes) == 0 && w.Trials.Summary().Overshoot.Value > 0 {
				t.Errorf("%s: no overshoots seen", d.Use.Task.Name)
			}
			overshoots, detents, lost := 0, 0, 0
			for _, n := range w.Watched.Sizes {
				overshoots += n
			}
			for _, c := range w.Watched.Rates {
				detents += c.Detents
				lost += c.Lost
			}
			compared := 0
			for _, o := range w.Trials.Overshot() {
				if o {
					compared++
				}
			}
			comparedDetents, comparedLost := 0, 0
			for n := range w.Trials.Seconds {
				comparedDetents += w.Trials.Detents[n]
				comparedLost += w.Trials.Lost[n]
			}
			if overshoots != compared || detents != comparedDetents || lost != comparedLost {
				t.Errorf("%s: watched %d overshoots, %d clicks, %d lost; compared %d, %d, %d", d.Use.Task.Name, overshoots, detents, lost, compared, comparedDetents, comparedLost)
			}
		}
	}
}

// A story ends on its target when the comparison says that it did.
func TestStoriesEndOnTheTargetInTime(t *testing.T) {
	r := result(t)
	if len(r.Stories) != 3 {
		t.Fatalf("%d stories", len(r.Stories))
	}
	for _, s := range r.Stories {
		for _, x := range []struct {
			Course
			*Way
		}{{s.Before, &s.Dialing.Before}, {s.After, &s.Dialing.After}} {
			if got, want := x.Course.Seconds(), x.Way.Trials.Seconds[s.Trial]; got != want {
				t.Errorf("%s: %v s, compared %v s", s.Kind, got, want)
			}
			last := x.Shown[len(x.Shown)-1]
			if tol := s.Dialing.Use.Task.ToleranceSteps(); last.Steps > tol || last.Steps < -tol {
				t.Errorf("%s: the number ends %d steps from the target", s.Kind, last.Steps)
			}
			if w := x.Waiting[len(x.Waiting)-1]; w.Steps != last.Steps {
				t.Errorf("%s: something waits for ever", s.Kind)
			}
			if s.Dialing.Use.Task.ToleranceSteps() == 0 && last.At > x.TimeToTarget {
				t.Errorf("%s: the number changes at %d, after it was right at %d", s.Kind, last.At, x.TimeToTarget)
			}
		}
	}
}

// An unlucky dialing is slower than a typical one, a typical one than a lucky one.
func TestStoriesAreWhatTheyAreCalled(t *testing.T) {
	s := result(t).Stories
	if !(s[1].Before.TimeToTarget < s[0].Before.TimeToTarget && s[0].Before.TimeToTarget < s[2].Before.TimeToTarget) {
		t.Errorf("lucky %d, typical %d, unlucky %d ns", s[1].Before.TimeToTarget, s[0].Before.TimeToTarget, s[2].Before.TimeToTarget)
	}
}

func TestTextFitsATerminalAndAPlainOneIsASCII(t *testing.T) {
	r := result(t)
	for _, unicode := range []bool{true, false} {
		var out bytes.Buffer
		if err := r.Text(&out, origin, unicode); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(out.String()) {
			line = strings.TrimRight(line, "\n")
			if n := len([]rune(line)); n > 80 && !strings.Contains(line, "SHA-256") {
				t.Errorf("%d columns: %s", n, line)
			}
			for _, c := range line {
				if c < ' ' || c == 0x7f || c > 0x7e && !unicode {
					t.Fatalf("%q in %q", c, line)
				}
			}
		}
	}
}

func BenchmarkReport(b *testing.B) {
	for b.Loop() {
		r, err := Run(context.Background(), demoStudy())
		if err != nil {
			b.Fatal(err)
		}
		var out bytes.Buffer
		if err := r.HTML(&out, origin); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(out.Len()), "bytes")
	}
}
