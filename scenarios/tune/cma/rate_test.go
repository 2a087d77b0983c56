package cma

import (
	"math"
	"slices"
	"testing"

	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/optimize/functions"
)

// problem is a standard function on the box [low, high]^dim, searched from one
// point with one first step, both in the function's own units.
type problem struct {
	cost      func(x []float64) float64
	dim       int
	low, high float64
	start     float64
	sigma     float64
	settings  Settings
}

// evaluations returns, for each target, how many evaluations the search took
// until one candidate cost no more, or the budget and one when none did.
func (p problem) evaluations(t testing.TB, seed, budget int, change func(*Search), targets ...float64) []int {
	t.Helper()
	s := p.settings
	s.Start = slices.Repeat([]float64{(p.start - p.low) / (p.high - p.low)}, p.dim)
	s.Sigma = p.sigma / (p.high - p.low)
	e, err := New(p.dim, draw.NewTrial(6, "rate", seed).Stream(draw.Search), s)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(e)
	}
	took := slices.Repeat([]int{budget + 1}, len(targets))
	x := make([]float64, p.dim)
	for n := 0; n < budget; {
		candidates := e.Ask()
		cost := make([]float64, len(candidates))
		for k, c := range candidates {
			for i := range x {
				x[i] = p.low + (p.high-p.low)*c[i]
			}
			cost[k] = p.cost(x)
			n++
			for j, target := range targets {
				if cost[k] <= target {
					took[j] = min(took[j], n)
				}
			}
		}
		if err := e.Tell(cost); err != nil {
			t.Fatal(err)
		}
		if took[len(took)-1] < n {
			break
		}
	}
	return took
}

// quantiles runs the search for seeds 0 to 40 and returns the median and the
// largest number of evaluations for each target.
func (p problem) quantiles(t testing.TB, budget int, change func(*Search), targets ...float64) (median, most []int) {
	t.Helper()
	const seeds = 41
	all := make([][]int, len(targets))
	for seed := range seeds {
		for j, n := range p.evaluations(t, seed, budget, change, targets...) {
			all[j] = append(all[j], n)
		}
	}
	for j := range all {
		slices.Sort(all[j])
		median, most = append(median, all[j][seeds/2]), append(most, all[j][seeds-1])
	}
	return median, most
}

func sphere(at float64) func(x []float64) float64 {
	return func(x []float64) (sum float64) {
		for _, v := range x {
			sum += (v - at) * (v - at)
		}
		return sum
	}
}

// ellipsoid is f_elli of Hansen and Ostermeier, "Completely Derandomized
// Self-Adaptation in Evolution Strategies", Evolutionary Computation 9 (2),
// 2001: axes from 1 to a thousand. Its minimum is 0 at 0.
func ellipsoid(x []float64) (sum float64) {
	for i, v := range x {
		sum += math.Pow(1e6, float64(i)/float64(len(x)-1)) * v * v
	}
	return sum
}

// withoutNegativeWeights makes the search the one that the published runs below
// were made with.
func withoutNegativeWeights(e *Search) { clear(e.w[e.mu:]) }

func TestSphereIsFoundInAThousandEvaluations(t *testing.T) {
	p := problem{cost: sphere(0.3), dim: 5, high: 1, start: 0.5, sigma: 0.3}
	if _, most := p.quantiles(t, 1000, nil, 1e-8); most[0] > 1000 {
		t.Errorf("5-D sphere: 1e-8 not reached in 1000 evaluations by every one of 41 seeds")
	}
}

