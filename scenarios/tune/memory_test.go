package tune_test

import (
	"slices"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/testdata/heap"
)

// What was tried on a board is let go of before the next one is searched: of a board
// that is done its proof is left.
func TestASearchHoldsLittleAKnob(t *testing.T) {
	p := panel(levelRig(20*ms), scenarios.Heading())
	p.Knobs[0].Board = scenarios.OwnBoard
	for len(p.Knobs) < 4 {
		p.Knobs = append(p.Knobs, p.Knobs[0])
	}
	s := study(p)
	s.Trials = 20
	var held []int64
	s.Progress = func(_, _ int, best string) {
		if strings.Contains(best, "tried so far") {
			held = append(held, heap.Held())
		}
	}
	r := run(t, s)
	if len(held) != len(p.Knobs) || len(r.Knobs) != len(p.Knobs) {
		t.Fatalf("%d of %d knobs were searched, %d found", len(held), len(p.Knobs), len(r.Knobs))
	}
	if each := (slices.Max(held[2:]) - held[1]) / int64(len(held)-2); each > 500_000 {
		t.Errorf("a knob holds %d KB: %d", each/1000, held)
	}
}
