package hand

import (
	"math"
	"math/bits"

	"dialwright/encoder/draw"
)

// value is the expected time that is still needed, by what is missing: one for each
// knob and width of target. It is constant or a line within cells, fine near the
// target and coarse far out, so that its integral over an outcome's box is the
// difference of two sums. Distances are in 1/sub steps, times in µs.
type value struct {
	grip      *Grip
	tolerance int64 // steps
	narrow    bool  // narrower than two detents' travel: it is read, not seen
	zone      int64 // half the target's width; the cells begin there
	shift     uint  // a fine cell is 1<<shift wide
	farthest  int64 // mean travel of the longest stroke
	near      int64 // from nearer than that a stroke may end at the target
	cruise    int64 // µs per 1<<cruiseShift of the way when turning on and on

	cells []cell
}

// cell is a piece of the distances.
type cell struct {
	at    int64 // lower edge
	width uint  // as a power of two; the last one has no end
	v     int64 // when a stroke is to be planned from a number that stands there
	u     int64 // after a stroke that ended there: v and the wait before it
	slope int64 // by how much u rises within the cell
	sum   int64 // integral of u from 0 to the lower edge
	open  bool  // it is the last one, and its slope goes on
}

const cruiseShift = 10

// Cells: so many fine ones, then so many to each octave.
const (
	fineCells = 64
	octave    = 16
)

// cellOf returns the cell of a distance beyond the zone.
func (v *value) cellOf(beyond int64) int {
	y := uint64(beyond) >> v.shift
	if y < fineCells {
		return min(int(y), len(v.cells)-1)
	}
	up := uint(bits.Len64(y) - bits.Len(fineCells))
	return min(fineCells+int(up)*octave+int(y>>(up+2))&(octave-1), len(v.cells)-1)
}

// upTo is the integral of u from 0 to x.
func (v *value) upTo(x int64) int64 {
	beyond := max(0, signed(x, x)-v.zone)
	c := &v.cells[v.cellOf(beyond)]
	return signed(c.upTo(beyond+v.zone-c.at), x)
}

// signed is a number ≥ 0 with the sign of another, and of a number and itself the size:
// without a branch, which would be taken at random.
func signed(n, of int64) int64 {
	minus := of >> 63
	return (n ^ minus) - minus
}

// upTo is the integral of u from 0 to a distance from the lower edge of the cell.
func (c *cell) upTo(w int64) int64 {
	sum := c.sum + w*c.u
	if c.slope != 0 {
		if c.open {
			return sum + (w*w>>((c.width+1)&63))*c.slope
		}
		sum -= (w * (1<<(c.width&63) - w) >> ((c.width + 1) & 63)) * c.slope
	}
	return sum
}

// after returns the expected time that is needed after a stroke whose outcome is o,
// where d is missing, and the probability of being past the target, as a share of
// certain. What lies above the plain travel is believed to be larger by `wrong`, in
// 1/draw.One of it. A stroke that is watched is broken off where the number gets to
// the target, or past it by less than what a detent brings. What costs more than
// enough is of no interest.
func (v *value) after(o *outcome, d, wrong int64, watched bool, enough int64) (needed, past int64) {
	plain, thinner := o.plain*sub/fine, int64(0)
	if wrong != 0 {
		thinner = draw.One * draw.One / (draw.One + wrong)
	}
	upTo, reached := int64(math.MaxInt64), int64(0)
	if watched {
		upTo = d - v.zone
	}
	edge, at := int64(math.MinInt64), int64(0)
	for i := range o.boxes {
		b := &o.boxes[i]
		low, high, share := int64(b.low), int64(b.high), int64(b.density)
		if wrong != 0 && high > plain {
			width := high - low
			high += (high - plain) * wrong >> 20
			if low >= plain {
				low += (low - plain) * wrong >> 20
				share = share * thinner >> 20
			} else {
				share = share * width / (high - low)
			}
		}
		if low != edge {
			at = v.upTo(d - low)
		}
		x := d - high // upTo, without a call
		beyond := max(0, signed(x, x)-v.zone)
		c := &v.cells[v.cellOf(beyond)]
		end := signed(c.upTo(beyond+v.zone-c.at), x)
		if high > upTo {
			over := min(high-upTo, high-low)
			reached += over * share
			if high -= over; low == high {
				continue
			}
			end = v.upTo(d - high)
		}
		needed += (at - end) >> 4 * share >> 26
		if over := high - d - v.zone; over > 0 {
			past += min(over, high-low) * share
		}
		if needed >= enough {
			break
		}
		edge, at = high, end
	}
	if reached > 0 {
		each := max(sub, o.each*sub/fine)
		needed += reached >> 10 * ((v.upTo(v.zone) - v.upTo(v.zone-each)) / each) >> 20
		past += reached >> 10 * max(0, each-2*v.zone) / each << 10
	}
	return needed, past
}

