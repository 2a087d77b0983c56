package evidence

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"dialwright/testdata/golden"
)

// full is every check at full size, computed once.
var full = sync.OnceValues(func() ([]Check, error) { return Checks(context.Background(), Full, 2, nil) })

func TestEveryPublishedValueHolds(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	checks, err := full()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range checks {
		t.Logf("%-4s %-13s %s: published %s, measured %s (band: %s) %s", c.ID, c.Answer(), c.What, c.Published, c.Measured, c.Band, c.Reason)
		if c.Holds != nil && !*c.Holds {
			t.Errorf("%s does not hold: %s", c.ID, c.What)
		}
	}
}

// No row about people holds by the luck of one seed; nor do B16 and C10.
func TestRowsAboutPeopleHoldOnFiveSeeds(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	unchecked := []string{"A5", "A12", "A13", "A20", "learning"} // shown, not compared, or of no people
	ids := append(slices.DeleteFunc(IDs(), func(id string) bool { return kindOf(id) != People || slices.Contains(unchecked, id) }), "B16", "C10")
	for seed := uint64(2); seed <= 5; seed++ {
		size := Full
		size.Seed = seed
		checks, err := Checks(context.Background(), size, 2, nil, ids...)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range Broken(checks) {
			t.Errorf("seed %d: %s does not hold: %s: %s (band: %s)", seed, c.ID, c.What, c.Measured, c.Band)
		}
	}
}

// The README's section must say what this build computes.
// go test ./scenarios/evidence -run README -update rewrites it.
func TestTheREADMESaysWhatThisBuildComputes(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	const name, begin, end = "../../README.md", "<!-- evidence: begin -->\n", "<!-- evidence: end -->"
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok1 := strings.Cut(string(text), begin)
	section, after, ok2 := strings.Cut(rest, end)
	if !ok1 || !ok2 {
		t.Fatalf("%s has no lines %q and %q", name, begin, end)
	}
	checks, err := full()
	if err != nil {
		t.Fatal(err)
	}
	// Where the shared data is not beside the clone the count is another one.
	for i := range checks {
		if checks[i].ID == "A13" {
			checks[i] = checks[i].judged(true)
		}
	}
	var want strings.Builder
	if err := readme(&want, checks); err != nil {
		t.Fatal(err)
	}
	if section == want.String() {
		return
	}
	if !*golden.Update {
		t.Fatalf("README.md says\n%s\nthis build computes\n%s\n(-update rewrites it)", section, want.String())
	}
	if err := os.WriteFile(name, []byte(before+begin+want.String()+end+after), 0o644); err != nil {
		t.Fatal(err)
	}
}

// printed are checks of every standing.
func printed() []Check {
	yes := Check{ID: "A1", Kind: People, What: "one", Published: "1", Measured: "1.1", Band: "near", Source: "somebody", Status: Read}.judged(true).inBrief("short one", "1", "1.1")
	no := Check{ID: "A2", Kind: People, What: "two", Published: "2", Measured: "3 | 4", Band: "equal", Source: "somebody", Status: Memory}.judged(false)
	open := Check{ID: "A3", Kind: People, What: "three", Published: "3", Band: "equal", Source: "nobody", Status: Practice, Reason: "no file"}
	set := Check{ID: "B4", Kind: Path, What: "four", Published: "4", Measured: "4.1", Band: "near", Source: "somebody", Status: Read}.judged(true).setOn()
	shown := Check{ID: "C5", Kind: Tasks, What: "five", Published: "5", Measured: "5", Band: "equal", Source: "somebody", Status: Read}.shown(true, "written down so")
	wrong := Check{ID: "C6", Kind: Tasks, What: "six", Published: "6", Measured: "7", Band: "equal", Source: "somebody", Status: Read}.shown(false, "written down so")
	unread := Check{ID: "A20", Kind: People, What: "seven", Published: "?", Source: "somebody", Status: Uncompared, Reason: "not read"}
	return []Check{yes, no, open, set, shown, wrong, unread}
}

