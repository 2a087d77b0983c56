package evidence

import (
	"context"
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
