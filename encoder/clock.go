package encoder

import (
	"math"
	"math/bits"
	"sort"
	"time"

	"dialwright/encoder/draw"
)

// divisor divides whole numbers ≥ 0 by a constant: a multiplication by the
// reciprocal gives the quotient or one less, which is put right. It is several
// times faster than a division, and exact.
type divisor struct {
	by   int64
	once uint64 // 2^64/by, rounded down
}

func newDivisor(by int64) divisor { return divisor{by, math.MaxUint64 / uint64(by)} }

// of returns x/by, rounded down.
func (d *divisor) of(x int64) int64 {
	hi, _ := bits.Mul64(uint64(x), d.once)
	q := int64(hi)
	if x-q*d.by >= d.by {
		q++
	}
	return q
}

// clock ticks at phase + k·period for every whole k.
type clock struct {
	period divisor
	phase  int64
}

func newClock(period time.Duration) clock { return clock{period: newDivisor(int64(period))} }

func (c *clock) start(p Phase, s draw.Stream) {
	c.phase = int64(p.At)
	if !p.Fixed {
		c.phase = s.Below(0, c.period.by)
	}
}

func (c *clock) tick(k int64) int64 { return c.phase + k*c.period.by }

// first returns the number of the first tick at or after t.
func (c *clock) first(t int64) int64 {
	t += c.period.by - 1 - c.phase
	if t < 0 {
		return -((c.period.by - 1 - t) / c.period.by)
	}
	return c.period.of(t)
}

// frameClock gives the times of the program's frames: a clock with jitter, or a
// measured list of frame times that repeats.
type frameClock struct {
	clock
	jitter int64       // ns, either way
	noise  draw.Stream // of frame k at index k
	ends   []int64     // of a list: ends[i] is the time of frame i+1 after frame 0
}

func newFrameClock(p *Program) frameClock {
	if len(p.FrameList) == 0 {
		c := frameClock{clock: newClock(p.Frames.Period())}
		c.jitter = int64(p.Jitter * float64(c.period.by))
		return c
	}
	var c frameClock
	sum := int64(0)
	for _, d := range p.FrameList {
		sum += int64(d)
		c.ends = append(c.ends, sum)
	}
	c.clock = newClock(time.Duration(sum))
	return c
}

func (c *frameClock) tick(k int64) int64 {
	if c.ends != nil {
		n := int64(len(c.ends))
		round := k / n
		k -= round * n
		if k < 0 {
			round, k = round-1, k+n
		}
		if k == 0 {
			return c.clock.tick(round)
		}
		return c.clock.tick(round) + c.ends[k-1]
	}
	if c.jitter == 0 {
		return c.clock.tick(k)
	}
	return c.clock.tick(k) + c.noise.Below(k, 2*c.jitter+1) - c.jitter
}

// before says whether frame k comes before t.
func (c *frameClock) before(k, t int64) bool {
	if c.ends == nil { // mostly decided without its jitter
		if early := c.clock.tick(k) - c.jitter; early >= t || early+2*c.jitter < t {
			return early < t
		}
	}
	return c.tick(k) < t
}

// first returns the first frame at or after t and its time.
func (c *frameClock) first(t int64) (k, at int64) {
	if c.ends != nil {
		return c.firstListed(t)
	}
	k = c.clock.first(t - c.jitter)
	for earliest := c.clock.tick(k) - c.jitter; ; earliest += c.period.by {
		if at = earliest + c.noise.Below(k, 2*c.jitter+1); at >= t {
			return k, at
		}
		k++
	}
}

func (c *frameClock) firstListed(t int64) (k, at int64) {
	round := c.clock.first(t+1) - 1 // the last round that began at or before t
	into := t - c.clock.tick(round)
	if into > 0 {
		k = int64(sort.Search(len(c.ends), func(i int) bool { return c.ends[i] >= into })) + 1
	}
	k += round * int64(len(c.ends))
	return k, c.tick(k)
}