// valueOf returns the value for a width of target.
func (g *Grip) valueOf(tolerance int64) *value {
	g.mutex.Lock()
	defer g.mutex.Unlock()
	for _, v := range g.values {
		if v.tolerance == tolerance {
			return v
		}
	}
	v := newValue(g, tolerance)
	g.values = append(g.values, v)
	return v
}

// plan is a stroke as it stands in a grip's tables.
type plan struct{ pace, i int }

// lasts is the time in which a stroke is made and shows what it shows, µs: that is
// waited for, whatever comes of it, and longer where nothing does. One that is
// watched lasts no longer than until x is there.
func (g *Grip) lasts(o *outcome, class int, p plan, x int64) int64 {
	turns := int64(g.strokes[p.i]) * g.detent[class][p.pace]
	if g.watched(o, class, p.pace) {
		turns = min(turns, x*fine/sub*g.detent[class][p.pace]/o.each)
	}
	t := g.people.delays[begin].mean + turns + max(o.settle, g.IdleLag)
	return (t + o.still>>10*(max(0, g.believed()-g.IdleLag-standing)>>10)>>10) / 1000
}

// watched says whether a stroke is slow enough to be broken off as the number says
// so, and steady, so that this can be relied on.
func (g *Grip) watched(o *outcome, class, pace int) bool {
	d := &g.people.delays
	return o.steady && !g.Smooth && g.detent[class][pace] > d[perceive].mean+d[decide].mean+d[act].mean
}

// believed is how long a number that does not move is not believed to stand, ns.
func (g *Grip) believed() int64 { return max(patience, 2*g.IdleLag) }

// newValue finds the value by iteration, for what people of all classes would
// bring at the pace of the middle one.
func newValue(g *Grip, tolerance int64) *value {
	const class = speedClasses / 2
	d := &g.people.delays
	base := max(1, g.Base*sub/fine)
	v := &value{grip: g, tolerance: tolerance, zone: tolerance*sub + sub/2}
	v.narrow = !g.Smooth && 2*v.zone < 2*base
	last := g.nearest[g.reach(g.people.reach.mean)]
	v.cruise = math.MaxInt64
	for p := range paces {
		o := &g.blended[p][last]
		v.farthest = max(v.farthest, o.mean*sub/fine)
		t := (d[begin].mean + int64(g.strokes[last])*g.detent[class][p] + d[regrip].mean) / 1000
		v.cruise = min(v.cruise, (t<<cruiseShift)*fine/(o.mean*sub))
	}
	v.near = v.farthest + base
	tau := d[perceive].mean + d[decide].mean + d[act].mean
	wait := int64(standing) + tau
	if g.Smooth {
		wait = d[perceive].mean + tau
	} else if v.narrow {
		wait += d[fixation].mean
	}
	wait /= 1000
	v.lay(max(sub, base/8, v.zone/4), 3*v.farthest+10*base)
	inner := len(v.cells)
	for i := range v.cells {
		c := &v.cells[i]
		if inner > i && c.at > max(v.near, v.zone)+v.farthest {
			inner = i
		}
		c.v = (d[begin].mean+g.IdleLag)/1000 + wait
		c.v += c.v*int64(bits.Len64(uint64(c.at/v.zone)))/2 + c.at*v.cruise>>cruiseShift
		c.u = c.v + wait
	}
	v.integrate()
	policies := make([]policy, len(v.cells))
	cost := func(x int64, p plan, enough int64) int64 {
		o := &g.blended[p.pace][p.i]
		c := g.lasts(o, class, p, x)
		if c >= enough {
			return enough
		}
		needed, past := v.after(o, x, 0, g.watched(o, class, p.pace), enough-c)
		return c + needed + past>>10*(int64(g.people.operator.Reluctance.Mean)/1000)>>20
	}
	// settle takes a new value for a cell; those behind it know at once.
	take := func(i int, t int64) {
		c := &v.cells[i]
		more := (t + wait - c.u) << c.width
		c.v, c.u = t, t+wait
		for j := range v.cells[i+1:] {
			v.cells[i+1+j].sum += more
		}
	}
	beyond := func() { // turning on and on
		for i := inner; i < len(v.cells); i++ {
			c, b := &v.cells[i], &v.cells[i-1]
			c.v = b.v + (v.cruise<<b.width+v.cruise<<c.width)>>(cruiseShift+1)
			c.u = c.v + wait
		}
		v.integrate()
	}
	for sweep := range 20 {
		changed := false
		for i := range v.cells[:inner] {
			x := v.cells[i].at + 1<<v.cells[i].width/2
			now := &policies[i]
			if sweep == 0 && i > 0 {
				now.plan = policies[i-1].plan
			}
			best := cost(x, now.plan, math.MaxInt64)
			for p := paces - 1; p >= 0; p-- {
				try := func(j int) {
					if c := cost(x, plan{p, j}, best); c < best {
						best, now.plan, now.by[p] = c, plan{p, j}, 1+j
					}
				}
				if sweep < full || i < all {
					v.worthwhile(g.blended[p], last, x, 2-min(sweep, 1), try)
				} else if at := now.by[p] - 1; at >= 0 {
					for j := max(0, at-around); j <= min(at+around, last); j++ {
						try(j)
					}
				}
			}
			changed = changed || abs(best-v.cells[i].v) > best>>9
			take(i, best)
		}
		beyond()
		if !changed {
			break
		}
		for range 4 {
			for i := range v.cells[:inner] {
				x := v.cells[i].at + 1<<v.cells[i].width/2
				take(i, cost(x, policies[i].plan, math.MaxInt64))
			}
			beyond()
		}
	}
	return v
}

