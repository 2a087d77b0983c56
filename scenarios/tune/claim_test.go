package tune_test

import (
	"fmt"
	"runtime"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
	"dialwright/scenarios/tune"
)

// What is said to be within the cap is, but for one in twenty at most: 300 searches of
// knobs whose best gain or pulse lies at the cap, under caps from 6 to 13 %.
func TestWhatIsSaidToBeWithinTheCapIs(t *testing.T) {
	if !*long {
		t.Skip("takes minutes; run with -suite")
	}
	const searches, many = 300, 40_000 // a share of 10 % to 0.15 points
	study := func(n int) *tune.Study {
		var r *scenarios.Rig
		var task string
		switch n % 3 {
		case 0:
			r, task = suiteRig("relative"), "hf-20m-50hz"
			r.Adjustable = scenarios.Adjustable{Homes: r.Adjustable.Homes, Curves: []string{"constant"}}
		case 1:
			r, task = suiteRig("buttons, firmware"), "vertical-speed"
			r.Adjustable = scenarios.Adjustable{Settings: r.Adjustable.Settings[:1]}
		case 2:
			r, task = suiteRig("keys"), "altimeter-hpa"
			r.Adjustable = scenarios.Adjustable{Settings: r.Adjustable.Settings[:1]}
		}
		s := study(panel(r, demo.Task(task)))
		s.Seed, s.Trials, s.Workers, s.MaxOvershoot = 2000+uint64(n), 100+50*(n%5), 1, 0.06+0.01*float64(n/3%8)
		return s
	}
	results := make([]*tune.Result, searches)
	if err := trial.Each(t.Context(), runtime.GOMAXPROCS(0), searches, func(n int) {
		r, err := tune.Run(t.Context(), study(n))
		if err != nil {
			t.Error(err)
			return
		}
		results[n] = r
	}); err != nil || t.Failed() {
		t.Fatal(err)
	}
	truth := map[string]float64{}
	said, wrong := 0, 0
	for n, r := range results {
		k, s := r.Knobs[0], study(n)
		if k.Claims[0].Outcome() != tune.Within {
			continue
		}
		said++
		about := fmt.Sprint(n%3, k.Chosen[0].About(nil))
		if _, ok := truth[about]; !ok {
			seat, err := new(trial.Grips).Seat(s.Panel.Served()[0], k.Chosen[0], s.Operator)
			if err != nil {
				t.Fatal(err)
			}
			x := sample.Of(seat)
			if _, err := trial.Batch(t.Context(), seat.Bench, 77_000_000, 0, many, 2, x.Take); err != nil {
				t.Fatal(err)
			}
			truth[about] = x.Summary().Overshoot.Value
		}
		if truth[about] > s.MaxOvershoot {
			wrong++
			t.Logf("%s: %.2f %% under a cap of %.0f %%, %.1f %% of %d", about, 100*truth[about], 100*s.MaxOvershoot, 100*k.Claims[0].Overshoot.Value, k.Claims[0].Trials)
		}
	}
	t.Logf("said %d times in %d searches, %d times wrong; %d different settings", said, searches, wrong, len(truth))
	if wrong > 15 {
		t.Errorf("%d of %d claims are wrong", wrong, said)
	}
}
