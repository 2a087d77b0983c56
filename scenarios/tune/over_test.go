package tune

import (
	"context"
	"errors"
	"testing"

	"dialwright/scenarios/demo"
)

// What is recommended for a population is what was judged, sets only what every owner can
// change, and is not slower than one of the population's own that keeps to the same caps.
func TestADefaultIsNoWorseThanThePopulationsOwn(t *testing.T) {
	p := demo.Population("households")
	for _, change := range [][]string{{"program"}, {"firmware.gap"}} {
		o := &Over{Population: p, Members: 24, Trials: 8, MaxOvershoot: 0.5, MaxLost: 0.3, Change: change, Seed: 1, Workers: 2}
		r, err := RunOver(t.Context(), o)
		if err != nil {
			t.Fatal(err)
		}
		if x := r.judged(); x.Name != r.Profile.Name {
			t.Errorf("--change %v: %s is recommended and %s judged", change, r.Profile.Name, x.Name)
		}
		if l := r.Levels[len(r.Levels)-1]; l.Most != 0.5 || l.Profile == nil {
			t.Errorf("--change %v: what the cap allows is not told: %+v", change, l)
		}
		for _, s := range r.Profile.Settings {
			if change != nil && !named(change, s.Key) {
				t.Errorf("--change %v: %s is set", change, s.Key)
			}
		}
		if change != nil && change[0] == "firmware.gap" && !r.Profile.Acceleration.Plain() {
			t.Errorf("--change %v: %s", change, r.Profile.About(nil))
		}
		for _, c := range r.Proof.Ranking {
			x := &r.Proof.Candidates[c]
			d := x.AgainstBest
			if c != r.Proof.Judged && x.Name != "press" && change[0] == "program" && d.Found() && d.Value < 0 && x.Overshoot.High < r.Most && x.Lost.High < r.Lost {
				t.Errorf("--change %v: %s is quicker by %.2f s than %s, and within the caps", change, x.Name, -d.Value, r.Profile.Name)
			}
		}
	}
}

// An interrupted search proves the best of what it found.
func TestAnInterruptedDefaultIsProven(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	o := &Over{Population: demo.Population("households"), Members: 24, Trials: 8, MaxOvershoot: 0.5, MaxLost: 0.3, Seed: 1, Workers: 2}
	o.Progress = func(done, _ int, _ string) {
		if done > 600 {
			cancel()
		}
	}
	r, err := RunOver(ctx, o)
	if !errors.Is(err, context.Canceled) || r == nil {
		t.Fatalf("%v, %v", r, err)
	}
	if !r.Partial || r.Proof.Members < leastProof {
		t.Errorf("partial %t, proved on %d members", r.Partial, r.Proof.Members)
	}
}

const leastProof = 20
