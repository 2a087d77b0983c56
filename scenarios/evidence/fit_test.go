package evidence

import (
	"context"
	"flag"
	"math"
	"testing"

	"dialwright/scenarios"
)

var refit = flag.Bool("refit", false, "fit the operator anew from the sketch and print what is left")

// go test ./scenarios/evidence -run Refit -refit -v
//
// The valley is long: where a fit ends moves by some percent with anything that
// changes the draws. Frozen is what it gave when the rules of the hand were done.
func TestRefitFromTheSketchEndsNearTheFrozenSet(t *testing.T) {
	if !*refit {
		t.Skip("takes 15 s; run with -refit")
	}
	f, err := FitWheel(context.Background(), Sketch(), 200)
	if err != nil {
		t.Fatal(err)
	}
	l, err := FitLag(context.Background(), f.Operator, 100)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d rounds\n%v\n%v", f.Rounds, f, l)
	frozen := scenarios.Practised()
	for _, k := range wheelKnobs {
		if got, want := k.get(&l.Operator), k.get(&frozen); math.Abs(got-want) > 0.1*want {
			t.Errorf("%s: the fit ends at %.4g, frozen is %.4g", k.name, got, want)
		}
	}
	if got, want := l.Operator.Familiarity.Mean, frozen.Familiarity.Mean; math.Abs(got-want) > 0.051 {
		t.Errorf("familiarity: the fit ends at %.2f, frozen is %.2f", got, want)
	}
}

func TestNoSmallChangeOfOneNumberFitsTheWheelBetter(t *testing.T) {
	sketch, frozen := Sketch(), scenarios.Practised()
	cost := func(o scenarios.Operator) float64 {
		rs, err := wheelResiduals(context.Background(), o, 100)
		if err != nil {
			t.Fatal(err)
		}
		m := misfit(rs)
		return m*m + reluctance*away(&o, &sketch)
	}
	least := cost(frozen)
	for _, k := range wheelKnobs {
		for _, factor := range []float64{1.16, 1 / 1.16} {
			o := frozen
			k.set(&o, factor*k.get(&o))
			if c := cost(o); c < 0.97*least {
				t.Errorf("%s times %.2f lowers the cost of the fit from %.5f to %.5f", k.name, factor, least, c)
			}
		}
	}
}
