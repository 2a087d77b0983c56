package accel_test

import (
	"math"
	"testing"
	"time"

	"dialwright/accel"

	"pgregory.net/rapid"
)

// formula is the acceleration once more, in real numbers and straight from the
// rules of the package comment: rates instead of intervals, no table, no units.
type formula struct {
	accel.Acceleration
	times []float64 // of this turn's detents, s
	dir   int
	rate  float64
	rung  int // of a ladder
}

// detent brings the estimate up to date.
func (f *formula) detent(at float64, dir int) {
	turned := f.dir != 0 && dir != f.dir
	f.dir = dir
	gap := math.Inf(1)
	if len(f.times) > 0 {
		gap = at - f.times[len(f.times)-1]
	}
	over := f.Rate.Over.Seconds()
	switch {
	case gap > f.Rate.Rest.Seconds()-1e-9 || turned && f.Rate.Reversal == accel.Reset:
		f.times, f.rate = nil, 0
	case turned:
	case f.Rate.From == accel.Last:
		f.rate = 1 / gap
	case f.Rate.From == accel.Average:
		f.rate = (over*f.rate + 1) / (over + gap)
	case f.Rate.From == accel.Window:
		n := 0
		for _, t := range f.times {
			if at-t < over+1e-9 {
				n++
			}
		}
		f.rate = float64(min(n, 32)) / over
	}
	f.times = append(f.times, at)
}

// factor returns the range that the factor must lie in when an interval may be
// off by slack s, and whether a threshold of a ladder lies so near that either
// side of it would do.
func (f *formula) factor(slack float64) (low, high float64, near bool) {
	slow, fast := f.rate, f.rate
	if f.rate > 0 {
		slow, fast = 1/(1/f.rate+slack), 1/max(1e-9, 1/f.rate-slack)
	}
	l, ok := f.Curve.(accel.Ladder)
	if !ok {
		return f.Curve.Of(min(slow, accel.MaxRate)), f.Curve.Of(min(fast, accel.MaxRate)), false
	}
	for f.rung < len(l.Steps) && f.rate > l.Steps[f.rung].Above {
		f.rung++
	}
	for f.rung > 0 && f.rate <= l.Steps[f.rung-1].Above*(1-l.Hysteresis) {
		f.rung--
	}
	for _, s := range l.Steps {
		leave := s.Above * (1 - l.Hysteresis)
		near = near || slow <= s.Above && s.Above <= fast || slow <= leave && leave <= fast
	}
	gain := 1.0
	if f.rung > 0 {
		gain = l.Steps[f.rung-1].Gain
	}
	return gain, gain, near
}

func TestTheIntegersFollowTheRules(t *testing.T) {
	all, clear := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		all++
		a := anyAcceleration(t)
		if a.Curve == nil {
			a.Curve = accel.Constant{Gain: 1}
		}
		if a.Rate.From == accel.Average { // shorter ones are coarser
			a.Rate.Over = max(a.Rate.Over, (a.Rate.Rest / 20).Truncate(time.Millisecond))
		}
		g := compile(t, fractions(a))
		f := formula{Acceleration: a}
		unit := math.Ldexp(1/float64(g.TicksPerSecond), -g.Shift)
		off := 0.01
		if a.Rate.From == accel.Average {
			off = 0.02
		}
		var s accel.Memory
		var now int64
		for i, d := range anyTurn(t, g) {
			now += d.gap
			got := float64(g.Detent(&s, now, d.dir, 0)) / 256 / float64(max(1, a.Base))
			f.detent(float64(now)/float64(g.TicksPerSecond), d.dir)
			low, high, near := f.factor(2*unit + off/f.rate)
			if near {
				return
			}
			if got < low*0.99-1.0/128 || got > high*1.01+1.0/128 {
				t.Fatalf("detent %d: factor %.3f, want %.3f to %.3f at %.3f/s", i, got, low, high, f.rate)
			}
		}
		clear++
	})
	if clear < all/4 {
		t.Errorf("only %d of %d turns were clear of a ladder's thresholds", clear, all)
	}
}