// On a sphere every strategy that only ranks its candidates converges linearly:
// so many decades an evaluation, the same at every distance. The fastest of its
// kind is told its distance R from the minimum and steps by the best constant
// times R (Hansen, Arnold, Auger, "Evolution Strategies", in: Springer Handbook
// of Computational Intelligence, 2015, section 4.2). Path length control, which
// has to find the step size out, keeps a quarter of that rate or more (measured:
// 0.30, 0.34, 0.41 in 3, 5, 10 dimensions), and cannot exceed it.
func TestSphereConvergesLinearlyAtAQuarterOfTheIdealRate(t *testing.T) {
	for _, dim := range []int{3, 5, 10} {
		p := problem{cost: sphere(0.5), dim: dim, high: 1, start: 0.6, sigma: 0.1}
		n, _ := p.quantiles(t, 5000, nil, 1e-3, 1e-5, 1e-7, 1e-9)
		rate := 6 / float64(n[3]-n[0])
		ideal := idealSphereRate(dim)
		t.Logf("%d-D sphere: %.4f decades an evaluation, ideal %.4f", dim, rate, ideal)
		if rate < ideal/4 || rate > ideal {
			t.Errorf("%d-D sphere: %.4f decades an evaluation; want from a quarter of %.4f to all of it", dim, rate, ideal)
		}
		for j := range 3 {
			if part := 2 / float64(n[j+1]-n[j]); math.Abs(part/rate-1) > 0.2 {
				t.Errorf("%d-D sphere: %.4f decades an evaluation in part %d; want the %.4f of the whole within a fifth", dim, part, j+1, rate)
			}
		}
	}
}

// idealSphereRate is the rate, in decades of cost an evaluation, of the default
// generation and weights with a step size of s·R, for the best s.
func idealSphereRate(dim int) float64 {
	e, err := New(dim, 0, Settings{})
	if err != nil {
		panic(err)
	}
	random, at := draw.NewTrial(6, "ideal", dim).Stream(draw.Search), int64(0)
	best := 0.0
	for s := 0.25; s < 0.8; s *= 1.2 {
		const generations = 2000
		m := make([]float64, dim)
		m[0] = 1
		sum := 0.0
		for range generations {
			type step struct {
				cost float64
				z    []float64
			}
			steps := make([]step, len(e.w))
			for k := range steps {
				steps[k].z = make([]float64, dim)
				for i := range m {
					steps[k].z[i] = s * float64(random.Normal(at)) / draw.One
					steps[k].cost += (m[i] + steps[k].z[i]) * (m[i] + steps[k].z[i])
					at++
				}
			}
			slices.SortFunc(steps, func(a, b step) int {
				if a.cost < b.cost {
					return -1
				}
				return 1
			})
			for k := range e.mu {
				for i := range m {
					m[i] += e.w[k] * steps[k].z[i]
				}
			}
			r := norm(m)
			sum -= 2 * math.Log10(r)
			for i := range m {
				m[i] /= r
			}
		}
		best = max(best, sum/generations/float64(len(e.w)))
	}
	return best
}

// Published runs of pycma, in its documentation, on the ellipsoid in 3-D, from
// (1, 1, 1) with sigma 1 (8.54 after 700 evaluations and 5.69e-12 after 1400)
// and from (½, ½, ½) with 0.3 (0.629 and 4.83e-13): 0.0174 and 0.0173 decades an
// evaluation, so that they passed 1e-3 after some 926 and 862. They were made
// without negative weights. The rate is taken where the shape is learned and the
// grid of the candidates, 8e-6 here, is still fine.
func TestEllipsoidRateIsThePublishedOne(t *testing.T) {
	p := problem{cost: ellipsoid, dim: 3, low: -4, high: 4, start: 1, sigma: 1}
	n, most := p.quantiles(t, 3000, withoutNegativeWeights, 1e-1, 1e-3, 1e-4)
	rate := 3 / float64(n[2]-n[0])
	t.Logf("without negative weights: 1e-3 after %d evaluations, at most %d, %.4f decades an evaluation", n[1], most[1], rate)
	if n[1] < 700 || n[1] > 926 {
		t.Errorf("without negative weights 1e-3 took %d evaluations; want 700 to 926", n[1])
	}
	if math.Abs(rate/0.0174-1) > 0.2 {
		t.Errorf("without negative weights %.4f decades an evaluation; want the published 0.0174 within a fifth", rate)
	}

	n, most = p.quantiles(t, 3000, nil, 1e-1, 1e-3, 1e-4)
	rate = 3 / float64(n[2]-n[0])
	t.Logf("with them: 1e-3 after %d evaluations, at most %d, %.4f decades an evaluation", n[1], most[1], rate)
	if most[1] > 926 {
		t.Errorf("with negative weights one seed of 41 took %d evaluations; want at most the published 926", most[1])
	}
	if rate < 0.0174 {
		t.Errorf("with negative weights %.4f decades an evaluation; want the published 0.0174 or more", rate)
	}
}

