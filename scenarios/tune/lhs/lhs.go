// Package lhs spreads a few trial settings evenly over the ranges of many.
//
// Before a search looks closely anywhere it should have looked a little
// everywhere. Points thrown at random leave gaps and clumps in every single
// setting; a grid needs far too many. A Latin hypercube of n points cuts each
// range into n equal strata and puts exactly one point into each, in an order of
// its own for every coordinate:
//
//	M. D. McKay, R. J. Beckman, W. J. Conover, "A Comparison of Three Methods for
//	Selecting Values of Input Variables in the Analysis of Output from a Computer
//	Code", Technometrics 21 (2), 1979.
//
// What depends on one setting at a time is so measured as by a regular grid of n
// values of it. How settings act together is sampled at random; points are not
// moved to keep their distance.
package lhs

import "dialwright/encoder/draw"

// Grid is the number of steps in a coordinate's range: coordinates are multiples
// of 1/Grid, the same on every processor.
const Grid = 1 << 20

// Points returns n points of the box [0, 1)^dim: in every coordinate each of the
// strata [k/n, (k+1)/n) holds one of them. It wants 1 ≤ n ≤ Grid, and a stream
// that is drawn from for nothing else.
func Points(n, dim int, s draw.Stream) [][]float64 {
	points := make([][]float64, n)
	for k := range points {
		points[k] = make([]float64, dim)
	}
	strata := make([]int64, n)
	at := int64(0)
	below := func(n int64) int64 {
		at++
		return s.Below(at-1, n)
	}
	for i := range dim {
		for k := range strata { // Fisher and Yates, inside out
			j := below(int64(k) + 1)
			strata[k], strata[j] = strata[j], int64(k)
		}
		for k, stratum := range strata {
			low, high := first(stratum, n), first(stratum+1, n)
			points[k][i] = float64(low+below(high-low)) / Grid
		}
	}
	return points
}

// first is the first step of the grid in a stratum of n.
func first(stratum int64, n int) int64 { return (stratum*Grid + int64(n) - 1) / int64(n) }
