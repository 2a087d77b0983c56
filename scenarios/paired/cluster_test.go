package paired_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"dialwright/scenarios/paired"
)

// A share of members holds the truth in 93 to 97.5 of 100 samples averaged over shares
// of 1 to 99 %, and in at least 91 at each of them; Wilson's does not near 0 and 1. The
// coverage is summed over all samples there can be.
func TestASharesIntervalHoldsNearTheEnds(t *testing.T) {
	for _, n := range []int{30, 100, 500} {
		covered := func(interval func(hits, n int) paired.Estimate, p float64) (sum float64) {
			for hits := range n + 1 {
				if e := interval(hits, n); e.Low <= p && p <= e.High {
					sum += distuv.Binomial{N: float64(n), P: p}.Prob(float64(hits))
				}
			}
			return sum
		}
		mean, least, wilson := 0.0, 1.0, 1.0
		for k := 1; k < 1000; k++ {
			p := float64(k) / 1000
			c := covered(paired.MemberShare, p)
			mean += c / 999
			least = min(least, c)
			wilson = min(wilson, covered(paired.ShareInterval, p))
		}
		t.Logf("of %d: %.1f %%, at the worst share %.1f; Wilson's %.1f", n, 100*mean, 100*least, 100*wilson)
		if mean < 0.93 || mean > 0.975 || least < 0.91 {
			t.Errorf("of %d: %.3f, at the worst share %.3f", n, mean, least)
		}
		if n == 30 && wilson > 0.87 {
			t.Errorf("Wilson's does not need mending: %.3f", wilson)
		}
	}
}

// Members that differ are worth less than their trials, and those that do not as much:
// a share of trials covers whether members are alike or not, also when it is small.
func TestAShareOfTrialsHasMembersAsClusters(t *testing.T) {
	const seeds, each = 1000, 20
	for _, members := range []int{30, 100, 500} {
		for _, c := range []struct {
			name        string
			share, like float64 // like: beta distributions of members' shares, larger is more alike
		}{{"alike", 0.2, 1e6}, {"unlike", 0.2, 2}, {"small and unlike", 0.05, 5}, {"small and alike", 0.02, 1e6}, {"large and unlike", 0.9, 3}} {
			hits := 0
			for seed := range uint64(seeds) {
				r := rand.New(rand.NewPCG(seed, 5))
				beta := distuv.Beta{Alpha: c.share * c.like, Beta: (1 - c.share) * c.like, Src: r}
				got, of := make([]int, members), make([]int, members)
				for i := range got {
					of[i] = each
					got[i] = int(distuv.Binomial{N: each, P: beta.Rand(), Src: r}.Rand())
				}
				if e := paired.ClusterShare(got, of); e.Low <= c.share && c.share <= e.High {
					hits++
				}
			}
			t.Logf("%d members, %s: %.1f %%", members, c.name, float64(hits)*100/seeds)
			low, high := 0.93, 0.975
			if members == 30 {
				low, high = 0.92, 0.985 // few hits in all, and members whose spread is hardly known
			}
			if s := float64(hits) / seeds; s < low || s > high {
				t.Errorf("%d members, %s: %.1f %% of the intervals hold the truth", members, c.name, 100*s)
			}
		}
	}
}

// A mean over members holds for samples of 30 of a long tail, where the intervals for
// many trials do not.
func TestAMeanOverFewMembersHolds(t *testing.T) {
	const seeds = 2000
	for _, members := range []int{30, 100, 500} {
		var few, many int
		truth := math.Exp(0.6 * 0.6 / 2)
		for seed := range uint64(seeds) {
			r := rand.New(rand.NewPCG(seed, 6))
			x := make([]float64, members)
			for i := range x {
				x[i] = math.Exp(0.6 * r.NormFloat64())
			}
			if e := paired.ClusterMean(x); e.Low <= truth && truth <= e.High {
				few++
			}
			if e := paired.MeanInterval(x); e.Low <= truth && truth <= e.High {
				many++
			}
		}
		t.Logf("%d members: %.1f %%, the bootstrap alone %.1f", members, float64(few)*100/seeds, float64(many)*100/seeds)
		if s := float64(few) / seeds; s < 0.93 || s > 0.97 {
			t.Errorf("%d members: %.1f %% of the intervals hold the truth", members, 100*s)
		}
		if members == 30 && float64(many)/seeds > 0.93 {
			t.Errorf("the bootstrap alone would do: %d of %d", many, seeds)
		}
	}
}

func TestClustersAtTheirEnds(t *testing.T) {
	open := paired.Estimate{Value: 3, Low: math.Inf(-1), High: math.Inf(1)}
	for what, c := range map[string]struct{ got, want paired.Estimate }{
		"one member":    {paired.ClusterMean([]float64{3}), open},
		"all alike":     {paired.ClusterMean([]float64{2, 2, 2}), paired.Estimate{Value: 2, Low: 2, High: 2}},
		"one of trials": {paired.ClusterShare([]int{3}, []int{6}), paired.Estimate{Value: 0.5, Low: 0, High: 1}},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", what, c.got, c.want)
		}
	}
	none, all := paired.ClusterShare([]int{0, 0, 0}, []int{9, 9, 9}), paired.ClusterShare([]int{9, 9, 9}, []int{9, 9, 9})
	if none.Low != 0 || none.High < 0.5 || all.High != 1 || all.Low > 0.5 {
		t.Errorf("three members tell little: none %v, all %v", none, all)
	}
	if p := paired.ClusterP([]float64{1, -1, 1, -1}); p != 1 {
		t.Errorf("no difference at all: p = %v", p)
	}
}