// Rosenbrock, "An automatic method for finding the greatest or least value of a
// function", The Computer Journal 3 (3), 1960, in 4-D; the minimum is 0 at
// (1, 1, 1, 1). The published run of pycma from −1 with sigma 1 and 16 candidates
// reached 6.8e-7 after 1760 evaluations, and with the default 8 about one run in
// five ended in the local minimum.
func TestRosenbrockTakesAsLongAsPublished(t *testing.T) {
	p := problem{cost: functions.ExtendedRosenbrock{}.Func, dim: 4, low: -4, high: 4, start: -1, sigma: 1}
	p.settings.Lambda = 16
	n, most := p.quantiles(t, 3000, withoutNegativeWeights, 1e-2, 6.8e-7)
	t.Logf("without negative weights: %d evaluations, at most %d", n[1], most[1])
	if n[1] < 1400 || n[1] > 2100 {
		t.Errorf("without negative weights 6.8e-7 took %d evaluations; want the published 1760 within a fifth", n[1])
	}
	n, most = p.quantiles(t, 3000, nil, 1e-2, 6.8e-7)
	t.Logf("with them: %d evaluations, at most %d", n[1], most[1])
	if n[1] > 1760 || most[1] > 3000 {
		t.Errorf("with negative weights 6.8e-7 took %d evaluations, at most %d; want 1760 and every seed to arrive", n[1], most[1])
	}
	if rate := math.Log10(1e-2/6.8e-7) / float64(n[1]-n[0]); rate < 0.008 {
		t.Errorf("%.4f decades an evaluation in the valley; want 0.008 or more", rate)
	}

	p.settings.Lambda = 0
	stuck := 0
	for seed := range 41 {
		if n := p.evaluations(t, seed, 3000, nil, 1e-2); n[0] > 3000 {
			stuck++
		}
	}
	t.Logf("%d of 41 stuck with 8 candidates", stuck)
	if stuck > 12 {
		t.Errorf("%d of 41 seeds ended in the local minimum; want about a fifth at most", stuck)
	}
}

// Rastrigin's function has a local minimum in every unit cube; the global one is
// 0 at 0. Hansen and Kern, "Evaluating the CMA Evolution Strategy on Multimodal
// Test Functions", PPSN VIII, 2004: larger populations find it, smaller ones do
// not, and once in its basin convergence is linear.
func TestLargerGenerationsFindRastriginsGlobalMinimum(t *testing.T) {
	found := map[int]int{}
	for _, lambda := range []int{6, 24, 96} {
		p := problem{cost: functions.Rastrigin{}.Func, dim: 2, low: -5.12, high: 5.12, start: 2, sigma: 3}
		p.settings.Lambda = lambda
		var last []int
		for seed := range 41 {
			if n := p.evaluations(t, seed, 50*lambda, nil, 1e-1, 1e-6); n[1] <= 50*lambda {
				found[lambda]++
				last = append(last, n[1]-n[0])
			}
		}
		if slices.Sort(last); len(last) == 0 {
			t.Fatalf("with %d candidates no seed arrived", lambda)
		}
		t.Logf("%d candidates: found by %d of 41, the last five decades in %d generations", lambda, found[lambda], last[len(last)/2]/lambda)
		if g := last[len(last)/2] / lambda; g > 30 {
			t.Errorf("with %d candidates the last five decades took %d generations; want 30 at most", lambda, g)
		}
	}
	if found[6] >= found[24] || found[24] >= found[96] || found[96] < 36 {
		t.Errorf("found by %d, %d and %d of 41 with 6, 24 and 96 candidates; want more and more, and 36 at last", found[6], found[24], found[96])
	}
}

