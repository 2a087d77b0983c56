package overshoot

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/paired"
	"dialwright/testdata/golden"

	"pgregory.net/rapid"
)

func study(trials int, profile int, tasks ...string) *Study {
	panel := demo.Panel("quillmoor")
	o := scenarios.Practised()
	p := scenarios.Profiles()[profile]
	s := &Study{Profile: &p, Operators: []*scenarios.Operator{&o}, Trials: trials, Seed: 1, Workers: 2}
	for _, name := range tasks {
		s.Tasks = append(s.Tasks, panel.Only(scenarios.Pick{Task: demo.Task(name)}).Served()[0])
	}
	return s
}

func run(t testing.TB, s *Study) *Result {
	r, err := Run(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func Example() {
	operator := scenarios.Practised()
	profile := scenarios.Profiles()[3]
	r, err := Run(context.Background(), &Study{
		Tasks: demo.Panel("quillmoor").Served()[:1], Profile: &profile, Operators: []*scenarios.Operator{&operator}, Trials: 200, Seed: 1,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	f := r.Answers[0]
	fmt.Printf("%s on %s, %d rings, %d trials\n", profile.Name, f.Use.Task.Name, len(f.Rings), f.Len())
	// Output: power on com-25, 2 rings, 200 trials
}

// detents of a constructed trial: when, and the step that each brought, 0 for
// none.
type turned struct {
	at, stepAt int64
	dir        int8
	count      int64
	cause      encoder.Cause
	waits      bool
}

// tell makes a story of strokes and the detents that they turned, from 0 to a
// target of 20 on a range without ends.
func tell(landing bool, strokes []hand.Act, detents ...turned) *story {
	s := &story{target: 20, waited: map[int]bool{}}
	if landing {
		s.lands = []int64{10}
	}
	value := int64(0)
	for i, d := range detents {
		s.turned = append(s.turned, d.at)
		s.waited[i] = d.waits
		value += int64(d.dir) * d.count
		s.steps = append(s.steps, encoder.Event{At: d.stepAt, Kind: encoder.Stepped, Dir: d.dir, Detent: i, Count: d.count, Value: value, Cause: d.cause})
	}
	s.acts = strokes
	return s
}

func stroke(at, until, missing, planned, turned, travel, fair int64) hand.Act {
	return hand.Act{Kind: hand.Stroke, At: at, Until: until, Missing: missing * handStep, Planned: planned, Turned: turned, Travel: travel * handStep, Fair: fair * handStep}
}

// clicks of one step each, every 10 from a time on; their steps come `late` later.
func train(from, n, late, count int64) []turned {
	var ts []turned
	for i := range n {
		ts = append(ts, turned{at: from + 10*i, stepAt: from + 10*i + late, dir: 1, count: count})
	}
	return ts
}

// Constructed trials, each with one cause that is known.
func TestEveryCauseIsFoundWhereItIsKnown(t *testing.T) {
	join := func(parts ...[]turned) (all []turned) {
		for _, p := range parts {
			all = append(all, p...)
		}
		return all
	}
	waiting := train(100, 15, 500, 1)
	for i := range waiting {
		waiting[i].waits = i > 0
	}
	repeated := append(train(100, 20, 5, 1), turned{at: 290, stepAt: 900, dir: 1, count: 4, cause: encoder.ByRepeat})
	between := train(100, 20, 5, 1)
	between[3].count, between[3].cause = 4, encoder.ByRepeat
	// Twenty-two turned of twenty planned, and as many steps by repeat: half of the excess.
	half := append(train(100, 22, 5, 1), turned{at: 310, stepAt: 900, dir: 1, count: 2, cause: encoder.ByRepeat})
	// Twenty-three turned, and two by repeat: two fifths of it.
	fifths := append(train(100, 23, 5, 1), turned{at: 320, stepAt: 900, dir: 1, count: 2, cause: encoder.ByRepeat})
	for _, x := range []struct {
		cause Cause
		story *story
	}{
		{FromRepeat, tell(false, []hand.Act{stroke(90, 400, 20, 20, 22, 20, 20)}, half...)},
		{FromNoise, tell(false, []hand.Act{stroke(90, 400, 20, 20, 23, 20, 20)}, fifths...)},
		// Twenty clicks as planned; then the key repeats four times.
		{FromRepeat, tell(false, []hand.Act{stroke(90, 300, 20, 20, 20, 20, 20)}, repeated...)},
		// Four repeats come between the clicks; the last click goes past.
		{FromRepeat, tell(false, []hand.Act{stroke(90, 300, 20, 20, 20, 20, 20)}, between...)},
		// Fifteen clicks are waiting when the person, who saw none of them, turns
		// another twelve for twelve that seem to be missing.
		{FromBacklog, tell(false, []hand.Act{stroke(90, 250, 20, 15, 15, 15, 15), stroke(300, 420, 12, 12, 12, 12, 12)}, join(waiting, train(310, 12, 700, 1))...)},
		// The same without a queue: they are only late.
		{FromLag, tell(false, []hand.Act{stroke(90, 250, 20, 15, 15, 15, 15), stroke(300, 420, 12, 12, 12, 12, 12)}, join(train(100, 15, 500, 1), train(310, 12, 700, 1))...)},
		// Twenty planned, twenty-four turned.
		{FromNoise, tell(false, []hand.Act{stroke(90, 400, 20, 20, 24, 20, 20)}, train(100, 24, 5, 1)...)},
		// Two clicks at 10 a click are believed to bring 20 from 5: they land on 10
		// and 20, and a third on 30.
		{FromLanding, tell(true, []hand.Act{stroke(90, 400, 20, 3, 3, 21, 21)}, train(100, 3, 5, 10)...)},
		// Five planned and turned, 4 a click on average and believed; this time 6.
		{FromGain, tell(false, []hand.Act{stroke(90, 400, 20, 5, 5, 20, 20)}, train(100, 5, 5, 6)...)},
		// They bring 6 a click on average, but the person believed 4.
		{FromPerson, tell(false, []hand.Act{stroke(90, 400, 20, 5, 5, 20, 30)}, train(100, 5, 5, 6)...)},
	} {
		if _, _, _, ok := x.story.crossing(); !ok {
			t.Errorf("%s: did not go past", x.cause)
		}
		if got := x.story.cause(); got != x.cause {
			t.Errorf("%s: found %s", x.cause, got)
		}
	}
	if _, _, _, ok := tell(false, []hand.Act{stroke(90, 300, 20, 20, 20, 20, 20)}, train(100, 20, 5, 1)...).crossing(); ok {
		t.Error("a trial that ends on its target went past")
	}
}

// The histogram agrees with a count of the raw trials that knows nothing of it.
func TestHistogramAgreesWithTheRawTrials(t *testing.T) {
	s := study(300, 4, "com-25", "heading", "transponder")
	s.Every = true
	r := run(t, s)
	var raw bytes.Buffer
	if err := r.Trials().CSV(&raw); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&raw).ReadAll()
	if err != nil || len(rows) != 1+3*300 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	parse := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	for _, f := range r.Answers {
		overshot, trials := 0, 0
		causes := map[string]int{}
		sizes := make([]map[int64]int, len(f.Rings))
		for k := range sizes {
			sizes[k] = map[int64]int{}
		}
		var extra []float64
		for _, row := range rows[1:] {
			if row[0] != f.Use.Task.Name {
				continue
			}
			trials++
			steps, err := strconv.ParseInt(row[9], 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			if steps >= 1 != (row[7] == "true") {
				t.Errorf("%v: steps and overshot disagree", row)
			}
			if steps >= 1 {
				overshot++
				causes[row[11]]++
			}
			if row[17] != "" {
				extra = append(extra, parse(row[17]))
			}
			rings := strings.Fields(row[16])
			if len(rings) != len(f.Rings) {
				t.Fatalf("%v: %d rings, the table has %d", row, len(rings), len(f.Rings))
			}
			most := int64(0)
			for k, text := range rings {
				n := int64(parse(text))
				most = max(most, n)
				if n >= 1 {
					sizes[k][n]++
				}
			}
			if most != steps {
				t.Errorf("%v: the largest of the rings is %d", row, most)
			}
			for _, x := range []struct {
				of  []Quarter
				row int
			}{{f.Distance, 18}, {f.Speed, 19}} {
				for k := range x.of {
					if row[x.row] != "" && parse(row[x.row]) <= x.of[k].To+1e-6 && (k == 0 || parse(row[x.row]) > x.of[k-1].To+1e-6) {
						x.of[k].Trials-- // counted down to 0
					}
				}
			}
		}
		if trials != f.Len() || paired.ShareInterval(overshot, trials) != f.Summary().Overshoot {
			t.Errorf("%s: %d of %d trials overshot, the table says %v", f.Use.Task.Name, overshot, trials, f.Summary().Overshoot)
		}
		for c, n := range f.Causes {
			if causes[Cause(c).String()] != n {
				t.Errorf("%s: %d by %s, the table says %d", f.Use.Task.Name, causes[Cause(c).String()], Cause(c), n)
			}
		}
		if overshot == 0 {
			t.Errorf("%s: nothing overshot", f.Use.Task.Name)
		}
		for k, ring := range f.Rings {
			if !maps.Equal(ring.Sizes, sizes[k]) {
				t.Errorf("%s, ring %q: %v in the trials, the histogram has %v", f.Use.Task.Name, ring.Name, sizes[k], ring.Sizes)
			}
		}
		if got := paired.QuantileInterval(extra, 0.5); math.Abs(got.Value-f.Extra.Value) > 1e-6 {
			t.Errorf("%s: extra time %g s, the table says %g", f.Use.Task.Name, got.Value, f.Extra.Value)
		}
		for _, q := range slices.Concat(f.Distance, f.Speed) {
			if q.Trials != 0 {
				t.Errorf("%s: a quarter is off by %d trials", f.Use.Task.Name, q.Trials)
			}
		}
	}
}

// On the button-pulse rig a queue that is slow and deep makes run-on; the same
// turns with relative counts have none.
func TestSlowPulsesRunOn(t *testing.T) {
	runOn := func(change func(*encoder.Rig)) int {
		s := study(300, 0, "heading")
		rig := demo.Rig("left-pulse")
		change(&rig.Rig)
		s.Tasks[0].Knob.Inner = rig
		f := run(t, s).Answers[0]
		return f.Causes[FromBacklog]
	}
	slow := runOn(func(r *encoder.Rig) { r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = 80e6, 80e6, 40 })
	none := runOn(func(r *encoder.Rig) { *r = demo.Rig("right-relative").Rig })
	if slow == 0 || none != 0 {
		t.Errorf("%d overshoots by run-on from backlog with slow pulses, %d with relative counts", slow, none)
	}
}

func TestAnswersDoNotDependOnTheWorkers(t *testing.T) {
	s := study(100, 2, "com-25", "nav")
	s.Workers = 1
	text := func() string {
		b, err := json.Marshal(run(t, s).Report())
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	want := text()
	s.Workers = 3
	if got := text(); got != want {
		t.Errorf("%s\nnot\n%s", got, want)
	}
}

// The suggested order and direction of the digits shows no alarm code between any
// two codes that are none themselves. (Every pair of codes: 16 million; here every
// tenth start and every seventh target, all of them in package scenarios.)
func TestSuggestedDigitOrderShowsNoAlarm(t *testing.T) {
	task := scenarios.Transponder()
	for from := int64(0); from < task.Count(); from += 10 {
		for to := int64(3); to < task.Count(); to += 7 {
			if task.Alarmed(from) || task.Alarmed(to) {
				continue
			}
			turns, crossed := task.SafeTurns(from, to)
			if crossed != 0 || task.Crossed(from, turns) != 0 {
				t.Fatalf("from %s to %s %d alarms are shown", task.Format(from), task.Format(to), crossed)
			}
		}
	}
}

func BenchmarkDemo(b *testing.B) {
	var operators []*scenarios.Operator
	for _, o := range scenarios.Operators() {
		operators = append(operators, &o)
	}
	for b.Loop() {
		s := study(1000, 3, "com-25", "nav")
		s.Operators = operators
		run(b, s)
	}
}

// Rigs and people of which only one thing can carry the number past its target:
// nearly every overshoot has that cause. (Landing needs a curve, which has a cause of
// its own.)
func TestTheOnlyPossibleCauseIsFound(t *testing.T) {
	// A path without loss, delay or repeats, in the hands of somebody who knows
	// it and whose strokes are exact.
	path := encoder.Rig{
		Knob:     encoder.Knob{Detents: 24, Cycles: 24, MinState: 0.25},
		Firmware: encoder.Firmware{Scan: 1e5, Debounce: 1, CountsPerDetent: 1, Output: encoder.Relative},
		USB:      encoder.USB{Poll: 1e6},
		Program:  encoder.Program{Sampling: encoder.Immediate},
	}
	exact := scenarios.Practised()
	exact.Noise.Mean, exact.FingerNoiseDeg.Mean, exact.PaceNoise.Mean, exact.FeltNoise.Mean, exact.GainError.Mean = 0, 0, 0, 0, 0
	exact.Familiarity = scenarios.Spread{Mean: 1}
	stranger := scenarios.Spread{Mean: 0.01}
	ladder := scenarios.Profiles()[1]
	landing := ladder
	landing.Acceleration.Landing = 5
	for _, x := range []struct {
		cause   Cause
		profile scenarios.Profile
		spoil   func(*encoder.Rig, *scenarios.Operator)
	}{
		{FromRepeat, scenarios.Profile{Name: "plain"}, func(r *encoder.Rig, _ *scenarios.Operator) {
			f := &r.Firmware
			f.Output, f.Pulse, f.Gap, f.Queue = encoder.Keys, 40e6, 10e6, 40
			r.System.Repeat = encoder.Repeat{Delay: 20e6, Rate: 60}
		}},
		{FromBacklog, scenarios.Profile{Name: "plain"}, func(r *encoder.Rig, o *scenarios.Operator) {
			f := &r.Firmware
			f.Output, f.Pulse, f.Gap, f.Queue = encoder.Buttons, 80e6, 80e6, 40
			o.Familiarity = stranger
		}},
		{FromLag, scenarios.Profile{Name: "plain"}, func(r *encoder.Rig, o *scenarios.Operator) {
			r.Display.Latency = 400e6
			o.Familiarity = stranger
		}},
		{FromNoise, scenarios.Profile{Name: "plain"}, func(_ *encoder.Rig, o *scenarios.Operator) { o.Noise.Mean = 0.3 }},
		{FromPlan, ladder, func(*encoder.Rig, *scenarios.Operator) {}},
		{FromGain, ladder, func(_ *encoder.Rig, o *scenarios.Operator) { o.PaceNoise.Mean = 0.2 }},
		{FromPerson, ladder, func(_ *encoder.Rig, o *scenarios.Operator) { o.GainError.Mean = 0.5 }},
		{FromLanding, landing, func(*encoder.Rig, *scenarios.Operator) {}},
	} {
		s := study(1000, 0, "heading")
		rig := &scenarios.Rig{Rig: path}
		rig.Name = x.cause.String()
		operator := exact
		x.spoil(&rig.Rig, &operator)
		s.Tasks[0].Knob.Inner, s.Profile, s.Operators[0] = rig, &x.profile, &operator
		f := run(t, s).Answers[0]
		all := 0
		for _, n := range f.Causes {
			all += n
		}
		if x.cause != FromPlan {
			all -= f.Causes[FromPlan] // a ladder gives reasons to
		}
		least, few := 75, 20 // %
		if x.cause == FromLag {
			few = 5 // who sees nothing move waits
		}
		if x.cause == FromLanding {
			least = 50 // a ladder that lands is still a ladder, whose gain may surprise
		}
		if all < few || 100*f.Causes[x.cause] < least*all {
			t.Errorf("%s: %d of %d overshoots: %v", x.cause, f.Causes[x.cause], all, f.Causes)
		}
	}
}

// The open line of a histogram never holds more than a tenth, no size is lost, and the
// lines follow each other.
func TestNoHistogramHidesMuchInItsLastLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sizes := rapid.MapOf(rapid.Int64Range(1, 200), rapid.IntRange(1, 50)).Draw(t, "sizes")
		all, shown, end := 0, 0, int64(0)
		for _, n := range sizes {
			all += n
		}
		lines := bins(sizes)
		for i, b := range lines {
			shown += b.trials
			if b.from <= end || b.to < b.from {
				t.Fatalf("%+v", lines)
			}
			if end = b.to; b.open && (i != len(lines)-1 || 10*b.trials > all) {
				t.Fatalf("%d of %d are in the open line: %+v", b.trials, all, lines)
			}
		}
		if shown != all || len(lines) > mostLines {
			t.Fatalf("%d of %d shown in %d lines: %+v", shown, all, len(lines), lines)
		}
	})
}

// The screens, at both widths that are promised.
func TestScreens(t *testing.T) {
	s := study(120, 3, "com-25", "nav", "transponder")
	for _, o := range scenarios.Operators() {
		if o.Name != "practised" {
			s.Operators = append(s.Operators, &o)
		}
	}
	s.Replay = func(task, operator string) string { return "--task " + task + " --operator " + operator }
	r := run(t, s)
	for name, page := range map[string]func() *columns.Page{"page": r.Page, "detail": r.Detail} {
		for _, width := range []int{80, 60} {
			var out strings.Builder
			if err := page().Print(&out, width); err != nil {
				t.Fatal(err)
			}
			for line := range strings.Lines(out.String()) {
				if n := len([]rune(strings.TrimSuffix(line, "\n"))); n > width {
					t.Errorf("%d columns: %s", n, line)
				}
			}
			if n := strings.Count(out.String(), "\n"); name == "page" && n > 30 {
				t.Errorf("%d lines", n)
			}
			golden.Check(t, fmt.Sprintf("testdata/%s-%d.txt", name, width), out.String())
		}
	}
}