// policy is what is done in a cell, and which stroke of each pace was the best so far.
type policy struct {
	plan
	by [paces]int // 1 + where it stands; 0 where none was
}

// After the first sweeps the cells beyond the nearest try only strokes around those.
const (
	full   = 2
	all    = 16 // cells
	around = 2
)

// lay makes the cells, fine ones at least so wide, as far as a distance.
func (v *value) lay(least, far int64) {
	v.shift = uint(bits.Len64(uint64(least)) - 1)
	at := v.zone
	for i := 0; ; i++ {
		c := cell{at: at, width: v.shift}
		if i >= fineCells {
			c.width += 2 + uint((i-fineCells)/octave)
		}
		v.cells = append(v.cells, c)
		if at > v.zone+far {
			v.cells[i].open = true
			break
		}
		at += 1 << c.width
	}
}

// integrate brings the slopes and the sums up to date.
func (v *value) integrate() {
	last := len(v.cells) - 1
	for i := range v.cells {
		c := &v.cells[i]
		c.slope = 0
		switch {
		case c.at > v.near:
			c.slope = v.cruise << c.width >> cruiseShift
		case i == 0 || v.shift == uint(bits.Len(sub)-1) && i < fineCells: // as wide as a step, or next to the target
		default:
			b, a := &v.cells[i-1], &v.cells[i+1]
			back := (c.u - b.u) << c.width / (1<<b.width + 1<<c.width) * 2
			ahead := (a.u - c.u) << c.width / (1<<a.width + 1<<c.width) * 2
			c.slope = max(0, min(back, ahead))
		}
		if i < last {
			v.cells[i+1].sum = c.sum + c.u<<c.width
		}
	}
}

// worthwhile calls try with the strokes of a pace, up to the last, that may be worth
// it where x is missing.
func (v *value) worthwhile(outcomes []outcome, last int, x int64, stride int, try func(i int)) {
	x = x * fine / sub
	low, high := 0, last
	for low < high {
		if mid := (low + high) / 2; outcomes[mid].mean < x {
			low = mid + 1
		} else {
			high = mid
		}
	}
	from := low
	for from > 0 && outcomes[from-1].mean > x/3 {
		from--
	}
	for i := from; i <= last; i += stride {
		try(i)
		if outcomes[i].mean > x+x/4 {
			break
		}
	}
	if from > 0 && low < last {
		try(0)
	}
}
