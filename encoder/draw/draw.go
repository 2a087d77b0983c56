// Package draw gives the random numbers of a simulated trial.
//
// Nothing here has a state that moves. A number is a function of what it is
// for: the seed of the study, the task, the trial, the purpose and an index
// (the 17th edge, frame −3, the second stroke). Two candidates that are
// compared therefore meet the same person, the same phases and the same noise,
// and no result depends on the order of work or on the number of workers.
//
// All numbers are integers, so every processor draws the same ones. The mixing
// function is the finaliser of SplitMix64 (Steele, Lea, Flood, "Fast splittable
// pseudorandom number generators", OOPSLA 2014) over a Weyl sequence.
package draw

import (
	"math"
	"math/bits"
)

// golden is 2^64 divided by the golden ratio, made odd: the step of the Weyl
// sequence.
const golden = 0x9e3779b97f4a7c15

// Trial is the source of every random number of one trial.
type Trial uint64

// NewTrial returns the source for trial number n of the named task under a seed.
func NewTrial(seed uint64, task string, n int) Trial {
	h := mix(seed + golden)
	for i := 0; i < len(task); i++ {
		h = mix(h ^ uint64(task[i]) + golden)
	}
	return Trial(mix(h + uint64(n)*golden))
}

// Stream returns the numbers that a trial keeps for one purpose. Purposes are
// constants of the package that draws; see the Purpose values below.
func (t Trial) Stream(p Purpose) Stream {
	return Stream(mix(uint64(t) ^ mix(uint64(p)*golden+1)))
}

// Purpose says what a number is drawn for. Each package that draws has a range
// of its own, so that two packages never share a stream.
type Purpose uint32

// The first purpose of each package that draws.
const (
	Path      Purpose = 0x000 // encoder
	Rings     Purpose = 0x100 // added to Path for each further ring's path
	Targets   Purpose = 0x800 // scenarios: start and target of a trial
	Person    Purpose = 0xa00 // scenarios/hand: who turns the knob
	Stroke    Purpose = 0xb00 // scenarios/hand: what this trial's strokes do
	Resample  Purpose = 0xc00 // scenarios/paired: bootstrap and permutation
	Search    Purpose = 0xd00 // scenarios/tune
	Recording Purpose = 0xe00 // recordings made for tests of fit
)

// Stream is a sequence of independent uniform numbers, read by index.
type Stream uint64

// Bits returns 64 random bits, number i of the stream.
func (s Stream) Bits(i int64) uint64 { return mix(uint64(s) + uint64(i)*golden) }

// Below returns a uniform whole number in [0, n), for n ≥ 1. The share of the
// most likely value exceeds that of the least likely by less than n/2^64.
func (s Stream) Below(i int64, n int64) int64 {
	hi, _ := bits.Mul64(s.Bits(i), uint64(n))
	return int64(hi)
}

// Share is a fraction in units of 2^-32: [0, 1) is [0, 1<<32).
const Share = 1 << 32

// Unit returns a uniform whole number in [0, Share).
func (s Stream) Unit(i int64) int64 { return int64(s.Bits(i) >> 32) }

// One is the unit of Normal: a standard deviation.
const One = 1 << 20

// Normal returns a normal deviate with mean 0, in units of 1/One of a standard
// deviation, between about −4.9 and 4.9 of them. The quantiles come from a table
// of 4096 intervals made once, rounded to integers before use.
func (s Stream) Normal(i int64) int64 {
	b := s.Bits(i)
	lo, hi := quantiles[b>>52], quantiles[b>>52+1]
	return lo + (hi-lo)*int64(b<<12>>44)>>20
}

// quantiles holds the normal quantile of k/4096 in units of 1/One. The ends,
// which are infinite, are placed so that the outermost intervals keep the
// variance of the tail that they stand for.
var quantiles = func() (q [4097]int64) {
	for k := 1; k < 4096; k++ {
		p := float64(k) / 4096
		q[k] = int64(math.Round(math.Sqrt2 * math.Erfinv(2*p-1) * One))
	}
	// A straight piece from a = Φ⁻¹(4095/4096) to b has the mean square
	// (a²+ab+b²)/3; the tail's is 1 + a·φ(a)/(1−Φ(a)).
	a := float64(q[4095]) / One
	tail := 1 + a*math.Exp(-a*a/2)/math.Sqrt(2*math.Pi)*4096
	b := (-a + math.Sqrt(a*a-4*(a*a-3*tail))) / 2
	q[4096] = int64(math.Round(b * One))
	q[0] = -q[4096]
	return q
}()

func mix(z uint64) uint64 {
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}
