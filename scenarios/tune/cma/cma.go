// Package cma finds the settings that cost least when a cost can only be
// measured, and every measurement is noisy.
//
// A rig has a handful of settings that its owner can change, and the time that
// a dialing takes depends on all of them together: a longer pulse helps a slow
// program and holds up a fast hand. The search keeps a cloud of settings. Each
// generation it hands out a handful drawn from the cloud, is told what each of
// them cost, moves the cloud towards the better half, and stretches it along
// the directions in which moving paid. It is the covariance matrix adaptation
// evolution strategy of
//
//	N. Hansen, "The CMA Evolution Strategy: A Tutorial", arXiv:1604.00772,
//
// figure 6 (with negative weights) and table 1, and the code keeps that paper's
// names. It leaves out restarts and rules for stopping: the caller has a budget.
//
// # Asking and telling
//
// Ask gives a whole generation; the caller measures it in any order, on any
// number of workers, and tells the costs in the order of the candidates. Only
// their ranks within the generation count. Measure one generation on the same
// trials (common random numbers) and the next on fresh ones, numbered from
// Generation: luck that all candidates share then cancels, and luck that one of
// them had is not inherited. For the same reason no best candidate is kept: the
// least of many noisy costs is mostly lucky. Mean is the search's answer, and
// finalists are to be compared on trials that no generation saw.
//
// # The box
//
// A candidate is a point of the unit box, one number in [0, 1] for each setting.
// The cloud itself has no walls: a draw that leaves the box is mirrored back in,
// as often as needed, and the search learns the draw, not its image. (Learning
// the image ruins the shape of a cloud that lies aslant at a wall: a linear cost
// was then not solved at all.) Walls are rounded off over Corner of the range,
// so that a cost that falls towards a wall is smooth there, not a sharp crease;
// a best setting on a wall is found about as fast as any other.
//
// # Steps
//
// A setting that goes in whole steps, or a list, is rounded by the caller: of k
// values the one numbered min(k−1, ⌊k·x⌋). Within a step the cost is flat, and a
// cloud could shrink until it never tries the next one. Settings.Least keeps
// each coordinate's standard deviation above a floor.
//
// # Same everywhere
//
// Random numbers are integers from encoder/draw, and every draw and candidate is
// rounded to a multiple of 1/Grid before it is shown or learned from. Processors
// differ in the last bits of an exponential or an eigenvalue. The cloud is drawn
// through the symmetric root of its covariance, which neither the sign nor the
// order of eigenvectors changes, so such a difference stays near 10^-15 and
// shows only if a number happens to straddle a rounding, in fewer than one search
// of a hundred thousand.
package cma

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/mat"
)

const (
	// Grid is the number of steps in a coordinate's range: candidates are
	// multiples of 1/Grid.
	Grid = 1 << 20
	// Corner is how far from a wall its rounding reaches, in box widths.
	Corner = 1. / 20
)

// Settings of a search. The zero value is the tutorial's defaults.
type Settings struct {
	// Start is the first mean, 0 to 1 each; nil is the middle of the box.
	Start []float64
	// Sigma is the first standard deviation of every coordinate, in box widths,
	// above 0 and at most 1; 0 is 0.3. The best setting should lie within about
	// three of them from Start.
	Sigma float64
	// Lambda is the number of candidates in a generation, 4 or more; 0 is
	// 4 + ⌊3 ln n⌋. More are slower and steadier: double it where noise or
	// several local minima mislead.
	Lambda int
	// Least is the least standard deviation of each coordinate, in box widths,
	// 0 to 1/2; nil, or less than 1/(4·Grid), is 1/(4·Grid). For a coordinate
	// that the caller rounds to k values take 1/(4k): from the middle of a step
	// one draw in twenty still tries another. A floor of 1/(2k) or more drowns
	// the other settings in noise.
	Least []float64
}

// Search is a cloud of settings and what it has learned. The exported fields
// are for reading.
type Search struct {
	Mean       []float64 // the answer so far, a point of the box
	Sigma      float64   // the largest standard deviation of any coordinate, in box widths, at most 1
	Generation int       // how many have been told: a fresh block of trials for each

	stream         draw.Stream
	least          []float64
	asked          [][]float64 // this generation's candidates, nil before Ask
	drawn          [][]float64 // the draws that they are images of
	w              []float64   // weights by rank: the first mu positive, of sum 1
	mu             int
	muEff          float64
	cSigma, dSigma float64
	cC, c1, cMu    float64

	m             []float64     // the mean of the draws, whose image is Mean
	pC, pSigma    []float64     // evolution paths
	c             *mat.SymDense // covariance, in units of Sigma²
	root, inverse *mat.SymDense // its symmetric root and that one's inverse
}