func TestAMinimumOnAWallIsFoundAboutAsFastAsOneInside(t *testing.T) {
	linear := func(x []float64) (sum float64) {
		for i, v := range x {
			sum += float64(1+i) * v
		}
		return sum
	}
	halfway := func(x []float64) (sum float64) {
		for i, v := range x {
			if i%2 == 0 {
				sum += 1 - v
			} else {
				sum += (v - 0.4) * (v - 0.4)
			}
		}
		return sum
	}
	const dim = 5
	inside, _ := problem{cost: sphere(0.45), dim: dim, high: 1, start: 0.5, sigma: 0.3}.quantiles(t, 3000, nil, 1e-6)
	for _, c := range []struct {
		name string
		cost func([]float64) float64
	}{
		{"a sphere in a corner", sphere(0)},
		{"a sphere in the far corner", sphere(1)},
		{"a slope", linear},
		{"a slope and a sphere", halfway},
	} {
		n, most := problem{cost: c.cost, dim: dim, high: 1, start: 0.5, sigma: 0.3}.quantiles(t, 3000, nil, 1e-6)
		t.Logf("%s: %d evaluations to 1e-6, at most %d; inside %d", c.name, n[0], most[0], inside[0])
		if n[0] > inside[0]*3/2 || most[0] > 3000 {
			t.Errorf("%s: %d evaluations to 1e-6; want at most 3/2 of the %d inside", c.name, n[0], inside[0])
		}
	}
}

// The minimum outside the box, the valley aslant to its walls: where learning
// the mirrored images instead of the draws never arrived.
func TestAValleyAslantToTheWallsIsFound(t *testing.T) {
	const dim = 5
	axis := []float64{1, 2, 3, 4, 5} // a Householder reflection turns the axes
	cost := func(x []float64) (sum float64) {
		dot := 0.0
		for i, v := range x {
			dot += (v - 1.3) * axis[i] / 55 // 55 is |axis|²
		}
		for i, v := range x {
			y := v - 1.3 - 2*dot*axis[i]
			sum += math.Pow(1e4, float64(i)/(dim-1)) * y * y
		}
		return sum
	}
	// The least cost in the box: a convex quadratic, minimised exactly along one
	// coordinate after the other.
	x := slices.Repeat([]float64{0.5}, dim)
	for range 5000 {
		for i := range x {
			var at [3]float64
			for j := range at {
				x[i] = float64(j) / 2
				at[j] = cost(x)
			}
			square := 2 * (at[0] - 2*at[1] + at[2])
			x[i] = min(1, max(0, -(at[2]-at[0]-square)/(2*square)))
		}
	}
	least := cost(x)
	p := problem{cost: func(x []float64) float64 { return cost(x) - least }, dim: dim, high: 1, start: 0.5, sigma: 0.3}
	n, most := p.quantiles(t, 2000, nil, 1e-4)
	t.Logf("least cost %.6f at %.4f: within 1e-4 after %d evaluations, at most %d", least, x, n[0], most[0])
	if most[0] > 2000 {
		t.Error("not within 1e-4 of the least cost in 2000 evaluations by every one of 41 seeds")
	}
}

func BenchmarkEvaluationsToTheSphere(b *testing.B) {
	p := problem{cost: sphere(0.3), dim: 5, high: 1, start: 0.5, sigma: 0.3}
	total := 0
	for i := range b.N {
		total += p.evaluations(b, i, 5000, nil, 1e-8)[0]
	}
	b.ReportMetric(float64(total)/float64(b.N), "evaluations/search")
}
