package cma

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// The products here are written out, and converted before they are added, so
// that no processor fuses the two.

func times(m *mat.SymDense, v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range out {
		for j, x := range v {
			out[i] += float64(m.At(i, j) * x)
		}
	}
	return out
}

func norm(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += float64(x * x)
	}
	return math.Sqrt(sum)
}
