package cma

import (
	"hash/fnv"
	"math"
	"slices"
	"strings"
	"testing"

	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

func search(t testing.TB, dim, seed int, s Settings) *Search {
	t.Helper()
	e, err := New(dim, draw.NewTrial(6, "cma", seed).Stream(draw.Search), s)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// generation asks, measures and tells once.
func generation(t testing.TB, e *Search, cost func(k int, x []float64) float64) (candidates [][]float64) {
	t.Helper()
	candidates = e.Ask()
	costs := make([]float64, len(candidates))
	for k, x := range candidates {
		costs[k] = cost(k, x)
	}
	if err := e.Tell(costs); err != nil {
		t.Fatal(err)
	}
	return candidates
}

func deviation(e *Search, i int) float64 { return e.Sigma * math.Sqrt(e.c.At(i, i)) }

func TestWhateverTheCostsCandidatesStayOnTheGridInTheBox(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		dim := rapid.IntRange(1, 6).Draw(r, "dim")
		halves := rapid.SliceOfN(rapid.Float64Range(0, 0.5), dim, dim)
		shares := rapid.SliceOfN(rapid.Float64Range(0, 1), dim, dim)
		s := Settings{
			Start: shares.Draw(r, "start"), Least: halves.Draw(r, "least"),
			Sigma: rapid.Float64Range(1e-6, 1).Draw(r, "sigma"), Lambda: rapid.IntRange(4, 12).Draw(r, "lambda"),
		}
		e := search(t, dim, rapid.IntRange(0, 1000).Draw(r, "seed"), s)
		costs := rapid.SliceOfN(rapid.SampledFrom([]float64{0, 1, 2, -1, math.Inf(1), math.Inf(-1)}), 7, 40).Draw(r, "costs")
		at := 0
		for range 60 {
			for _, x := range generation(t, e, func(int, []float64) float64 { at++; return costs[at%len(costs)] }) {
				for i, v := range x {
					if v < 0 || v > 1 || v*Grid != math.Trunc(v*Grid) {
						r.Fatalf("coordinate %d is %v; want a multiple of 1/%d in [0, 1]", i, v, Grid)
					}
				}
			}
			for i := range dim {
				if m := e.Mean[i]; !(m >= 0 && m <= 1) {
					r.Fatalf("mean %d is %v; want 0 to 1", i, m)
				}
				if d := deviation(e, i); d < s.Least[i]*(1-1e-12) {
					r.Fatalf("coordinate %d deviates by %v; want its floor %v or more", i, d, s.Least[i])
				}
			}
		}
	})
}

// A cost that does not depend on the settings must neither blow the cloud up
// nor let it die, however long it goes on.
func TestACloudThatLearnsNothingStaysInBounds(t *testing.T) {
	for _, dim := range []int{1, 2, 5, 12} {
		random := draw.NewTrial(6, "flat", dim).Stream(draw.Search)
		for name, cost := range map[string]func(n int64) float64{
			"equal":  func(int64) float64 { return 0 },
			"random": func(n int64) float64 { return float64(random.Unit(n)) },
		} {
			e, n := search(t, dim, 1, Settings{}), int64(0)
			for range 2000 {
				generation(t, e, func(int, []float64) float64 { n++; return cost(n) })
				for i := range dim {
					if d := deviation(e, i); !(d > 0.2/Grid && d <= 1.5+1e-9) {
						t.Fatalf("%d-D, %s costs, generation %d: coordinate %d deviates by %v box widths", dim, name, e.Generation, i, d)
					}
				}
			}
		}
	}
}

