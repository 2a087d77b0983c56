package evidence

import "math"

// line is a straight line fitted by least squares.
type line struct{ intercept, slope, r2 float64 }

func (l line) at(x float64) float64 { return l.intercept + float64(l.slope*x) }

// fitLine fits y = intercept + slope·x. It adds from first to last on every processor,
// which gonum's stat.LinearRegression does not (its means are those of package floats).
func fitLine(x, y []float64) line {
	n := float64(len(x))
	var sx, sy, sxx, sxy, syy float64
	for i := range x {
		sx += x[i]
		sy += y[i]
	}
	mx, my := sx/n, sy/n
	for i := range x {
		dx, dy := x[i]-mx, y[i]-my
		sxx += float64(dx * dx)
		sxy += float64(dx * dy)
		syy += float64(dy * dy)
	}
	l := line{slope: sxy / sxx}
	l.intercept = my - float64(l.slope*mx)
	l.r2 = float64(sxy*sxy) / (sxx * syy)
	return l
}

// difficulty is the index of difficulty of a movement over a distance to a target
// of a width, log2(D/W + 1), in bits (ISO/TS 9241-411).
func difficulty(distance, width float64) float64 { return math.Log2(distance/width + 1) }

// plane is a fit of y = a + b·u + c·v by least squares.
type plane struct{ a, b, c, r2 float64 }

// fitPlane fits y = a + b·u + c·v.
func fitPlane(u, v, y []float64) plane {
	mean := func(x []float64) float64 {
		sum := 0.0
		for _, x := range x {
			sum += x
		}
		return sum / float64(len(x))
	}
	mu, mv, my := mean(u), mean(v), mean(y)
	var uu, uv, vv, uy, vy, yy float64
	for i := range y {
		du, dv, dy := u[i]-mu, v[i]-mv, y[i]-my
		uu += float64(du * du)
		uv += float64(du * dv)
		vv += float64(dv * dv)
		uy += float64(du * dy)
		vy += float64(dv * dy)
		yy += float64(dy * dy)
	}
	det := float64(uu*vv) - float64(uv*uv)
	p := plane{b: (float64(uy*vv) - float64(vy*uv)) / det, c: (float64(vy*uu) - float64(uy*uv)) / det}
	p.a = my - float64(p.b*mu) - float64(p.c*mv)
	p.r2 = (float64(p.b*uy) + float64(p.c*vy)) / yy
	return p
}

// fitProduct fits MT = a + (b + c·LAG)·ID, fitSum MT = a + b·ID + c·LAG.
func fitProduct(id, lag, mt []float64) plane {
	product := make([]float64, len(id))
	for i := range id {
		product[i] = id[i] * lag[i]
	}
	return fitPlane(id, product, mt)
}

func fitSum(id, lag, mt []float64) plane { return fitPlane(id, lag, mt) }
