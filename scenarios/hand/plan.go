package hand

import (
	"math"

	"dialwright/encoder/draw"
)

// What a plan costs beyond its time.
const (
	standing     = 150e6 // ns without a change before a number is taken to stand
	unchanged    = 1e9   // ns after which a number that never moved is believed
	reversalCost = 800e6 // ns
	narrowExtra  = 4     // steps beyond one stroke's travel from which on a narrow target is waited for
	fineZone     = 3     // detents around a narrow target within which it turns one at a time
	wideFour     = 4     // target widths that must be missing for a correction on the move
)

// mind is what one person thinks of one knob during a dial: everything that a
// plan needs, worked out once.
type mind struct {
	Person
	grip   *Grip
	speed  *speed
	reach  int   // longest stroke, detents
	lag    int64 // believed, ns
	cycle  int64 // perceive, decide, act, begin, believed lag
	cruise int64 // ns per step when turning on and on

	base      int64 // believed travel of a slow detent, 1/fine steps
	tolerance int64 // 1/fine steps either side of the target
	narrow    bool
	travel    []int64 // believed travel of n detents at pace p: travel[n*paces+p]
	noise     []int64 // standard deviation of a stroke of n detents, in 1/draw.One detents
	farthest  int64   // the longest travel of one stroke
}

// think prepares the mind of a person for a dial. multiple is how many task steps
// a step counts now.
func (m *mind) think(w Person, people *People, g *Grip, tolerance, multiple int64) {
	m.Person, m.grip = w, g
	m.speed = &g.speeds[w.Speed]
	m.reach = max(1, min(int(w.Reach/g.unit), g.most))
	m.lag = g.IdleLag * w.Familiarity >> 20
	m.cycle = w.Perceive + w.Decide + w.Act + w.Begin + m.lag
	m.base = g.Base * multiple
	m.tolerance = tolerance * fine
	m.narrow = !g.Smooth && 2*m.tolerance+fine < 2*m.base

	m.travel = resize(m.travel, (m.reach+1)*paces)
	m.noise = resize(m.noise, m.reach+1)
	m.farthest, m.cruise = m.base, math.MaxInt64
	gainError := draw.One + people.gainErrors[w.Error]
	for n := 1; n <= m.reach; n++ {
		for p := range paces {
			i := n*paces + p
			plain := int64(n) * g.Base
			t := plain + (g.speeds[w.Speed].travel[i]-plain)*gainError>>20
			lost := 65536 - m.speed.arrives[i]
			t = t * (65536 - lost*w.Familiarity>>20) >> 16 * multiple
			t = max(t, fine)
			m.travel[i] = t
			m.farthest = max(m.farthest, t)
			if n == m.reach {
				m.cruise = min(m.cruise, (w.Begin+int64(n)*m.speed.detent[p]+w.Regrip)*fine/t)
			}
		}
		m.noise[n] = m.strokeNoise(n)
	}
}

// strokeNoise is SD = √((σn)² + (σ0/unit)²), in 1/draw.One detents; one or two
// detents are felt and exact.
func (m *mind) strokeNoise(n int) int64 {
	if n <= 2 && !m.grip.Smooth {
		return 0
	}
	a := float64(m.Noise * int64(n))
	b := float64(m.FingerNoise) / float64(m.grip.unit) * draw.One
	return int64(math.Round(math.Sqrt(float64(a*a) + float64(b*b))))
}

// stroke is a plan: so many detents at such a pace.
type stroke struct {
	n, pace int
	travel  int64 // believed, 1/fine steps, ≥ 0
}

// plan chooses the stroke with the least expected time to bring the number by
// `missing` (1/fine steps, ≥ 0). room is how many detents the hand can turn on
// before it must regrip; most limits the detents.
func (m *mind) plan(missing int64, room, most int) stroke {
	var best stroke
	least := int64(math.MaxInt64)
	for p := range paces {
		for n := 1; n <= most; n++ {
			t := m.travel[n*paces+p]
			if n > 1 && t-missing > m.tolerance+fineZone*m.base {
				break // only farther past
			}
			cost := m.Begin + int64(n)*m.speed.detent[p] + m.landing(missing, t, n)
			if n > room {
				cost += m.Regrip
			}
			if cost < least {
				least, best = cost, stroke{n, p, t}
			}
		}
	}
	return best
}

// landing is the expected time after a stroke of n detents that travels t where
// `missing` is wanted.
func (m *mind) landing(missing, t int64, n int) int64 {
	off := t - missing
	past := off > 0
	off = max(off, -off)
	if m.narrow {
		off = max(0, off-max(m.tolerance, m.base/2))
		fix := m.cycle + standing + m.Fixation
		cost := off * fix / m.base
		if off > 3*m.base {
			cost = 3*fix + m.cycle + (off-3*m.base)*m.cruise/fine
		}
		if past && off > 0 {
			cost += reversalCost
		}
		return cost
	}
	band := max(m.tolerance, fine/2)
	sd := t / int64(n) * m.noise[n] >> 20
	over := 65536 - below(missing+band-t, sd)
	short := below(missing-band-t, sd)
	cost := (short+over)*m.cycle>>16 + over*reversalCost>>16
	return cost + max(0, off-band)*m.cruise/fine
}

func resize(s []int64, n int) []int64 {
	if cap(s) < n {
		return make([]int64, n)
	}
	return s[:n]
}