func TestOnlyRanksWithinAGenerationCount(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		seed := rapid.IntRange(0, 1000).Draw(r, "seed")
		cost := sphere(0.3)
		a, b := search(t, 3, seed, Settings{}), search(t, 3, seed, Settings{})
		for range 30 {
			// Any rising costs will do, new ones in each generation.
			others := rapid.SliceOfNDistinct(rapid.Float64(), len(a.w), len(a.w), rapid.ID).Draw(r, "others")
			slices.Sort(others)
			var costs []float64
			x := generation(t, a, func(_ int, x []float64) float64 {
				costs = append(costs, cost(x))
				return cost(x)
			})
			y := generation(t, b, func(k int, _ []float64) float64 {
				rank := 0
				for j, c := range costs {
					if c < costs[k] || c == costs[k] && j < k {
						rank++
					}
				}
				return others[rank]
			})
			if !slices.EqualFunc(x, y, slices.Equal) {
				r.Fatal("other costs in the same order gave other candidates")
			}
		}
	})
}

func TestAskingTwiceGivesTheSameAndTellingKeepsWhatWasGiven(t *testing.T) {
	e := search(t, 4, 1, Settings{})
	first := e.Ask()
	if !slices.EqualFunc(first, e.Ask(), slices.Equal) {
		t.Error("a second Ask gave other candidates")
	}
	kept := make([][]float64, len(first))
	for k := range first {
		kept[k] = slices.Clone(first[k])
	}
	generation(t, e, func(k int, _ []float64) float64 { return float64(k) })
	next := e.Ask()
	if !slices.EqualFunc(first, kept, slices.Equal) {
		t.Error("candidates of a generation changed after it was told")
	}
	if slices.EqualFunc(first, next, slices.Equal) {
		t.Error("the next generation has the same candidates")
	}
	if e.Generation != 1 {
		t.Errorf("Generation is %d after one; want 1", e.Generation)
	}
}

func TestZeroSettingsAreTheTutorialsDefaults(t *testing.T) {
	for dim, lambda := range map[int]int{1: 4, 2: 6, 3: 7, 5: 8, 10: 10, 20: 12, 40: 15} {
		e := search(t, dim, 1, Settings{})
		if len(e.Ask()) != lambda || e.Sigma != 0.3 || e.Mean[0] != 0.5 {
			t.Errorf("%d-D: %d candidates, sigma %v, start %v; want %d, 0.3, 0.5", dim, len(e.Ask()), e.Sigma, e.Mean[0], lambda)
		}
	}
}

// Table 1 worked out by hand for n = 10, λ = 10; pycma prints μ_eff 3.2 and a
// largest weight of 45 % there.
func TestConstantsAreThoseOfTable1(t *testing.T) {
	e := search(t, 10, 1, Settings{})
	sum, negative := 0.0, 0.0
	for k, w := range e.w {
		if sum += w; k >= e.mu {
			negative += w
		}
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"largest weight", e.w[0], 0.4563},
		{"μ_eff", e.muEff, 3.1673},
		{"sum of positive weights", sum - negative, 1},
		{"c_σ", e.cSigma, 5.1673 / 18.1673},
		{"d_σ", e.dSigma, 1 + 5.1673/18.1673},
		{"c_c", e.cC, (4 + 0.31673) / (14 + 2*0.31673)},
		{"c_1", e.c1, 2 / (127.69 + 3.1673)},
		{"c_μ", e.cMu, 2 * (0.25 + 3.1673 + 1/3.1673 - 2) / (144 + 3.1673)},
	} {
		if math.Abs(c.got-c.want) > 1e-4 {
			t.Errorf("%s is %.5f; want %.5f", c.name, c.got, c.want)
		}
	}
	if bound := (1 - e.c1 - e.cMu) / (10 * e.cMu); -negative > bound {
		t.Errorf("negative weights sum to %v; want at most %v, or the covariance may lose its sign", negative, bound)
	}
}

