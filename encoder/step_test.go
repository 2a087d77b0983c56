package encoder_test

import (
	"slices"
	"testing"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// What a path delivers to its number does not depend on the acceleration in the program:
// the steps of a path without one, taken by a number that has one, give the very changes
// of the path that has it.
func TestANumberMakesOfStepsWhatThePathDoes(t *testing.T) {
	accelerated := 0
	law(t, func(r random) {
		rig := r.rig(r.yes("deterministic"))
		gain, home := r.gain()
		scale, start := r.scale()
		setup := encoder.Setup{Rig: &rig, Gain: gain, Home: home, Scale: scale}
		bare := setup
		if home == encoder.InProgram {
			bare.Gain = nil
		}
		whole, err := encoder.NewPath(setup)
		if err != nil {
			t.Skip(err)
		}
		before, err := encoder.NewPath(bare)
		if err != nil {
			r.Fatal(err)
		}
		var steps []encoder.Step
		before.Steps = func(s encoder.Step) { steps = append(steps, s) }
		ts := r.turns()
		number := r.whole("trial", 0, 1<<20)
		for _, p := range []*encoder.Path{whole, before} {
			p.Start(draw.NewTrial(1, "steps", number), start)
			for _, d := range ts {
				p.Detent(d.at, d.dir)
			}
			p.Finish()
		}
		n := encoder.NewNumber(setup)
		n.Start(start)
		for _, s := range steps {
			n.Take(s)
		}
		if !slices.Equal(n.Changes(), whole.Changes()) {
			r.Fatalf("the path shows\n%v\nand the number\n%v", whole.Changes(), n.Changes())
		}
		if !slices.Equal(before.Changes(), whole.Changes()) {
			accelerated++
		}
	})
	if accelerated == 0 {
		t.Error("no acceleration made any difference")
	}
}
