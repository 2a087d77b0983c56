// Package paired compares two candidates that met the same trials.
//
// Two people who try two settings differ more from each other than the settings
// do. Here both candidates meet the same people, targets, phases and noise, so a
// trial of one is subtracted from the same trial of the other and most of the
// noise goes with it. What is left is a sample of differences with many exact
// zeros (the setting did not matter in that trial), many ties and a few huge
// values (one of the two timed out). Everything in this package is right with
// those; nothing in it needs a distribution.
//
// # Timeouts
//
// A trial that was not done by its limit is +Inf in a sample of times. A
// quantile that falls among such trials is +Inf: it lies beyond the limit. In a
// difference a timeout counts as the limit; two timeouts differ by 0. Where that
// reaches the median, [Difference] bounds it from both sides, and one of the
// bounds is infinite. Means cannot be had from times that nobody saw the end of:
// they are means of times [Capped] at the limit.
//
// # Which interval, which test
//
//   - a quantile, or a median of differences: percentile bootstrap, computed
//     without resampling ([QuantileInterval])
//   - a mean, a mean difference, also weighted over tasks: approximate bootstrap
//     (ABC), computed without resampling; sign-flip permutation ([Average])
//   - a share: Wilson ([ShareInterval])
//   - a difference of paired shares: Newcombe; exact McNemar ([ShareDifference])
//   - more trials faster than slower: exact sign test ([SignTest])
//   - a mean or a share over members of a population, which may be few, whatever their
//     trials have in common: [ClusterMean], [ClusterShare], [MemberShare]
//   - several of these at once: [Holm]
//   - a weighted mean of independent estimates: [Weigh]
//   - the same of samples too large to be kept, from counts and sums: [Counts], [Pairs],
//     [MeanOf]; instead of sign-flips their normal limit, never below it ([AverageOf])
//
// All intervals are 95 % intervals, each for itself; all p values are two-sided.
// Below some twenty trials a bootstrap interval says little, and no paired test
// can reach 5 % with fewer than six of them.
//
// Left out: unpaired comparisons of times, more than two candidates at once, and
// everything Bayesian. Only [Average] draws random numbers, and only for more
// than 30 differences that are not 0; they come from encoder/draw.
package paired

import (
	"math"

	"dialwright/encoder/draw"
)

// Level is the confidence level of every interval, and 1 − Level the level at
// which a difference counts as found.
const Level = 0.95

// z is the normal quantile at (1+Level)/2.
const z = 1.959963984540054

// flips is what the sign-flip test draws its signs for.
const flips draw.Purpose = draw.Resample

// Estimate is a number with its interval at [Level], in the unit of the sample.
// An end is infinite where timeouts leave it open.
type Estimate struct {
	Value, Low, High float64
}

// Sign is 1 when the whole interval lies above 0, −1 when it lies below, else 0.
func (e Estimate) Sign() int {
	switch {
	case e.Low > 0:
		return 1
	case e.High < 0:
		return -1
	}
	return 0
}

// Negated returns the estimate of the same quantity with its sign turned.
func (e Estimate) Negated() Estimate { return Estimate{-e.Value, -e.High, -e.Low} }

// below tells p values and probabilities apart in units of 1e-12, so that the
// last bit of a logarithm, which differs between processors, decides nothing.
func below(p, q float64) bool { return math.Round(p*1e12) < math.Round(q*1e12) }