func TestSettingsAndCostsOutOfRangeAreNamed(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		dim  int
		s    Settings
		want string
	}{
		{0, Settings{}, "0 settings to search; want 1 or more"},
		{2, Settings{Start: []float64{1}}, "Start has 1 numbers; want 2"},
		{2, Settings{Start: []float64{0, 1.5}}, "Start[1] is 1.5; want 0 to 1"},
		{2, Settings{Start: []float64{nan, 0}}, "Start[0] is NaN; want 0 to 1"},
		{2, Settings{Least: []float64{0, 0, 0}}, "Least has 3 numbers; want 2"},
		{2, Settings{Least: []float64{0, -1}}, "Least[1] is -1; want 0 to 1/2"},
		{2, Settings{Least: []float64{nan, 0}}, "Least[0] is NaN; want 0 to 1/2"},
		{2, Settings{Sigma: 2}, "Sigma is 2; want above 0 and at most 1"},
		{2, Settings{Sigma: nan}, "Sigma is NaN; want above 0 and at most 1"},
		{2, Settings{Lambda: 3}, "Lambda is 3; want 4 or more"},
	} {
		if _, err := New(c.dim, 1, c.s); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("New(%d, %+v): %v; want %q", c.dim, c.s, err, c.want)
		}
	}
	e := search(t, 2, 1, Settings{})
	tell := func(cost []float64, want string) {
		t.Helper()
		if err := e.Tell(cost); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("Tell(%v): %v; want %q", cost, err, want)
		}
	}
	tell([]float64{1}, "told 1 costs for 0 candidates")
	before := e.Ask()
	tell([]float64{1, 2}, "generation 0: told 2 costs for 6 candidates")
	tell([]float64{1, 2, 3, nan, 5, 6}, "the cost of candidate 3 is NaN")
	if e.Generation != 0 || !slices.EqualFunc(before, e.Ask(), slices.Equal) {
		t.Error("a refused Tell changed the search")
	}
}

// Common random numbers, fresh in each generation: the candidate that seemed
// best of all came from the luckiest generation. What the search answers must be
// better.
func TestTheMeanBeatsTheLuckiestCandidate(t *testing.T) {
	truth := sphere(0.3)
	const seeds = 200
	mean, luckiest, gain, gain2 := 0.0, 0.0, 0.0, 0.0
	for seed := range seeds {
		noise := draw.NewTrial(6, "noise", seed)
		shared, own := noise.Stream(draw.Search), noise.Stream(draw.Search+1)
		e, n := search(t, 5, seed, Settings{}), int64(0)
		least, at := math.Inf(1), 0.0
		for range 60 {
			generation(t, e, func(_ int, x []float64) float64 {
				n++
				cost := truth(x) + (0.05*float64(shared.Normal(int64(e.Generation)))+0.005*float64(own.Normal(n)))/draw.One
				if cost < least {
					least, at = cost, truth(x)
				}
				return cost
			})
		}
		g := at - truth(e.Mean)
		mean, luckiest = mean+truth(e.Mean)/seeds, luckiest+at/seeds
		gain, gain2 = gain+g/seeds, gain2+g*g/seeds
	}
	t.Logf("true cost of the mean %.4f, of the luckiest candidate %.4f", mean, luckiest)
	if e := math.Sqrt((gain2 - gain*gain) / seeds); gain < 4*e {
		t.Errorf("the mean costs %.5f less than the luckiest candidate, standard error %.5f; want four of them", gain, e)
	}
}

