package hand

import (
	"math"

	"dialwright/encoder/draw"
)

// What a plan costs beyond its time, and where it ends.
const (
	standing     = 150e6 // ns without a change before a number is taken to stand
	unchanged    = 1e9   // ns after which a number that never moved is believed
	reversalCost = 800e6 // ns
	narrowExtra  = 4     // steps beyond one stroke's travel from which on a narrow target is waited for
	fineZone     = 3     // detents around a narrow target within which it turns one at a time
	wideFour     = 4     // target widths that must be missing for a correction on the move
)

// plans is what people of one operator do on one knob to hit a target of one
// width. It is computed as it is asked for and remembered: plans depend on the
// class of a person, never on the person.
type plans struct {
	grip      *Grip
	multiple  int64 // task steps that a step counts
	tolerance int64 // 1/fine steps either side of the target
	base      int64 // travel of a slow detent, 1/fine steps
	narrow    bool

	cycle, fix int64                             // ns: one correction; one more detent of a fine approach
	grain      int64                             // distances are rounded to it, 1/fine steps
	sd         []int64                           // of a stroke of n detents, 1/draw.One detents
	ends       [][]end                           // where a stroke of n detents may end, by n; nil on a wide target
	cruise     [speedClasses][errorClasses]int64 // ns per step when turning on and on
	remembered []planned                         // length a power of two
	crowded    int                               // plans of which another one took the place
}

// stroke is a plan: so many detents at such a pace.
type stroke struct {
	n, pace int
	travel  int64 // believed, 1/fine steps, > 0
	cost    int64 // expected time until the target stands, ns, without a regrip before
}

// end is a number of detents that a stroke may be off, and how likely that is, in
// 1/65536.
type end struct{ off, share int64 }

type planned struct {
	key uint64
	stroke
}

// How many plans are kept, from a first meeting to a long study; a newer one takes
// the place of an older one.
const (
	fewPlans  = 1 << 9
	manyPlans = 1 << 13
)

func newPlans(g *Grip, tolerance, multiple int64) *plans {
	of := g.people
	p := &plans{
		grip: g, multiple: multiple, tolerance: tolerance * fine, base: g.Base * multiple,
		remembered: make([]planned, fewPlans),
	}
	p.narrow = !g.Smooth && 2*p.tolerance+fine < 2*p.base
	p.grain = max(fine/4, p.base/16)
	d := &of.delays
	p.cycle = d[perceive].mean + d[decide].mean + d[act].mean + d[begin].mean + g.IdleLag*of.phi.mean>>20
	p.fix = p.cycle + standing + d[fixation].mean
	p.sd = make([]int64, g.most+1)
	for n := range p.sd {
		p.sd[n] = strokeNoise(g, of.noise.mean, of.finger.mean, n)
	}
	if p.narrow {
		p.ends = make([][]end, len(p.sd))
		for n := 1; n < len(p.ends); n++ {
			p.ends[n] = endsOf(n, p.sd[n])
		}
	}
	reach := max(1, min(int(of.reach.mean*g.perTurn/360_000), g.most))
	for k := range speedClasses {
		for e := range errorClasses {
			least := int64(math.MaxInt64)
			for pace := range paces {
				lasts := d[begin].mean + int64(reach)*g.speeds[k].detent[pace] + d[regrip].mean
				least = min(least, lasts*fine/p.travel(k, e, pace, reach))
			}
			p.cruise[k][e] = least
		}
	}
	return p
}

// strokeNoise is SD = √((σn)² + (σ0/unit)²), in 1/draw.One detents; one or two
// detents are felt and exact.
func strokeNoise(g *Grip, noise, finger int64, n int) int64 {
	if n <= 2 && !g.Smooth {
		return 0
	}
	a := float64(noise * int64(n))
	b := float64(finger*g.perTurn) / 360_000 * draw.One
	return int64(math.Sqrt(float64(a*a) + float64(b*b)))
}

// travel is what a class of people believes that a stroke brings: what the curve
// says, with an error on what it adds to slow detents, times the share that
// arrives, as far as people know it.
func (p *plans) travel(speed, gainError, pace, n int) int64 {
	g := p.grip
	plain := int64(n) * g.Base
	t := plain + (g.between(g.speeds[speed].travel[pace], n)-plain)*(draw.One+g.people.gainErrors[gainError])>>20
	off := g.between(g.arriving[pace], n) - 65536
	t = t * (65536 + off*g.people.phi.mean>>20) >> 16
	return max(t, g.Base*int64(n)/32, 1) * p.multiple
}

// fair is what a stroke brings on average on this path, 1/fine steps: what somebody
// would believe who knew the knob perfectly.
func (p *plans) fair(speed, pace, n int) int64 {
	g := p.grip
	return g.between(g.speeds[speed].travel[pace], n) * g.between(g.arriving[pace], n) >> 16 * p.multiple
}

