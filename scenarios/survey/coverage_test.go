package survey

import (
	"context"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
)

// The intervals hold what they say, 95 in 100, for surveys of 500 members drawn from a
// population of real ones (2000 of households, so skewed and unequal as they are):
// 1000 surveys, whose share of hits has a standard error of 0.7 points. An interval
// that takes trials for independent does not.
func TestClusteredIntervalsCover(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	const everybody, members, seeds, trials = 2000, 500, 1000, 8
	p := demo.Population("households")
	p.Profiles = p.Profiles[:2]
	part, err := Run(context.Background(), &Study{Population: p, Members: everybody, Trials: trials, Seed: 7, Workers: runtime.NumCPU()}, Whole)
	if err != nil {
		t.Fatal(err)
	}
	truth, err := Sum(part)
	if err != nil {
		t.Fatal(err)
	}
	w := truth.Ranking[0]
	other := 1 - w
	hits := map[string]int{}
	naive := 0
	for seed := range uint64(seeds) {
		r := rand.New(rand.NewPCG(seed, 2))
		drawn := &Part{Header: part.Header, totals: part.totals}
		for range members {
			drawn.members = append(drawn.members, part.members[r.IntN(everybody)])
		}
		s, err := Sum(drawn)
		if err != nil {
			t.Fatal(err)
		}
		in := func(what string, e paired.Estimate, x float64) {
			if e.Low <= x && x <= e.High {
				hits[what]++
			}
		}
		in("mean", s.Candidates[w].Mean, truth.Candidates[w].Mean.Value)
		in("median", s.Candidates[w].Median, truth.Candidates[w].Median.Value)
		in("in caps", s.Candidates[other].Within, truth.Candidates[other].Within.Value)
		in("regret", s.Candidates[other].Regret, truth.Candidates[other].Regret.Value)
		all := make([]int, s.Members)
		for i := range all {
			all[i] = i
		}
		in("difference", s.difference(other, w, all).Estimate, truth.Candidates[other].AgainstBest.Value)
		// As if a member's trials were as many members.
		half := 1.96 * part.totals[w].said().SD / math.Sqrt(members*trials)
		in("naive", paired.Estimate{Low: s.Candidates[w].Mean.Value - half, High: s.Candidates[w].Mean.Value + half}, truth.Candidates[w].Mean.Value)
	}
	naive = hits["naive"]
	delete(hits, "naive")
	if len(hits) != 5 {
		t.Errorf("%v", hits)
	}
	for what, n := range hits {
		if share := float64(n) / seeds; share < 0.93 || share > 0.97 {
			t.Errorf("%s: %.1f %% of the intervals hold the truth", what, 100*share)
		}
	}
	if float64(naive)/seeds > 0.9 {
		t.Errorf("members do not matter as clusters: %d of %d", naive, seeds)
	}
	t.Logf("hits in %d: %v; without clusters %d", seeds, hits, naive)
}