func TestChecksArePrintedWhole(t *testing.T) {
	checks := printed()
	for name, print := range map[string]func(io.Writer, int, []Check) error{
		"all": All, "markdown": func(w io.Writer, _ int, checks []Check) error { return Markdown(w, checks) }, "summary": Summary,
	} {
		var b strings.Builder
		if err := print(&b, 80, checks); err != nil {
			t.Fatal(err)
		}
		want := []string{"1 of 3 checks hold, 2 do not, 1 is open.", "set on 1 more", "2 are shown, not", "1 is published, not yet", "two", "three", "six", "no file", "Looked for and not found"}
		if name != "summary" {
			want = append(want, "one", "four", "five", "seven", "DOES NOT HOLD", "somebody", "overshoot is therefore worth less")
		}
		for _, want := range want {
			if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
				t.Errorf("%s does not say %q:\n%s", name, want, b.String())
			}
		}
	}
	if broken := Broken(checks); len(broken) != 2 || broken[0].ID != "A2" || broken[1].ID != "C6" {
		t.Errorf("broken: %v", broken)
	}
}

// What holds by construction and what the people were set on is not counted among
// the checks that hold.
func TestOnlyChecksAreCounted(t *testing.T) {
	want := Tally{Set: 1, SetHold: 1, Checked: 3, Hold: 1, Broken: 2, Open: 1, Shown: 2, Uncompared: 1}
	if got := Sum(printed()); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
	if got := Sum(printed(), Tasks); got != (Tally{Broken: 1, Shown: 2}) {
		t.Errorf("tasks: %+v", got)
	}
	for _, c := range printed() {
		if (c.Status == Shown || c.Status == Uncompared) && c.Holds != nil && *c.Holds {
			t.Errorf("%s holds, and is no check", c.ID)
		}
	}
}

func TestTheSummaryHasAtMost30Lines(t *testing.T) {
	var computed []Check
	if !testing.Short() {
		var err error
		if computed, err = full(); err != nil {
			t.Fatal(err)
		}
	}
	var many []Check
	for n := range 60 {
		for _, c := range printed() {
			c.What += strings.Repeat(" and so on", n)
			many = append(many, c)
		}
	}
	for n, checks := range map[string][]Check{"few": printed(), "many": many, "none": nil, "computed": computed} {
		var b strings.Builder
		if err := Summary(&b, 80, checks); err != nil {
			t.Fatal(err)
		}
		if lines := strings.Count(b.String(), "\n"); lines > 30 {
			t.Errorf("%s: %d lines:\n%s", n, lines, b.String())
		}
		for line := range strings.Lines(b.String()) {
			if w := len([]rune(strings.TrimSuffix(line, "\n"))); w > 80 {
				t.Errorf("%s: a line of %d columns: %s", n, w, line)
			}
		}
	}
}

func TestOneCheckIsComputedAlone(t *testing.T) {
	checks, err := Checks(context.Background(), Size{Trials: 5, Events: 1000, Seed: 1}, 1, func(_, of int) {
		if of != 1 {
			t.Errorf("%d rows run for one check", of)
		}
	}, "C7")
	if err != nil || len(checks) != 1 || checks[0].ID != "C7" || checks[0].Kind != Tasks {
		t.Errorf("%v %+v", err, checks)
	}
	for written, want := range map[string]string{"a4": "A4", "Learning": "learning", "b16": "B16"} {
		if id, err := Named(written); err != nil || id != want {
			t.Errorf("%s: %q %v", written, id, err)
		}
	}
	for _, written := range []string{"A21", "", "D1", "A"} {
		if _, err := Named(written); err == nil {
			t.Errorf("%q is no check", written)
		}
	}
}

