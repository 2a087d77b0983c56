package evidence

import (
	"context"
	"math"
	"slices"
	"testing"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// The built-in novice and expert are what the procedure derives from the practised
// operator. (operators.go is written from this table.)
func TestNoviceAndExpertAreDerived(t *testing.T) {
	novice, expert := Skills(scenarios.Practised())
	t.Logf("\n%s", SkillTable(novice, scenarios.Practised(), expert))
	same := scenarios.Operators()[0] == novice && scenarios.Operators()[2] == expert
	if waits := slices.Contains(waiting, "novice and expert"); same == waits {
		t.Errorf("the built-in novice and expert are the derived ones: %v; that waits for the person: %v\n%s", same, waits, SkillTable(scenarios.Operators()...))
	}
}

// The derived people keep within the ranges they are derived from, and turn on and on
// by the factor of the hand slower and faster than the practised.
func TestDerivedPeopleKeepWithinTheRanges(t *testing.T) {
	novice, expert := Skills(scenarios.Practised())
	rate := func(o scenarios.Operator) float64 {
		r, err := turningRate(context.Background(), o, 1, 20)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	practised := rate(scenarios.Practised())
	for _, x := range []struct {
		o    scenarios.Operator
		hand float64
	}{{novice, acting.slower()}, {expert, acting.faster()}} {
		people, err := hand.NewPeople(x.o)
		if err != nil {
			t.Fatal(err)
		}
		const n = 4000
		inside := 0
		for i := range n {
			w := people.Draw(draw.NewTrial(1, "skill", i))
			if perceiving.holds(w.Perceive) && deciding.holds(w.Decide) && acting.holds(w.Act) && correcting.holds(w.Perceive+w.Decide+w.Act) {
				inside++
			}
		}
		if inside < n*95/100 {
			t.Errorf("%s: %d of %d people are inside the ranges", x.o.Name, inside, n)
		}
		if got, want := rate(x.o), practised/x.hand; math.Abs(got/want-1) > 0.06 {
			t.Errorf("%s: %.1f detents a second, want %.1f", x.o.Name, got, want)
		}
	}
}