// A cloud that has shrunk to its floors still tries the neighbours of a step: it
// is two standard deviations from the middle of an inner step to its edge, which
// 4.55 % of the draws pass. From the wall it is the whole of the outermost step;
// the floor is raised in the wall's rounding, so that some still get there.
func TestAFloorOfAQuarterStepStillTriesOtherSteps(t *testing.T) {
	for _, k := range []int{2, 3, 10, 20, 100, 1000} {
		for _, start := range []float64{(math.Floor(float64(k)/2) + 0.5) / float64(k), 0, 1} {
			step := func(x float64) int { return min(k-1, int(x*float64(k))) }
			wall := start == 0 || start == 1
			if k == 2 && !wall {
				continue // has no inner step
			}
			e := search(t, 1, k, Settings{Start: []float64{start}, Sigma: 1e-9, Least: []float64{0.25 / float64(k)}, Lambda: 20000})
			left := 0
			for _, x := range e.Ask() {
				if step(x[0]) != step(start) {
					left++
				}
			}
			share := float64(left) / 20000
			if !wall && math.Abs(share-0.0455) > 4*0.0015 {
				t.Errorf("%d steps, from %.4f: %.2f %% of the draws try another; want 4.55 %% within four standard errors", k, start, 100*share)
			}
			if wall && (share < 0.001 || k >= 10 && share < 0.03) {
				t.Errorf("%d steps, from the wall: %.2f %% of the draws try another; want 0.1 %%, from ten steps on 3 %%", k, 100*share)
			}
		}
	}
}

// Lists and whole steps beside numbers, rounded by the caller: the best of the
// steps and the numbers within 1/500 of theirs in 1500 evaluations.
func TestMixedStepsAndNumbersAreFoundTogether(t *testing.T) {
	for name, values := range map[string][]int{ // 0 is a number
		"two lists, a step and three numbers": {2, 3, 20, 0, 0, 0},
		"steps of many sizes":                 {50, 50, 10, 10, 4, 4, 2, 2, 0, 0},
		"five of each":                        {5, 5, 5, 5, 5, 0, 0, 0, 0, 0},
		"milliseconds":                        {100, 100},
	} {
		least := make([]float64, len(values))
		for i, k := range values {
			if k > 0 {
				least[i] = 0.25 / float64(k)
			}
		}
		var took []int
		for seed := range 40 {
			where := draw.NewTrial(6, "where", seed).Stream(draw.Search)
			e := search(t, len(values), seed, Settings{Least: least})
			found := 0
			for n := 0; n < 1500 && found == 0; {
				generation(t, e, func(_ int, x []float64) float64 {
					cost, steps, numbers := 0.0, true, true
					for i, k := range values {
						var off float64
						if k > 0 {
							best := int(where.Below(int64(i), int64(k)))
							v := min(k-1, int(x[i]*float64(k)))
							off, steps = float64(v-best)/float64(k), steps && v == best
						} else {
							off = x[i] - float64(where.Unit(int64(i)))/draw.Share
							numbers = numbers && math.Abs(off) < 1./500
						}
						cost += off * off
					}
					if n++; steps && numbers && found == 0 {
						found = n
					}
					return cost
				})
			}
			if found == 0 {
				t.Errorf("%s: seed %d did not arrive", name, seed)
			}
			took = append(took, found)
		}
		slices.Sort(took)
		t.Logf("%s: %d evaluations, at most %d", name, took[len(took)/2], took[len(took)-1])
	}
}

func TestWallsAreMirrorsThatBringPointsNoFurtherApart(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		u := rapid.Float64Range(-10, 10).Draw(r, "u")
		v := rapid.Float64Range(-10, 10).Draw(r, "v")
		x, y := fold(u), fold(v)
		if x < 0 || x > 1 {
			r.Fatalf("fold(%v) is %v; want 0 to 1", u, x)
		}
		if math.Abs(x-y) > math.Abs(u-v)+1e-14 {
			r.Fatalf("fold takes %v and %v from %v to %v apart", u, v, math.Abs(u-v), math.Abs(x-y))
		}
		for _, wall := range []float64{-Corner, 1 + Corner} {
			if image := fold(2*wall - u); math.Abs(image-x) > 1e-12 {
				r.Fatalf("fold(%v) is %v, and its mirror image at %v is %v", u, x, wall, image)
			}
		}
		if back := fold(lift(x)); math.Abs(back-x) > 1e-14 {
			r.Fatalf("fold(lift(%v)) is %v", x, back)
		}
		if u >= Corner && u <= 1-Corner && math.Abs(x-u) > 1e-14 {
			r.Fatalf("fold(%v) is %v; away from the walls it changes nothing", u, x)
		}
	})
	for u, want := range map[float64]float64{-Corner: 0, 1 + Corner: 1, 0: Corner / 4, 0.5: 0.5, 1: 1 - Corner/4} {
		if x := fold(u); math.Abs(x-want) > 1e-15 {
			t.Errorf("fold(%v) is %v; want %v", u, x, want)
		}
	}
}

