package trial_test

import (
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/trial"
)

// Two rings with equal rigs give the same trials whether they are one rig or two:
// a panel from a file is the panel that is built in.
func TestEqualRigsBehindTwoRingsAreOneRig(t *testing.T) {
	o := scenarios.Practised()
	one, other := demo.Rig("left-pulse"), demo.Rig("left-pulse")
	cell := trial.Cell{Task: demo.Task("com-25"), Rings: 2, Inner: &one.Rig, Outer: &one.Rig, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o}
	shared, err := trial.NewBench(cell)
	if err != nil {
		t.Fatal(err)
	}
	cell.Outer = &other.Rig
	apart, err := trial.NewBench(cell)
	if err != nil {
		t.Fatal(err)
	}
	for n := range 100 {
		if a, b := shared.Run(1, n), apart.Run(1, n); a != b {
			t.Fatalf("trial %d: %+v with one rig, %+v with two equal ones", n, a, b)
		}
	}
}