// best returns the stroke of at most so many detents, not faster than a pace, with
// the least expected time to bring the number by `missing` (1/fine steps, ≥ 0).
func (p *plans) best(w *Person, missing int64, most, fastest int) stroke {
	far := 2*p.travel(w.Speed, w.Error, paces-1, most) + 8*p.base
	farther := max(0, missing-far) // the choice does not depend on it
	missing -= farther
	grain := max(p.grain, missing>>5&^(p.grain-1))
	missing = (missing + grain/2) / grain * grain
	wrong := w.Error
	if !p.grip.curved {
		wrong = 0 // there is nothing to be wrong about
	}
	key := uint64(missing)<<24 | uint64(most)<<12 | uint64(fastest)<<8 | uint64(w.Speed)<<4 | uint64(wrong)
	slot := p.place(key)
	if slot.key != key {
		if slot.key != 0 {
			slot = p.makeRoom(key)
		}
		*slot = planned{key, p.choose(w.Speed, wrong, missing, most, fastest)}
	}
	found := slot.stroke
	found.cost += farther * p.cruise[w.Speed][wrong] / fine
	return found
}

// place is where a plan with a key is kept.
func (p *plans) place(key uint64) *planned {
	return &p.remembered[key*0x9e3779b97f4a7c15>>32*uint64(len(p.remembered))>>32]
}

// makeRoom returns a place for a plan where another one is kept; if that happened
// often it gets a place of its own.
func (p *plans) makeRoom(key uint64) *planned {
	if p.crowded++; p.crowded > len(p.remembered)/4 && len(p.remembered) < manyPlans {
		old := p.remembered
		p.remembered, p.crowded = make([]planned, 4*len(old)), 0
		for _, plan := range old {
			if plan.key != 0 {
				*p.place(plan.key) = plan
			}
		}
	}
	return p.place(key)
}

func (p *plans) choose(speed, gainError int, missing int64, most, fastest int) stroke {
	best := stroke{cost: math.MaxInt64}
	cruise := p.cruise[speed][gainError]
	for pace := fastest; pace >= 0; pace-- {
		try := func(n int) {
			t := p.travel(speed, gainError, pace, n)
			lasts := p.grip.people.delays[begin].mean + int64(n)*p.grip.speeds[speed].detent[pace]
			if cost := p.expected(lasts, missing, t, n, cruise, best.cost); cost < best.cost {
				best = stroke{n, pace, t, cost}
			}
		}
		if most <= 48 {
			for n := most; n >= 1; n-- {
				try(n)
			}
			continue
		}
		// Many small units: those that end near the target.
		low, high := 1, most
		for low < high {
			if mid := (low + high) / 2; p.travel(speed, gainError, pace, mid) < missing {
				low = mid + 1
			} else {
				high = mid
			}
		}
		for fortieths := 42; fortieths >= 16; fortieths -= 2 {
			try(min(max(1, low*fortieths/40), most))
		}
		try(1)
	}
	return best
}

// expected is the expected time of a stroke of n detents that lasts so long and
// travels t where `missing` is wanted, landing included. What is not below `enough`
// is of no interest.
func (p *plans) expected(lasts, missing, t int64, n int, cruise, enough int64) int64 {
	if !p.narrow {
		spread := t * p.sd[n] / int64(n) >> 20
		over := 65536 - below(missing+p.tolerance-t, spread)
		short := below(missing-p.tolerance-t, spread)
		return lasts + (short*p.cycle+over*(p.cycle+reversalCost))>>16 + max(0, abs(t-missing)-p.tolerance)*cruise/fine
	}
	each := t / int64(n)
	for _, e := range p.ends[n] {
		if lasts >= enough {
			break
		}
		lasts += e.share * (p.fine(t+e.off*each-missing, cruise) >> 16)
	}
	return lasts
}

// endsOf lists where a stroke of n detents may end, the likeliest first.
func endsOf(n int, sd int64) []end {
	if sd == 0 {
		return []end{{0, 65536}}
	}
	share := func(off int64) int64 {
		return below((2*off+1)*draw.One/2, sd) - below((2*off-1)*draw.One/2, sd)
	}
	ends := []end{{0, share(0)}}
	left := 65536 - ends[0].share
	for off := int64(1); left > 64; off++ { // less than a thousandth beyond
		for _, o := range [...]int64{off, -off} {
			e := end{max(o, 1-int64(n)), share(o)}
			left -= e.share
			ends = append(ends, e)
		}
	}
	ends[0].share += left
	return ends
}

// fine is the time that is still needed when a narrow target was missed by off:
// detent by detent, and from further away a stroke first.
func (p *plans) fine(off, cruise int64) int64 {
	cost := int64(0)
	if off > p.tolerance {
		cost = reversalCost
	}
	off = abs(off) - p.tolerance
	switch {
	case off <= 0:
		return 0
	case off <= fineZone*p.base:
		return cost + off*p.fix/p.base
	}
	return cost + fineZone*p.fix + p.cycle + (off-fineZone*p.base)*cruise/fine
}