// Two processors differ in the last bits of what is not plain arithmetic. Here
// one search is disturbed by some of them in all that it remembers, after every
// generation, and must hand out the same candidates all the same. Disturbed a
// million times as much it does not.
func TestLastBitsDoNotReachACandidate(t *testing.T) {
	if n := differing(t, 40, 1); n > 0 {
		t.Errorf("%d of 40 searches came to differ by their last bits; want none", n)
	}
	if n := differing(t, 40, 1<<20); n == 0 {
		t.Error("no search of 40 came to differ by a millionfold disturbance: this test cannot tell")
	}
}

// differing says how many of n searches hand out other candidates within 100
// generations when everything is off by up to four times size last bits.
func differing(t *testing.T, n int, size float64) (differ int) {
	random, at := draw.NewTrial(6, "bits", 0).Stream(draw.Search), int64(0)
	disturb := func(v float64) float64 {
		at++
		return v * (1 + float64(random.Below(at, 9)-4)*size*0x1p-53)
	}
	cost := func(_ int, x []float64) float64 { return math.Floor(1e9 * ellipsoid(x)) }
	for seed := range n {
		a, b := search(t, 5, seed, Settings{}), search(t, 5, seed, Settings{})
		for range 100 {
			x, y := generation(t, a, cost), generation(t, b, cost)
			if !slices.EqualFunc(x, y, slices.Equal) {
				differ++
				break
			}
			b.Sigma = disturb(b.Sigma)
			for i := range b.m {
				b.m[i], b.pC[i], b.pSigma[i] = disturb(b.m[i]), disturb(b.pC[i]), disturb(b.pSigma[i])
				for j := range i + 1 {
					b.c.SetSym(i, j, disturb(b.c.At(i, j)))
					b.root.SetSym(i, j, disturb(b.root.At(i, j)))
					b.inverse.SetSym(i, j, disturb(b.inverse.At(i, j)))
				}
			}
		}
	}
	return differ
}

// The same on every processor: checked on amd64 with and without fused
// multiply-adds (GOAMD64=v1, v3), 386 and arm64.
func TestCandidatesAreTheRecordedOnes(t *testing.T) {
	const want uint64 = 0xbd13de18b84ba424
	e := search(t, 6, 1, Settings{Least: []float64{0.025, 0.0025, 0, 0, 0.125, 0}})
	sum := fnv.New64a()
	for range 100 {
		for _, x := range generation(t, e, func(k int, x []float64) float64 {
			cost := int64(0)
			for i, v := range x {
				off := int64(v*Grid) - int64(i+1)*Grid/7
				cost += off * off >> 10 * int64(1+10*i)
			}
			return float64(cost)
		}) {
			for _, v := range x {
				c := uint64(v * Grid)
				sum.Write([]byte{byte(c), byte(c >> 8), byte(c >> 16)})
			}
		}
	}
	if got := sum.Sum64(); got != want {
		t.Errorf("the candidates of 100 generations have the checksum %#x; want %#x", got, want)
	}
}

func BenchmarkGeneration(b *testing.B) {
	for _, c := range []struct {
		name string
		dim  int
	}{{"5", 5}, {"12", 12}, {"30", 30}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			e, cost := search(b, c.dim, 1, Settings{}), sphere(0.3)
			for b.Loop() {
				generation(b, e, func(_ int, x []float64) float64 { return cost(x) })
			}
		})
	}
}
