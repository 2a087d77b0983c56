package paired

import (
	"math"
	"slices"

	"dialwright/encoder/draw"
)

// MeanInterval returns the mean of x with its approximate bootstrap interval
// (see [Average]). Cap timeouts first.
func MeanInterval(x []float64) Estimate { return WeightedMean([]Group{{1, x}}) }

// Group is the sample of one task and how much the task weighs.
type Group struct {
	Weight float64 // > 0; only the proportions between groups count
	Sample []float64
}

// Average is the mean of differences, over one task or weighted over several.
type Average struct {
	// Mean has the approximate bootstrap interval ABC (DiCiccio and Efron, "More
	// accurate confidence intervals in exponential families", Biometrika 1992;
	// Efron and Tibshirani, An Introduction to the Bootstrap, chapter 22): what
	// the BCa bootstrap tends to with endless resamples, corrected for skewness.
	Mean Estimate

	// P is the sign-flip permutation test: were A and B exchangeable in every
	// trial, every sign of every difference would be a coin toss; P is the share
	// of tosses that take the weighted sum at least as far from 0. Ties with the
	// observed sum count. It tests a mean of 0.
	P float64

	// Exact says that P counts all tosses. Beyond 30 differences that are not 0
	// it is (hits+1)/(tosses+1) over 19999 of them, so never below 1/20000.
	Exact bool
}

// AverageDifference returns the mean of the groups' means, weighted. Groups are
// samples of differences from independent trials; an empty one gives NaN.
//
// To ask whether A needs less than 97 % of B's time, pass the differences of A
// and 0.97·B.
func AverageDifference(groups []Group, from draw.Trial) Average {
	a := Average{Mean: WeightedMean(groups)}
	total, all := 0.0, 0.0
	var parts []float64 // what each trial adds to the weighted sum, but for its sign
	for _, g := range groups {
		for _, d := range g.Sample {
			if d != 0 {
				part := d * g.Weight / float64(len(g.Sample))
				total += part
				all += math.Abs(part)
				parts = append(parts, math.Abs(part))
			}
		}
	}
	// Sums that are equal on paper may differ in their last bits.
	far := math.Abs(total) - all*1e-11
	if a.Exact = len(parts) <= 30; a.Exact {
		a.P = allFlips(parts, far)
	} else {
		a.P = someFlips(parts, far, from.Stream(flips))
	}
	return a
}

// WeightedMean returns the mean of the groups' means, weighted, with the interval of
// [Average]. For a mean, which is linear, both constants of ABC are the same (the
// acceleration, one sixth of the skewness of the mean; the bias has no other source)
// and no second derivative is needed. An empty group gives NaN.
func WeightedMean(groups []Group) Estimate {
	weights := 0.0
	for _, g := range groups {
		weights += g.Weight
	}
	var m, m2, m3 float64
	for _, g := range groups {
		at, w := mean(g.Sample), g.Weight/weights
		m += float64(w * at)
		for _, v := range g.Sample {
			u := w * (v - at) / float64(len(g.Sample))
			m2 += float64(u * u)
			m3 += float64(u * u * u)
		}
	}
	return abc(m, m2, m3)
}

// abc returns a mean between the endpoints of ABC, from the sums of squares and of cubes
// of what each of a sample adds to it.
func abc(m, m2, m3 float64) Estimate {
	if m2 == 0 {
		return Estimate{m, m, m}
	}
	sd := math.Sqrt(m2)
	a := m3 / (6 * m2 * sd)
	end := func(z float64) float64 {
		w := a + z
		bent := 1 - float64(a*w)
		return m + sd*w/(bent*bent)
	}
	return Estimate{m, end(-z), end(z)}
}

// mean adds from first to last, on every processor; gonum's stat.Mean adds in another
// order on amd64, which the last bit shows.
func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// allFlips returns the share of all sign patterns whose sum is at least far from
// 0. It meets in the middle: the sums of either half, sorted, are walked against
// each other.
func allFlips(parts []float64, far float64) float64 {
	if far <= 0 {
		return 1
	}
	low, high := signedSums(parts[:len(parts)/2]), signedSums(parts[len(parts)/2:])
	slices.Sort(low)
	slices.Sort(high)
	// Patterns come in pairs of opposite sums: count one side, twice.
	hits, j := 0, len(high)
	for _, s := range low {
		for j > 0 && s+high[j-1] >= far {
			j--
		}
		hits += len(high) - j
	}
	return float64(2*hits) / float64(len(low)*len(high))
}

// signedSums returns the sum for every sign pattern; bit i of the index set
// means that parts[i] is added, else taken off.
func signedSums(parts []float64) []float64 {
	sums := []float64{0}
	for _, v := range parts {
		n := len(sums)
		sums = append(sums, sums...)
		for i := range n {
			sums[i] -= v
			sums[n+i] += v
		}
	}
	return sums
}

// tosses is the number of sign patterns tried beyond 30 differences.
const tosses = 19999

// someFlips is allFlips for patterns drawn at random. Eight signs at a time are
// one byte of a draw and look their sum up.
func someFlips(parts []float64, far float64, s draw.Stream) float64 {
	sums := make([]float64, tosses)
	for word := 0; word*64 < len(parts); word++ {
		var table [8][256]float64
		for b := range table {
			at := min(word*64+b*8, len(parts))
			eight := signedSums(parts[at:min(at+8, len(parts))])
			for i := range table[b] {
				table[b][i] = eight[i%len(eight)]
			}
		}
		for i := range sums {
			bits := s.Bits(int64(word)*tosses + int64(i))
			sums[i] += table[0][bits&255] + table[1][bits>>8&255] +
				table[2][bits>>16&255] + table[3][bits>>24&255] +
				table[4][bits>>32&255] + table[5][bits>>40&255] +
				table[6][bits>>48&255] + table[7][bits>>56]
		}
	}
	hits := 1 // the pattern that was observed
	for _, sum := range sums {
		if math.Abs(sum) >= far {
			hits++
		}
	}
	return float64(hits) / (tosses + 1)
}
