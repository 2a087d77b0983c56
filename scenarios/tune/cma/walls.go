package cma

import "math"

// fold mirrors a draw into the box at both walls, as often as needed. Within
// Corner of a wall it follows a parabola that meets the wall at rest:
//
//	x = (u + Corner)² / (4·Corner)   for −Corner ≤ u ≤ Corner.
//
// Compare the boundary transformation of N. Hansen's pycma, which rounds its
// walls off likewise.
func fold(u float64) float64 {
	const width = 1 + 2*Corner
	u = math.Abs(math.Mod(u+Corner, 2*width)) // from the image of the wall at 0
	u = min(u, 2*width-u)
	switch v := width - u; {
	case u < 2*Corner:
		return u * u / (4 * Corner)
	case v < 2*Corner:
		return 1 - v*v/(4*Corner)
	}
	return u - Corner
}

// lift is the draw within one width of the box whose image is x.
func lift(x float64) float64 {
	switch {
	case x < Corner:
		return math.Sqrt(4*Corner*x) - Corner
	case 1-x < Corner:
		return 1 + Corner - math.Sqrt(4*Corner*(1-x))
	}
	return x
}