// New starts a search over dim settings. Each search of a study wants a stream
// of its own among those of draw.Search. An error says which setting is out of
// range and what would do.
func New(dim int, stream draw.Stream, s Settings) (*Search, error) {
	if s.Sigma == 0 {
		s.Sigma = 0.3
	}
	if s.Lambda == 0 {
		s.Lambda = 4 + int(3*math.Log(float64(dim)))
	}
	switch {
	case dim < 1:
		return nil, fmt.Errorf("cma: %d settings to search; want 1 or more", dim)
	case s.Start != nil && len(s.Start) != dim:
		return nil, fmt.Errorf("cma: Start has %d numbers; want %d, one for each setting, or nil", len(s.Start), dim)
	case s.Least != nil && len(s.Least) != dim:
		return nil, fmt.Errorf("cma: Least has %d numbers; want %d, one for each setting, or nil", len(s.Least), dim)
	case !(s.Sigma > 0 && s.Sigma <= 1):
		return nil, fmt.Errorf("cma: Sigma is %v; want above 0 and at most 1, or 0 for the default", s.Sigma)
	case s.Lambda < 4:
		return nil, fmt.Errorf("cma: Lambda is %d; want 4 or more, or 0 for the default", s.Lambda)
	}
	e := &Search{
		Mean: slices.Repeat([]float64{0.5}, dim), Sigma: s.Sigma,
		stream: stream, least: slices.Repeat([]float64{0.25 / Grid}, dim),
		m: make([]float64, dim), pC: make([]float64, dim), pSigma: make([]float64, dim),
		c: mat.NewSymDense(dim, nil), root: mat.NewSymDense(dim, nil), inverse: mat.NewSymDense(dim, nil),
	}
	copy(e.Mean, s.Start)
	for i, x := range e.Mean {
		if !(x >= 0 && x <= 1) {
			return nil, fmt.Errorf("cma: Start[%d] is %v; want 0 to 1", i, x)
		}
		e.m[i] = lift(x)
		e.c.SetSym(i, i, 1)
	}
	for i, l := range s.Least {
		if !(l >= 0 && l <= 0.5) {
			return nil, fmt.Errorf("cma: Least[%d] is %v; want 0 to 1/2", i, l)
		}
		e.least[i] = max(e.least[i], l)
	}
	e.setConstants(float64(dim), s.Lambda)
	return e, e.shape()
}

// setConstants is table 1 of the tutorial, with α_cov = 2 and c_m = 1.
func (e *Search) setConstants(n float64, lambda int) {
	e.mu, e.w = lambda/2, make([]float64, lambda)
	var plus, plus2, minus, minus2 float64 // sums of w′ and w′², by sign
	for i := range e.w {
		w := math.Log(float64(lambda+1)/2) - math.Log(float64(i+1))
		if e.w[i] = w; i < e.mu {
			plus, plus2 = plus+w, plus2+float64(w*w)
		} else {
			minus, minus2 = minus-w, minus2+float64(w*w)
		}
	}
	e.muEff = plus * plus / plus2
	e.cSigma = (e.muEff + 2) / (n + e.muEff + 5)
	e.dSigma = 1 + 2*max(0, math.Sqrt((e.muEff-1)/(n+1))-1) + e.cSigma
	e.cC = (4 + e.muEff/n) / (n + 4 + 2*e.muEff/n)
	e.c1 = 2 / ((n+1.3)*(n+1.3) + e.muEff)
	e.cMu = min(1-e.c1, 2*(0.25+e.muEff+1/e.muEff-2)/((n+2)*(n+2)+e.muEff))

	// The last of the three bounds on the negative weights' sum keeps the
	// covariance positive definite.
	alpha := min(1+e.c1/e.cMu, 1+2*(minus*minus/minus2)/(e.muEff+2), (1-e.c1-e.cMu)/(n*e.cMu))
	for i := range e.w {
		if i < e.mu {
			e.w[i] /= plus
		} else {
			e.w[i] *= alpha / minus
		}
	}
}

// Ask returns this generation's candidates, points of the unit box in multiples
// of 1/Grid. Asking again before telling returns the same ones. They may be
// kept, not changed.
func (e *Search) Ask() [][]float64 {
	n, z := len(e.m), make([]float64, len(e.m))
	for k := len(e.asked); k < len(e.w); k++ {
		u, x := make([]float64, n), make([]float64, n)
		for i := range z {
			z[i] = float64(e.stream.Normal(int64((e.Generation*len(e.w)+k)*n+i))) / draw.One
		}
		for i, y := range times(e.root, z) {
			u[i] = math.Round((e.m[i]+float64(e.Sigma*y))*Grid) / Grid
			x[i] = math.Round(fold(u[i])*Grid) / Grid
		}
		e.drawn, e.asked = append(e.drawn, u), append(e.asked, x)
	}
	return e.asked
}

