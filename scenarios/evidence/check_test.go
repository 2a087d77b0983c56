package evidence

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
)

func TestEveryPublishedValueHolds(t *testing.T) {
	checks, err := Checks(context.Background(), Small, 2, nil)
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

func TestChecksDoNotDependOnTheNumberOfWorkers(t *testing.T) {
	size := Size{Trials: 20, Events: 5_000}
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
	checks, err := Checks(ctx, Size{Trials: 20, Events: 5_000}, 1, func(n, _ int) {
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
