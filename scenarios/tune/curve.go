package tune

import (
	"math"
	"reflect"
	"slices"
	"strconv"

	"dialwright/accel"
	"dialwright/scenarios"
)

// usual are the curves of one kind that a search begins with: a modest and a brisk
// gain at a brisk rate; of a flat one, gains from one that is hardly felt to one for a
// long way.
func usual(k *accel.Kind) (list []accel.Curve) {
	if k.Flat() {
		for _, gain := range []float64{1.5, 2, 3, 5, 8, 12, 20, 35} {
			list = append(list, k.Rising(0, gain, 0.5))
		}
		return list
	}
	for _, gain := range []float64{3, 12} {
		list = append(list, neater(k.Rising(13, gain, 0.5)))
	}
	return list
}

// near are the curves one stride away: with a little more or less gain, rising at a
// lower or a higher rate, more or less suddenly.
func near(c accel.Curve, stride float64) (list []accel.Curve) {
	if c == nil {
		return nil
	}
	for _, by := range []float64{stride, 1 / stride} {
		for _, n := range []accel.Curve{scaled(c, by), faster(c, by), bent(c, by)} {
			if n = neater(n); !reflect.DeepEqual(n, c) && !slices.ContainsFunc(list, func(o accel.Curve) bool { return reflect.DeepEqual(o, n) }) {
				list = append(list, n)
			}
		}
	}
	return list
}

// line are the flat curves around a flat one, in steps of a ratio: what they come to is no smooth function of
// the gain, as a tolerance is a whole number of steps.
func line(c accel.Curve, ratio float64) (list []accel.Curve) {
	for n := -8; n <= 8; n++ {
		if x := neater(scaled(c, math.Pow(ratio, float64(n)))); n != 0 && !reflect.DeepEqual(x, c) {
			list = append(list, x)
		}
	}
	return list
}

// around are the neighbours of a curve that a choice must not be worse than: also a curve
// of every kind with the same gain at a middling rate, and beside none one that is hardly
// felt.
func (s *space) around(c accel.Curve) (list []accel.Curve) {
	const middling = 8 // a second
	felt := 1.4
	switch {
	case c == nil:
	case accel.KindOf(c).Flat():
		return line(c, 1.03)
	default:
		list = append(near(c, 1.2), near(c, 1.06)...)
		felt = max(felt, c.Of(middling))
	}
	for _, w := range s.curves {
		k := kind(w)
		if r := neater(k.Rising(middling, felt, 0.5)); (c == nil || !k.Flat()) && !reflect.DeepEqual(r, c) {
			list = append(list, r)
		}
	}
	return list
}

// milder are curves with ever less gain: what the search ends at may be beyond a cap, which
// it only prices, and how far to go back is not known.
func milder(c accel.Curve) (list []accel.Curve) {
	if c == nil || accel.KindOf(c).Flat() {
		return nil
	}
	const ratio = 1.35
	for by := 1 / ratio; ; by /= ratio {
		m := neater(scaled(c, by))
		if m.Of(accel.MaxRate) < 1+ratio/4 {
			return list
		}
		list = append(list, m)
	}
}

// scaled returns a curve whose gain above 1 is multiplied; of a flat one, its gain.
func scaled(c accel.Curve, by float64) accel.Curve {
	return accel.Changed(c, func(p accel.Parameter, v float64) float64 {
		switch {
		case !p.Has(accel.GainRole):
			return v
		case p.Quantity == accel.Added:
			return v * by
		case accel.KindOf(c).Flat():
			return math.Max(1, math.Min(accel.MaxGain, v*by))
		}
		return math.Min(accel.MaxGain, 1+float64((v-1)*by))
	})
}

// faster returns a curve that rises at rates multiplied by a factor.
func faster(c accel.Curve, by float64) accel.Curve {
	return accel.Changed(c, func(p accel.Parameter, v float64) float64 {
		if p.Has(accel.RateRole) {
			return math.Min(accel.MaxRate-1, v*by)
		}
		return v
	})
}

// bent returns a curve that rises more suddenly for a factor above 1. Of a ladder
// that is its lower steps' gain, of a line its cap alone.
func bent(c accel.Curve, by float64) accel.Curve {
	if c == nil {
		return nil
	}
	k := accel.KindOf(c)
	if k.Rows != nil && k.Rows.Gain.Has(accel.BendRole) {
		rows := k.Rows.Of(c)
		for i := range len(rows) - 1 {
			rows[i][1] = math.Min(rows[i+1][1], math.Max(1, 1+float64((rows[i][1]-1)/by)))
		}
		c = k.Rows.With(c, rows)
	}
	for _, p := range k.Parameters {
		switch v := p.Of(c); {
		case !p.Has(accel.BendRole):
		case p.Quantity == accel.Factor:
			c = p.With(c, math.Min(accel.MaxGain, 1+float64((v-1)*by)))
		case p.Quantity == accel.PerSecond:
			c = p.With(c, v/by)
		default:
			c = p.With(c, v*by)
		}
	}
	return c
}

// neater rounds the numbers of a curve to what a person would write into a file. A
// far target notices a twentieth of a gain that never changes.
func neater(c accel.Curve) accel.Curve {
	return accel.Changed(c, func(p accel.Parameter, v float64) float64 {
		switch {
		case p.Role == 0:
			return v
		case accel.KindOf(c).Flat():
			return math.Round(20*v) / 20
		}
		return neat(v)
	})
}

// neat rounds to two digits: what a person would write into a file.
func neat(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 2, 64), 64)
	if err != nil {
		panic(err) // it was a number before
	}
	return y
}

// kind returns the kind of curve that a file calls by a word.
func kind(word string) *accel.Kind {
	return accel.Curves()[slices.Index(accel.CurveWords(), word)]
}

// plain says whether a profile leaves every click one step.
func plain(p *scenarios.Profile) bool { return p.Acceleration.Plain() && p.PressCoarse == 0 }