// Tell moves the cloud by the costs of the candidates of the last Ask, in their
// order. Less is better; +Inf is a setting that fails; equal costs rank in the
// candidates' order. If an error says what is wrong with the costs, nothing has
// been learned.
func (e *Search) Tell(cost []float64) error {
	if len(cost) != len(e.asked) {
		return fmt.Errorf("cma: generation %d: told %d costs for %d candidates; want one for each that Ask returned",
			e.Generation, len(cost), len(e.asked))
	}
	rank := make([]int, len(cost))
	for k, f := range cost {
		if rank[k] = k; math.IsNaN(f) {
			return fmt.Errorf("cma: generation %d: the cost of candidate %d is NaN; want a number, or +Inf for a setting that fails",
				e.Generation, k)
		}
	}
	slices.SortStableFunc(rank, func(a, b int) int { return cmp.Compare(cost[a], cost[b]) })

	n := float64(len(e.m))
	y := make([][]float64, len(rank)) // the steps to the draws, best first, in units of Sigma
	m, step := make([]float64, len(e.m)), make([]float64, len(e.m))
	for k, r := range rank {
		y[k] = make([]float64, len(e.m))
		for i, u := range e.drawn[r] {
			if y[k][i] = (u - e.m[i]) / e.Sigma; k < e.mu {
				m[i] += float64(e.w[k] * u)
				step[i] += float64(e.w[k] * y[k][i])
			}
		}
	}
	e.m, e.asked, e.drawn = m, nil, nil
	e.Generation++

	// Step size: steps that agree make a path longer than a blind walk's, whose
	// length is E‖N(0, I)‖. While it is far longer (h = 0) the other path waits.
	for i, s := range times(e.inverse, step) {
		e.pSigma[i] = float64((1-e.cSigma)*e.pSigma[i]) + float64(math.Sqrt(e.cSigma*(2-e.cSigma)*e.muEff)*s)
	}
	length := norm(e.pSigma) / (math.Sqrt(n) * (1 - 1/(4*n) + 1/(21*n*n)))
	h := 0.0
	if length < (1.4+2/(n+1))*math.Sqrt(1-math.Pow(1-e.cSigma, 2*float64(e.Generation))) {
		h = 1
	}
	for i, s := range step {
		e.pC[i] = float64((1-e.cC)*e.pC[i]) + float64(h*math.Sqrt(e.cC*(2-e.cC)*e.muEff)*s)
	}

	// Covariance: towards the path and the better steps, away from the worse
	// ones, which are first brought to the length √n.
	keep, w := 1-e.c1-e.cMu+float64((1-h)*e.c1*e.cC*(2-e.cC)), slices.Clone(e.w)
	for k := e.mu; k < len(w); k++ {
		keep -= float64(e.cMu * e.w[k])
		if l := norm(times(e.inverse, y[k])); l > 0 {
			w[k] *= n / (l * l)
		}
	}
	for i := range e.m {
		for j := range i + 1 {
			c := float64(keep*e.c.At(i, j)) + float64(e.c1*e.pC[i]*e.pC[j])
			for k := range w {
				c += float64(e.cMu * w[k] * y[k][i] * y[k][j])
			}
			e.c.SetSym(i, j, c)
		}
	}
	e.Sigma *= math.Exp(e.cSigma / e.dSigma * (length - 1))
	return e.shape()
}

// shape keeps every standard deviation between its floor and the box's width,
// and takes the roots of the covariance.
func (e *Search) shape() error {
	// Only Sigma²·C counts: let C's largest variance be 1, or the two drift apart
	// without end.
	largest := 0.0
	for i := range e.m {
		largest = max(largest, math.Sqrt(e.c.At(i, i)))
	}
	e.Sigma = min(1, e.Sigma*largest)
	e.c.ScaleSym(1/(largest*largest), e.c)

	// A floor counts in the box; in a wall's rounding a draw must go further to
	// get as far. Adding to a variance keeps C positive definite.
	floor, short := make([]float64, len(e.m)), math.Inf(1)
	for i, l := range e.least {
		e.pC[i] /= largest
		x := fold(e.m[i])
		e.Mean[i] = x
		if x < 0.5 {
			floor[i] = lift(x+l) - lift(x)
		} else {
			floor[i] = lift(x) - lift(x-l)
		}
		short = min(short, floor[i]/(e.Sigma*math.Sqrt(e.c.At(i, i))))
	}
	e.Sigma *= max(1, short) // every coordinate is below its floor
	for i, f := range floor {
		e.c.SetSym(i, i, max(e.c.At(i, i), f*f/(e.Sigma*e.Sigma)))
	}

	var eigen mat.EigenSym
	if !eigen.Factorize(e.c, true) {
		return fmt.Errorf("cma: generation %d: no eigenvalues found for the covariance", e.Generation)
	}
	var b mat.Dense
	eigen.VectorsTo(&b)
	d := eigen.Values(nil)
	for k, v := range d {
		d[k] = math.Sqrt(max(v, 1e-14*d[len(d)-1])) // rounding may take a thin cloud below 0
	}
	for i := range e.m {
		for j := range i + 1 {
			root, inverse := 0.0, 0.0
			for k := range d {
				root += float64(b.At(i, k) * b.At(j, k) * d[k])
				inverse += b.At(i, k) * b.At(j, k) / d[k]
			}
			e.root.SetSym(i, j, root)
			e.inverse.SetSym(i, j, inverse)
		}
	}
	return nil
}
