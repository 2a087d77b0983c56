package survey

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"dialwright/scenarios/demo"
	"dialwright/scenarios/paired"
)

// The intervals hold what they say, 95 in 100, for surveys of 30, 100 and 500 members
// drawn from a population of real ones (2000 of households, so skewed and unequal as
// they are): 1000 surveys, whose share of hits has a standard error of 0.7 points. An
// interval that takes trials for independent does not.
func TestClusteredIntervalsCover(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	const everybody, trials = 2000, 8
	p := demo.Population("households")
	p.Profiles = p.Profiles[:2]
	part, err := Run(context.Background(), &Study{Population: p, Members: everybody, Trials: trials, Seed: 7, Caps: Caps{0.25, 0.05}, Workers: runtime.NumCPU()}, Whole)
	if err != nil {
		t.Fatal(err)
	}
	truth, err := Sum(part)
	if err != nil {
		t.Fatal(err)
	}
	for _, members := range []int{30, 100, 500} {
		t.Run(fmt.Sprint(members), func(t *testing.T) { covers(t, part, truth, members) })
	}
}

func covers(t *testing.T, part *Part, truth *Result, members int) {
	const seeds = 1000
	w := truth.Ranking[0]
	other := 1 - w
	hits := map[string]int{}
	for seed := range uint64(seeds) {
		r := rand.New(rand.NewPCG(seed, 2))
		drawn := &Part{Header: part.Header, totals: part.totals}
		for range members {
			drawn.members = append(drawn.members, part.members[r.IntN(len(part.members))])
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
		in("mean of the other", s.Candidates[other].Mean, truth.Candidates[other].Mean.Value)
		in("in caps", s.Candidates[w].Within, truth.Candidates[w].Within.Value)
		over, of := make([]int, s.Members), make([]int, s.Members)
		for i, m := range s.alive {
			over[i], of[i] = int(m.of[w].overshot), part.Trials
		}
		in("overshoot", paired.ClusterShare(over, of), truth.Candidates[w].Overshoot.Value)
		in("regret", s.Candidates[other].Regret, truth.Candidates[other].Regret.Value)
		all := make([]int, s.Members)
		for i := range all {
			all[i] = i
		}
		in("difference", s.difference(other, w, all).Estimate, truth.Candidates[other].AgainstBest.Value)
		// As if a member's trials were as many members.
		half := 1.96 * part.totals[w].said().SD / math.Sqrt(float64(members*part.Trials))
		in("naive", paired.Estimate{Low: s.Candidates[w].Mean.Value - half, High: s.Candidates[w].Mean.Value + half}, truth.Candidates[w].Mean.Value)
	}
	naive := hits["naive"]
	delete(hits, "naive")
	if len(hits) != 7 {
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
