package compare_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/trial"
	"dialwright/testdata/golden"

	"pgregory.net/rapid"
)

// study compares profiles on the demo panel, small.
func study(trials int, profiles ...string) *compare.Study {
	s := &compare.Study{Panel: demo.Panel("quillmoor"), Trials: trials, Seed: 1, Workers: 1}
	for _, p := range scenarios.Profiles() {
		if len(profiles) == 0 || slices.Contains(profiles, p.Name) {
			s.Candidates = append(s.Candidates, candidate(p))
		}
	}
	return s
}

func candidate(p scenarios.Profile) compare.Candidate {
	o := scenarios.Practised()
	return compare.Candidate{Name: p.Name, Profile: &p, Operator: &o}
}

func run(t testing.TB, s *compare.Study) *compare.Result {
	r, err := compare.Run(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func Example() {
	operator := scenarios.Practised()
	profiles := scenarios.Profiles()
	s := &compare.Study{Panel: demo.Panel("quillmoor"), Trials: 100, Seed: 1, Workers: 2}
	for _, p := range profiles[:2] {
		s.Candidates = append(s.Candidates, compare.Candidate{Name: p.Name, Profile: &p, Operator: &operator})
	}
	r, err := compare.Run(context.Background(), s)
	if err != nil {
		fmt.Println(err)
		return
	}
	best := r.Study.Candidates[r.Ranking[0]].Name
	fmt.Printf("%d tasks; %s is the quickest over all of them\n", len(r.Uses), best)
	// Output: 6 tasks; ladder is the quickest over all of them
}

// Common random numbers: which candidates are compared, in which order, and on
// how many workers changes no number of any of them.
func TestNoCandidateChangesAnother(t *testing.T) {
	cells := func(r *compare.Result) map[string]string {
		all := map[string]string{}
		for _, p := range r.Report().Profiles {
			for i := range p.Tasks {
				p.Tasks[i].Against = nil
				b, err := json.Marshal(p.Tasks[i])
				if err != nil {
					t.Fatal(err)
				}
				all[p.Name+"/"+p.Tasks[i].Task] = string(b)
			}
		}
		return all
	}
	want := cells(run(t, study(70)))
	rapid.Check(t, func(t *rapid.T) {
		s := study(70)
		s.Workers = rapid.IntRange(1, 5).Draw(t, "workers")
		s.Candidates = rapid.Permutation(s.Candidates).Draw(t, "order")
		s.Candidates = s.Candidates[:rapid.IntRange(1, len(s.Candidates)).Draw(t, "candidates")]
		r, err := compare.Run(context.Background(), s)
		if err != nil {
			t.Fatal(err)
		}
		for name, got := range cells(r) {
			if got != want[name] {
				t.Errorf("%s with %d workers among %d candidates:\n%s\nnot\n%s", name, s.Workers, len(s.Candidates), got, want[name])
			}
		}
	})
}

// What practitioners complain of (common practice, no source): button pulses feel
// slow and lose or delay clicks, an aggressive curve overshoots, and relative
// counts do neither on the same task.
func TestButtonPulsesAreSlowAndRelativeCountsAreNot(t *testing.T) {
	s := study(400)
	heading := slices.DeleteFunc(s.Panel.Knobs, func(k scenarios.Knob) bool { return k.Name != "autopilot" })
	heading[0].Tasks = heading[0].Tasks[:1]
	s.Panel.Knobs = heading
	plain, steep := s.Candidates[0], s.Candidates[4]
	relative := plain
	relative.Name, relative.Rig = "relative", demo.Rig("right-relative")
	s.Candidates = []compare.Candidate{plain, steep, relative}
	r := run(t, s)
	pulses, curve, counts := r.Trials[0][0].Summary(), r.Trials[1][0].Summary(), r.Trials[2][0].Summary()
	if pulses.Lost.Low < 0.05 {
		t.Errorf("the button-pulse rig loses %.3f of the detents, too few to complain of", pulses.Lost.Value)
	}
	if !counts.Fated || counts.Lost.Value != 0 {
		t.Errorf("relative output lost %v of the detents", counts.Lost.Value)
	}
	if m := r.Against[2][0].Time.Median; m.High >= 0 {
		t.Errorf("relative output is not faster: %+v", m)
	}
	if curve.Overshoot.Low <= pulses.Overshoot.High {
		t.Errorf("%s overshoots in %.2f of the dialings, plain in %.2f", s.Candidates[1].Name, curve.Overshoot.Value, pulses.Overshoot.Value)
	}
}

func TestEveryNumberHasItsIntervalAndTheTableFits80Columns(t *testing.T) {
	r := run(t, study(60))
	for _, form := range []struct {
		name   string
		render func(*bytes.Buffer) error
	}{
		{"page.txt", func(b *bytes.Buffer) error { return r.Page().Print(b, columns.Width) }},
		{"narrow.txt", func(b *bytes.Buffer) error { return r.Page().Print(b, 60) }},
		{"table.txt", func(b *bytes.Buffer) error { return r.Detail().Print(b, columns.Width) }},
		{"table.md", func(b *bytes.Buffer) error { return r.Detail().Markdown(b) }},
		{"table.csv", func(b *bytes.Buffer) error { return r.Rows().CSV(b) }},
	} {
		var got bytes.Buffer
		if err := form.render(&got); err != nil {
			t.Fatal(err)
		}
		golden.Check(t, "testdata/"+form.name, got.String())
		if !strings.HasSuffix(form.name, ".txt") {
			continue
		}
		width := columns.Width
		if form.name == "narrow.txt" {
			width = 60
		}
		lines := 0
		for line := range strings.Lines(got.String()) {
			lines++
			if n := len([]rune(strings.TrimRight(line, "\n"))); n > width {
				t.Errorf("%s: %d columns: %s", form.name, n, line)
			}
		}
		if form.name == "page.txt" && lines > 30 {
			t.Errorf("the answer has %d lines", lines)
		}
	}
	for _, panel := range r.Trials {
		for _, x := range panel {
			c := x.Summary()
			if !(c.Time.Low <= c.Time.Value && c.Time.Value <= c.Time.High) || !(c.Overshoot.Low <= c.Overshoot.Value && c.Overshoot.Value <= c.Overshoot.High) {
				t.Errorf("interval of %+v or %+v does not hold its value", c.Time, c.Overshoot)
			}
		}
	}
}

// An interrupted comparison keeps what was finished, the same trials for all.
func TestInterruptedComparisonIsPartial(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	s := study(1_000_000, "plain", "power")
	s.Progress = func(done, _ int) {
		if done > 12*300 {
			cancel()
		}
	}
	r, err := compare.Run(ctx, s)
	if !errors.Is(err, context.Canceled) || r == nil || !r.Partial {
		t.Fatalf("result %v, error %v", r != nil, err)
	}
	n := r.Trials[0][0].Len()
	if n == 0 || n == s.Trials {
		t.Errorf("%d of %d trials", n, s.Trials)
	}
	// Every figure of every cell is that of the first n trials: of a study that asked
	// for no more.
	s.Trials, s.Progress = n, nil
	got := slices.Collect(r.Rows().Rows)
	for i, want := range slices.Collect(run(t, s).Rows().Rows) {
		if !reflect.DeepEqual(got[i], want) {
			t.Errorf("interrupted after %d trials:\n%v\na study of %d says\n%v", n, got[i], n, want)
		}
	}
}

// alone leaves a study one task, the heading.
func alone(s *compare.Study) *compare.Study {
	s.Panel.Knobs = s.Panel.Knobs[2:3]
	s.Panel.Knobs[0].Tasks = s.Panel.Knobs[0].Tasks[:1]
	return s
}

// ending is a context that ends when it is asked for the so-manieth time.
type ending struct {
	context.Context
	end  context.CancelFunc
	left int
}

func (e *ending) Err() error {
	if e.left--; e.left < 0 {
		e.end()
	}
	return e.Context.Err()
}

// Wherever it is interrupted, between cells or in the middle of one, a comparison that
// has a trial of every cell keeps as many of all of them, and says how many; before
// that there is none.
func TestAComparisonMayBeInterruptedAnywhere(t *testing.T) {
	one := func() *compare.Study { return alone(study(600, "plain", "power")) }
	whole := run(t, one())
	partial := 0
	for asked := 0; asked < 2*600; asked += 83 {
		ctx, cancel := context.WithCancel(context.Background())
		s := one()
		r, err := compare.Run(&ending{ctx, cancel, asked}, s)
		cancel()
		if !errors.Is(err, context.Canceled) {
			t.Fatalf("asked %d times: %v", asked, err)
		}
		if r == nil {
			if partial > 0 {
				t.Errorf("asked %d times: no result, but one sooner", asked)
			}
			continue
		}
		partial++
		n := r.Trials[0][0].Len()
		for i, panel := range r.Trials {
			for j, x := range panel {
				if x.Len() != n || !slices.Equal(x.Seconds, whole.Trials[i][j].Seconds[:n]) {
					t.Errorf("asked %d times: %d trials of a cell, %d of the first", asked, x.Len(), n)
				}
			}
		}
		said := fmt.Sprintf("Partial: interrupted after %d of 600 trials a cell.", n)
		for _, page := range []*columns.Page{r.Page(), r.Detail()} {
			var text strings.Builder
			if err := page.Print(&text, 10_000); err != nil {
				t.Fatal(err)
			}
			if !r.Partial || !strings.Contains(text.String(), said) {
				t.Errorf("asked %d times: no %q in\n%s", asked, said, text.String())
			}
		}
	}
	if partial < 5 {
		t.Errorf("only %d interrupted comparisons have a result", partial)
	}
}

// A rig on which only long trials would not end ends the comparison with the reason,
// though the trials before were fine.
func TestARunawayEndsTheComparison(t *testing.T) {
	s := alone(study(40, "plain"))
	rig := encoder.Default()
	rig.Knob.Bounce, rig.Firmware.Scan, rig.Firmware.Debounce = 6*time.Millisecond, time.Microsecond, 1
	s.Candidates[0].Rig = &scenarios.Rig{Rig: rig}
	var runaway *encoder.Runaway
	if r, err := compare.Run(context.Background(), s); !errors.As(err, &runaway) || r != nil {
		t.Errorf("%v, error %v", r != nil, err)
	}
}

// Two names of the same settings differ in nothing, and the page says so where all
// tasks are weighed together too.
func TestTheSameSettingsShowNoDifference(t *testing.T) {
	s := study(40, "plain")
	twin := s.Candidates[0]
	twin.Name = "twin"
	s.Candidates = append(s.Candidates, twin)
	r := run(t, s)
	if a := r.Overall[1].Against; a.P != 1 || a.Mean.Value != 0 {
		t.Errorf("against itself: %+v", a)
	}
	var page strings.Builder
	if err := r.Detail().Print(&page, columns.Width); err != nil {
		t.Fatal(err)
	}
	_, overall, found := strings.Cut(page.String(), "All tasks, weighted")
	if !found || !regexp.MustCompile(`(?m)^ > twin .*  no difference found$`).MatchString(overall) {
		t.Errorf("all tasks: %s", overall)
	}
	if n := strings.Count(strings.Join(strings.Fields(page.String()), " "), "(the same time in all 40 trials)"); n != len(r.Uses) {
		t.Errorf("%d of %d tasks are the same:\n%s", n, len(r.Uses), page.String())
	}
}

// BenchmarkDemo is the demo's comparison, statistics included, with one worker and
// with two, in turn, so that their ratio is measured in one run.
func BenchmarkDemo(b *testing.B) {
	var took [3]time.Duration // by workers
	trials := 0
	b.ReportAllocs()
	for b.Loop() {
		for workers := 1; workers <= 2; workers++ {
			s := study(400)
			s.Workers = workers
			began := time.Now()
			r := run(b, s)
			took[workers] += time.Since(began)
			if workers == 1 {
				for _, panel := range r.Trials {
					for _, x := range panel {
						trials += x.Len()
					}
				}
			}
		}
	}
	b.ReportMetric(float64(trials)/took[1].Seconds(), "trials/s-1")
	b.ReportMetric(float64(trials)/took[2].Seconds(), "trials/s-2")
	b.ReportMetric(took[1].Seconds()/took[2].Seconds(), "times")
}

// BenchmarkWorkers does nothing but trials, with one worker and with two in turn.
func BenchmarkWorkers(b *testing.B) {
	const trials = 20_000
	p := demo.Panel("quillmoor")
	o, profile := scenarios.Practised(), scenarios.Profiles()[0]
	var took [3]time.Duration
	n := 0
	for b.Loop() {
		for _, s := range p.Served() {
			if s.Task.Name != "heading" {
				continue
			}
			bench, err := new(trial.Grips).Seat(s, &profile, &o)
			if err != nil {
				b.Fatal(err)
			}
			for workers := 1; workers <= 2; workers++ {
				began := time.Now()
				if _, err := trial.Batch(b.Context(), bench.Bench, 1, n, n+trials, workers, func(int, *trial.Result) {}); err != nil {
					b.Fatal(err)
				}
				took[workers] += time.Since(began)
			}
			n += trials
		}
	}
	b.ReportMetric(float64(n)/took[1].Seconds(), "trials/s-1")
	b.ReportMetric(float64(n)/took[2].Seconds(), "trials/s-2")
	b.ReportMetric(took[1].Seconds()/took[2].Seconds(), "times")
}

func BenchmarkTrial(b *testing.B) {
	p := demo.Panel("quillmoor")
	o := scenarios.Practised()
	for _, s := range p.Served() {
		if s.Task.Name != "heading" && s.Task.Name != "com-25" {
			continue
		}
		for _, profile := range scenarios.Profiles()[:4] {
			b.Run(s.Task.Name+"/"+profile.Name, func(b *testing.B) {
				bench, err := new(trial.Grips).Seat(s, &profile, &o)
				if err != nil {
					b.Fatal(err)
				}
				b.ReportAllocs()
				n := 0
				for b.Loop() {
					bench.Run(1, n)
					n++
				}
				b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "trials/s")
			})
		}
	}
}

// What nothing beats is worth choosing between: the quickest always, and of two with
// the same time the one that overshoots less.
func TestWhatIsBeatenIsNotWorthChoosing(t *testing.T) {
	s := study(60, "plain", "ladder", "power")
	r := run(t, s)
	set := func(i int, seconds, overshoot float64) {
		r.Overall[i].Seconds.Value, r.Overall[i].Overshoot = seconds, overshoot
	}
	for _, c := range []struct {
		seconds, overshoot [3]float64
		want               string
	}{
		{[3]float64{9, 6, 5}, [3]float64{0.08, 0.2, 0.3}, "Worth choosing between: power (quickest: 5.0 s, 30 % overshoot), ladder, plain (calmest: 9.0 s, 8 % overshoot). Only plain keeps"},
		{[3]float64{9, 5.6, 5}, [3]float64{0.08, 0.2, 0.2}, "Worth choosing between: power (quickest: 5.0 s, 20 % overshoot), plain (calmest: 9.0 s, 8 % overshoot). ladder: beaten by power. Only plain keeps overshoot within 10 %; tune searches for quicker settings that do."},
		{[3]float64{9, 5.05, 5}, [3]float64{0.08, 0.2, 0.3}, "Worth choosing between: ladder (quickest: 5.0 s, 20 % overshoot), plain (calmest: 9.0 s, 8 % overshoot). power: beaten by ladder."},
		{[3]float64{9, 6, 5}, [3]float64{0.1, 0.2, 0.3}, "Worth choosing between: power (quickest: 5.0 s, 30 % overshoot), ladder, plain (calmest: 9.0 s, 10 % overshoot). Only plain keeps overshoot within 10 %"},
		{[3]float64{9, 6, 5}, [3]float64{0.106, 0.2, 0.3}, "Worth choosing between: power (quickest: 5.0 s, 30 % overshoot), ladder, plain (calmest: 9.0 s, 11 % overshoot). None keeps"},
		{[3]float64{9, 6, 5}, [3]float64{0.4, 0.35, 0.3}, "power beats the rest: 5.0 s, 30 % overshoot. None keeps"},
		{[3]float64{9, 9, 5}, [3]float64{0.05, 0.05, 0.05}, "power beats the rest: 5.0 s, 5 % overshoot."},
		{[3]float64{5, 5, 9}, [3]float64{0.25, 0.26, 0.3}, "plain beats the rest: 5.0 s, 25 % overshoot. None keeps"}, // by a point
		{[3]float64{5, 5.01, 9}, [3]float64{0.05, 0.05, 0.3}, "Worth choosing between: plain (quickest: 5.0 s, 5 % overshoot), ladder (calmest: 5.0 s, 5 % overshoot). power: beaten by plain."},
	} {
		for i := range 3 {
			set(i, c.seconds[i], c.overshoot[i])
		}
		slices.SortStableFunc(r.Ranking, func(a, b int) int {
			return int(1000 * (r.Overall[a].Seconds.Value - r.Overall[b].Seconds.Value))
		})
		var page strings.Builder
		if err := r.Page().Print(&page, 10_000); err != nil {
			t.Fatal(err)
		}
		first, _, _ := strings.Cut(page.String(), "\n")
		if !strings.HasPrefix(first, c.want) {
			t.Errorf("%v %v:\n got %s\nwant %s", c.seconds, c.overshoot, first, c.want)
		}
		for i, candidate := range s.Candidates {
			worth := strings.Contains(first, candidate.Name+" (") || strings.Contains(first, candidate.Name+" beats") || strings.Contains(first, ", "+candidate.Name+",")
			if marked := strings.Contains(page.String(), "> "+candidate.Name+" "); marked != worth {
				t.Errorf("%v %v: %s is worth choosing %t, marked %t", c.seconds, c.overshoot, s.Candidates[i].Name, worth, marked)
			}
		}
	}
}

// Those that one candidate beats are said in one sentence, when it is all the others.
func TestWhatOneBeatsIsSaidOnce(t *testing.T) {
	r := run(t, study(60, "plain", "ladder", "power", "linear"))
	said := func(seconds, overshoot [4]float64) string {
		for i := range r.Overall {
			r.Overall[i].Seconds.Value, r.Overall[i].Overshoot = seconds[i], overshoot[i]
		}
		slices.SortStableFunc(r.Ranking, func(a, b int) int { return int(1000 * (seconds[a] - seconds[b])) })
		var page strings.Builder
		if err := r.Page().Print(&page, 10_000); err != nil {
			t.Fatal(err)
		}
		first, _, _ := strings.Cut(page.String(), "\n")
		return first
	}
	names := r.Study.Candidates
	quick, calm, one, other := names[0].Name, names[1].Name, names[2].Name, names[3].Name
	for _, c := range []struct {
		seconds, overshoot [4]float64
		want               string
	}{
		{[4]float64{5, 9, 10, 11}, [4]float64{0.3, 0.1, 0.35, 0.4}, "Each of the others is beaten by " + quick + ": no quicker, and no calmer."},
		{[4]float64{5, 9, 10, 11}, [4]float64{0.3, 0.1, 0.35, 0.2}, one + ": beaten by " + quick + ". " + other + ": beaten by " + calm + "."},
		{[4]float64{5, 9, 10, 8}, [4]float64{0.3, 0.1, 0.35, 0.2}, one + ": beaten by " + quick + "."},
	} {
		if got := said(c.seconds, c.overshoot); !strings.Contains(got, c.want) {
			t.Errorf("%v %v:\n got %s\nwant %s", c.seconds, c.overshoot, got, c.want)
		}
	}
}

// A difference is measured against the first candidate: its name, as far as there is
// room, and a fiftieth of its time.
func TestDifferencesAreAgainstTheFirstCandidate(t *testing.T) {
	s := study(60, "plain", "ladder")
	r := run(t, s)
	page := func() string {
		var page strings.Builder
		if err := r.Page().Print(&page, 10_000); err != nil {
			t.Fatal(err)
		}
		return page.String()
	}
	for name, want := range map[string]string{"plain": "against plain, s", "sixteen letters.": "against sixteen letters., s", "seventeen letters": "against the first, s"} {
		s.Candidates[0].Name = name
		if !strings.Contains(page(), want) {
			t.Errorf("no %q in\n%s", want, page())
		}
	}
	for less, want := range map[float64]string{1.58: "no useful difference", 1.61: "−1.6 (−1.6"} { // of 80 s, 1.6 s are a fiftieth
		r.Overall[0].Seconds.Value, r.Overall[1].Seconds.Value = 80, 80-less
		r.Overall[1].Against = paired.Average{Mean: paired.Estimate{Value: -less, Low: -less, High: -less}}
		if !strings.Contains(page(), want) {
			t.Errorf("%g s of 80: no %q in\n%s", less, want, page())
		}
	}
}

// What is done is told of all that there is to do.
func TestProgressEndsWithTheLastTrial(t *testing.T) {
	s := study(300, "plain", "ladder")
	most := 0
	s.Progress = func(done, all int) {
		if most = max(most, done); all != 2*6*300 {
			t.Fatalf("%d of %d trials, want %d", done, all, 2*6*300)
		}
	}
	if run(t, s); most != 2*6*300 {
		t.Errorf("the last word was of %d trials", most)
	}
}