// Whoever has read a paper adds its figures, and they are compared.
func TestAFigureThatIsAddedIsCompared(t *testing.T) {
	checks, err := compared(context.Background(), Size{Trials: 20, Seed: 1}, []paper{
		{source: "nobody", what: "one"},
		{source: "somebody", what: "two", figures: []figure{{"Table 1", "heading", 0, 1000}, {"Table 2", "com-25", 2, 0.1}}},
	})
	if err != nil || len(checks) != 3 {
		t.Fatal(err, checks)
	}
	if c := checks[0]; c.Holds != nil || c.Status != Uncompared || c.Reason == "" {
		t.Errorf("%+v", c)
	}
	for _, c := range checks[1:] {
		if c.Holds == nil || *c.Holds || c.Measured == "" || c.Status != Read {
			t.Errorf("%+v", c)
		}
	}
	if _, err := compared(context.Background(), Size{Trials: 1, Seed: 1}, []paper{{figures: []figure{{task: "none"}}}}); err == nil {
		t.Error("a task that does not exist was compared")
	}
}

// Distances that are quicker than nearer ones are found, and chance is not.
func TestAFartherTargetThatIsFasterIsFound(t *testing.T) {
	fill := func(means ...float64) (d distances) {
		for k, m := range means {
			for i := range int64(400) {
				d.add(int64(k+1), m+0.2*float64(i%2)-0.1)
			}
		}
		return d
	}
	for _, x := range []struct {
		means []float64
		at    int
		want  bool
	}{
		{[]float64{1, 1.2, 1.4, 1.5}, 1, false},
		{[]float64{1, 1.2, 1.0, 1.5}, 2, true},
		{[]float64{1, 1.2, 1.17, 1.5}, 2, false}, // 2.5 %
	} {
		d := fill(x.means...)
		if worst, at, breaks := d.faster(); breaks != x.want || at != x.at || worst < 0 {
			t.Errorf("%v: %.3f at %d, %v", x.means, worst, at, breaks)
		}
	}
}

func TestChecksDoNotDependOnTheNumberOfWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	size := Size{Trials: 20, Events: 5_000, Seed: 1}
	one, err := Checks(context.Background(), size, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	finished := 0
	three, err := Checks(context.Background(), size, 3, func(n, of int) {
		if finished++; n != finished || of < n {
			t.Errorf("%d of %d after %d", n, of, finished)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	a, _ := json.Marshal(one)
	b, _ := json.Marshal(three)
	if string(a) != string(b) {
		t.Errorf("one worker:\n%s\nthree workers:\n%s", a, b)
	}
}

func TestAnEndedContextGivesWhatIsFinished(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	checks, err := Checks(ctx, Size{Trials: 20, Events: 5_000, Seed: 1}, 1, func(n, _ int) {
		if n == 2 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if len(checks) == 0 {
		t.Error("nothing was finished")
	}
	for _, c := range checks {
		if c.ID[0] != 'A' {
			t.Errorf("%s was computed after the end", c.ID)
		}
	}
}

// Every id of the list of sources is here.
func TestEveryIDIsThere(t *testing.T) {
	listed := map[string]bool{}
	for _, r := range rows {
		for _, id := range strings.Fields(r.ids) {
			listed[id] = true
		}
	}
	for group, n := range map[string]int{"A": 20, "B": 16, "C": 12} {
		for i := 1; i <= n; i++ {
			if id := fmt.Sprint(group, i); !listed[id] {
				t.Errorf("%s is not checked", id)
			}
		}
	}
}

func TestLinesAndPlanesAreFittedThroughTheirPoints(t *testing.T) {
	x, v := []float64{1, 2, 4, 7, 11}, []float64{3, 1, 4, 1, 5}
	var y, z []float64
	for i := range x {
		y = append(y, 2-3*x[i])
		z = append(z, 1+0.5*x[i]-2*v[i])
	}
	if l := fitLine(x, y); math.Abs(l.intercept-2) > 1e-9 || math.Abs(l.slope+3) > 1e-9 || math.Abs(l.r2-1) > 1e-9 {
		t.Errorf("%+v", l)
	}
	if p := fitPlane(x, v, z); math.Abs(p.a-1) > 1e-9 || math.Abs(p.b-0.5) > 1e-9 || math.Abs(p.c+2) > 1e-9 || math.Abs(p.r2-1) > 1e-9 {
		t.Errorf("%+v", p)
	}
}
