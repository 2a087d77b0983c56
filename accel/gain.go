package accel

import "math"

// Gain is a compiled acceleration: integers only, the same ones that an exported
// firmware header holds. The zero value is the plain profile. Nothing writes to a
// Gain after Compile, so any number of trials may share one.
//
// An interval is in units of 2^-Shift ticks and lies in 0…65534; 65535 (Never)
// stands for rate 0. A factor is in 1/256. A gain is in 1/256 task steps per
// detent and has the base in it.
type Gain struct {
	TicksPerSecond int64
	Shift          int    // a tick is 2^Shift units of an interval; if negative, a unit is 2^-Shift ticks
	Rest           uint32 // ticks

	From     From
	Reversal Reversal
	Steps    Steps

	Base    uint32 // task steps
	Landing uint32 // gain above which the value lands; 0 = off

	// One of Flat, Table and Factor gives the gain; the others are zero.
	Flat  uint32  // gain at every rate
	Table Falling // factor by interval, at most 64 knots

	// A ladder's step i is entered at intervals under Enter[i] and left at
	// Leave[i] and longer. Factor[0] holds under the first step, Factor[i+1] on
	// step i.
	Enter, Leave, Factor []uint16

	// Over is, for Average, its time constant in units; for Window, its length in
	// ticks.
	Over uint32

	// Remain is, for Average, the share of the old estimate's distance from the
	// newest interval that is left after a detent, in 1/32768 by the old estimate.
	Remain Falling

	// Spaced[n] is, for Window, the interval that n earlier detents in the window
	// stand for; Spaced[0] is Never. It ends at 32 or where the gain stops rising:
	// the knob then remembers no more than that many.
	Spaced []uint16
}

// Never is the interval that stands for rate 0.
const Never = 0xffff

// Memory is what one knob remembers between detents. The zero value is at rest.
type Memory struct {
	last       int64                  // tick of the newest detent
	estimate   uint16                 // interval, in units
	carry      uint8                  // 1/256 task steps
	step       uint8                  // of a ladder, 0 = under the first
	dir        int8                   // of the newest detent, 0 = none yet
	in, oldest uint8                  // Window: detents remembered, and where in times the oldest is
	times      [mostRemembered]uint32 // their ticks, modulo 2^32
}

// Ticks converts a time in nanoseconds to the tick it falls in.
func (g *Gain) Ticks(ns int64) int64 {
	tick := int64(1_000_000)
	if g.TicksPerSecond == 1_000_000 {
		tick = 1000
	}
	t := ns / tick
	if ns < t*tick {
		t--
	}
	return t
}

// Detent returns how many task steps, at least 1, a detent in direction dir
// (negative: down, else up) makes at tick now. value is the absolute value in
// task steps before it, which only landing looks at.
func (g *Gain) Detent(s *Memory, now int64, dir int, value int64) int64 {
	d := int8(1)
	if dir < 0 {
		d = -1
	}
	turned := d != s.dir
	if turned {
		s.carry = 0
	}
	gain := int64(g.Flat)
	if gain == 0 {
		gain = int64(g.Base) * int64(g.factor(s, now, turned))
	}
	s.dir = d
	if g.Landing != 0 && gain > int64(g.Landing) {
		s.carry = 0
		return land(value, (gain+128)>>8, d)
	}
	if g.Steps == Round {
		return max(1, (gain+128)>>8)
	}
	gain += int64(s.carry)
	s.carry = uint8(gain)
	return max(1, gain>>8)
}

// land returns how far it is from value to the next multiple of steps in
// direction d.
func land(value, steps int64, d int8) int64 {
	past := value % steps
	if past < 0 {
		past += steps
	}
	if d > 0 {
		return steps - past
	}
	if past == 0 {
		return steps
	}
	return past
}

// Constant returns the gain in 1/256 task steps per detent, and whether it holds
// at every rate and at every value.
func (g *Gain) Constant() (gain int64, ok bool) {
	if g.Table != nil || g.Factor != nil || g.Landing != 0 && g.Flat > g.Landing {
		return 0, false
	}
	return max(256, int64(g.Flat)), true
}

// At returns the steady gain, in task steps per detent with the base in it, of a
// knob that turns at a constant rate in detents per second: what the integers
// give once the estimate has settled, with the interval rounded to the nearest
// tick. A ladder is climbed from rest. Landing is left out, because how far it
// moves the value depends on the value.
func (g *Gain) At(rate float64) float64 {
	ticks := math.Round(float64(g.TicksPerSecond) / rate)
	if !(rate > 0 && ticks < float64(g.Rest)) {
		return float64(g.AtInterval(int64(g.Rest))) / 256
	}
	return float64(g.AtInterval(int64(ticks))) / 256
}

// AtInterval is At for detents that many ticks apart, in 1/256 task steps per
// detent.
func (g *Gain) AtInterval(ticks int64) int64 {
	switch {
	case g.Flat != 0:
		return int64(g.Flat)
	case ticks >= int64(g.Rest):
		return max(256, int64(g.Base)*256)
	}
	ticks = max(0, ticks)
	var s Memory
	if g.From == Window {
		in := int64(len(g.Spaced) - 1)
		if ticks > 0 {
			in = min(in, int64(g.Over)/ticks)
		}
		s.estimate = g.Spaced[in]
	} else {
		s.estimate = g.units(uint32(ticks))
	}
	return int64(g.Base) * int64(g.lookUp(&s))
}

// RateOf returns the rate in detents per second that an interval stands for.
func (g *Gain) RateOf(interval uint16) float64 {
	if interval == Never {
		return 0
	}
	return math.Ldexp(float64(g.TicksPerSecond), g.Shift) / float64(interval)
}
