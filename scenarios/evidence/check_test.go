package evidence

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"sync"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the section of README.md that this package makes")

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
		if c.Holds == nil {
			t.Logf("%-4s ?     %s: %s", c.ID, c.What, c.Reason)
			continue
		}
		t.Logf("%-4s %v  %s: published %s, measured %s (band: %s)", c.ID, *c.Holds, c.What, c.Published, c.Measured, c.Band)
		if !*c.Holds {
			t.Errorf("%s does not hold: %s: published %s (%s), measured %s; band: %s", c.ID, c.What, c.Published, c.Source, c.Measured, c.Band)
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
	if err := Readme(&want, checks); err != nil {
		t.Fatal(err)
	}
	if section == want.String() {
		return
	}
	if !*update {
		t.Fatalf("README.md says\n%s\nthis build computes\n%s\n(-update rewrites it)", section, want.String())
	}
	if err := os.WriteFile(name, []byte(before+begin+want.String()+end+after), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestChecksArePrintedWhole(t *testing.T) {
	yes := Check{ID: "A1", What: "one", Published: "1", Measured: "1.1", Band: "near", Source: "somebody", Status: Read}.judged(true)
	no := Check{ID: "A2", What: "two", Published: "2", Measured: "3 | 4", Band: "equal", Source: "somebody", Status: Memory}.judged(false)
	open := Check{ID: "A3", What: "three", Published: "3", Band: "equal", Source: "nobody", Status: Practice, Reason: "no file"}
	checks := []Check{yes, no, open}
	for name, print := range map[string]func(io.Writer, []Check) error{"text": Text, "markdown": Markdown} {
		var b strings.Builder
		if err := print(&b, checks); err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"one", "DOES NOT HOLD", "no file", "1 of 3 checks hold, 1 do not, 1 could not be computed here.", "Not validated"} {
			if !strings.Contains(b.String(), want) {
				t.Errorf("%s does not say %q:\n%s", name, want, b.String())
			}
		}
	}
	if broken := Broken(checks); len(broken) != 1 || broken[0].ID != "A2" {
		t.Errorf("broken: %v", broken)
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
	for group, n := range map[string]int{"A": 13, "B": 16, "C": 12} {
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
