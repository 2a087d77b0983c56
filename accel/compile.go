package accel

import (
	"fmt"
	"math"
	"time"
)

// knots is the most points a compiled table has.
const knots = 64

// Compile checks an acceleration and makes its integers. An error is a Faults.
func (a Acceleration) Compile() (*Gain, error) {
	if faults := a.check(); len(faults) > 0 {
		return nil, faults
	}
	a = a.filled()
	g := &Gain{
		TicksPerSecond: int64(time.Second / a.Tick),
		Rest:           uint32(a.Rate.Rest / a.Tick),
		From:           a.Rate.From,
		Reversal:       a.Rate.Reversal,
		Steps:          a.Steps,
		Base:           uint32(a.Base),
		Landing:        uint32(a.Landing) << 8,
	}
	// The longest interval fills 15 bits, so that an average, which can be twice
	// as long, stays under Never.
	for g.Rest>>uint(max(0, -g.Shift)) >= 1<<15 {
		g.Shift--
	}
	for g.Shift >= 0 && g.Rest<<uint(g.Shift+1) < 1<<15 {
		g.Shift++
	}
	if KindOf(a.Curve).Flat() || a.Curve.Of(MaxRate) == 1 {
		g.Flat = g.Base * fixed(a.Curve.Of(MaxRate))
		return g, nil
	}
	second := math.Ldexp(float64(g.TicksPerSecond), g.Shift) // in units
	switch a.Rate.From {
	case Average:
		over := math.Ldexp(float64(a.Rate.Over/a.Tick), g.Shift)
		g.Over = uint32(over)
		g.Remain = fall(func(x uint32) int64 {
			return int64(over / (over + float64(x)) * (32767 << 8))
		}, 1<<16, 1<<17, knots/2)
	case Window:
		g.Over = uint32(a.Rate.Over / a.Tick)
	}
	if l, ok := a.Curve.(Ladder); ok {
		g.Factor = []uint16{256}
		for _, s := range l.Steps {
			g.Enter = append(g.Enter, interval(second, s.Above))
			g.Leave = append(g.Leave, interval(second, s.Above*(1-l.Hysteresis)))
			g.Factor = append(g.Factor, uint16(fixed(s.Gain)))
		}
	} else {
		limit := uint32(math.Ldexp(float64(g.Rest), g.Shift))
		if g.From == Average {
			limit += g.Over
		}
		g.Table = fall(func(x uint32) int64 {
			return fine(a.Curve.Of(min(second/float64(x), MaxRate)))
		}, limit, 1<<16, knots)
	}
	if g.From == Window {
		g.space(math.Ldexp(float64(g.Over), g.Shift))
	}
	return g, nil
}

// space fills Spaced for a window of that many units, as far as it matters.
func (g *Gain) space(over float64) {
	g.Spaced = []uint16{Never}
	for n := 1; n <= mostRemembered; n++ {
		g.Spaced = append(g.Spaced, interval(over, float64(n)))
	}
	factor := func(n int) uint16 {
		return g.lookUp(&Memory{estimate: g.Spaced[n]})
	}
	for n := mostRemembered; n > 1 && factor(n-1) == factor(n); n-- {
		g.Spaced = g.Spaced[:n]
	}
}

// interval returns second/rate units rounded up, so that a whole interval is under
// it exactly when its rate is above rate. The 1e-9 takes back what floating point
// adds to a quotient that is whole on paper.
func interval(second, rate float64) uint16 {
	return uint16(min(math.Ceil(second/rate-1e-9), Never-1))
}

// fixed rounds a factor to 1/256.
func fixed(factor float64) uint32 { return uint32(value(fine(factor))) }

// fine rounds a factor to 1/65536. The odd half keeps values that are ties on
// paper from being decided by the last bit of a processor's power function.
func fine(factor float64) int64 { return int64(math.Floor(float64(factor*65536) + 0.5001)) }

// filled returns the acceleration with its defaults written out.
func (a Acceleration) filled() Acceleration {
	set := func(d *time.Duration, to time.Duration) {
		if *d == 0 {
			*d = to
		}
	}
	set(&a.Tick, time.Millisecond)
	set(&a.Rate.Rest, 400*time.Millisecond)
	switch a.Rate.From {
	case Average:
		set(&a.Rate.Over, 120*time.Millisecond)
	case Window:
		set(&a.Rate.Over, 200*time.Millisecond)
	}
	if a.Base == 0 {
		a.Base = 1
	}
	if a.Curve == nil {
		a.Curve = constants.Default
	}
	return a
}

func (a Acceleration) check() (f Faults) {
	idle := a.Rate.From == Last && a.Rate.Over != 0
	a = a.filled()
	if a.Tick != time.Millisecond && a.Tick != time.Microsecond {
		f.add("tick", "1ms or 1µs", "%v", a.Tick)
		a.Tick = time.Millisecond
	}
	if a.Base < 1 || a.Base > MaxBase {
		f.add("base", fmt.Sprintf("1 to %d task steps", MaxBase), "%d", a.Base)
	}
	switch {
	case a.Rate.From > Window:
		f.add("rate.from", "last, average or window", "%d", a.Rate.From)
	case idle:
		f.add("rate.over", "leave it out, or take the rate from average or window", "%v, which rate from last does not use", a.Rate.Over)
	case a.Rate.From != Last:
		f.time("rate.over", a.Rate.Over, time.Millisecond, max(a.Rate.Rest, MinRest), a.Tick)
	}
	f.time("rate.rest", a.Rate.Rest, MinRest, MaxRest, a.Tick)
	if a.Rate.Reversal > Keep {
		f.add("rate.reversal", "reset or keep", "%d", a.Rate.Reversal)
	}
	if k := KindOf(a.Curve); k != nil {
		k.check(a.Curve, &f)
	} else {
		f.add("curve", "one of this package's curves, by value", "%T", a.Curve)
	}
	if a.Steps > Round {
		f.add("steps", "carry or round", "%d", a.Steps)
	}
	if a.Landing < 0 || a.Landing > MaxGain*MaxBase {
		f.add("landing.above", fmt.Sprintf("1 to %d task steps, or none", MaxGain*MaxBase), "%d", a.Landing)
	}
	return f
}

// time demands a whole number of ticks between low and high.
func (fs *Faults) time(field string, t, low, high, tick time.Duration) {
	switch {
	case t < low || t > high:
		fs.add(field, fmt.Sprintf("%v to %v", low, high), "%v", t)
	case t%tick != 0:
		fs.add(field, fmt.Sprintf("a whole number of %v", tick), "%v", t)
	}
}
