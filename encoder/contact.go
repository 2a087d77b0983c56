package encoder

import (
	"math"
	"math/bits"
	"time"

	"dialwright/encoder/draw"
)

// never is a time that does not come.
const never = math.MaxInt64

// contacts are the two switches of the part, the firmware's scan that reads them and
// its decoder (stages 1 and 2).
type contacts struct {
	// What the rig fixes. Times are in ns.
	perDetent         int     // quarter steps
	detentThousandths divisor // thousandths of a quarter step in a detent
	late              int64   // thousandths of a quarter step that odd edges come late
	bounce            int64
	debounce          int
	decoder           Decoder
	inOrder           int64 // edges further apart are accepted one by one, as lone.go says; never: they may not be
	spread            spread
	scan              clock

	chatterNoise, longChatter draw.Stream

	pair            [2]contact // A, B
	dueAny          int64      // earliest acceptance that is known
	walkingAny      bool
	asleep          bool // while detents stand alone, and contacts say nothing
	lone            lone
	due             []int64 // of accept
	edges, position int64
	gray            int8
	quarters        int
}

func newContacts(r *Rig) (c contacts) {
	c.perDetent, _ = r.Knob.EdgesPerDetent()
	c.detentThousandths = newDivisor(1000 * int64(c.perDetent))
	if m := r.Knob.MinState; m > 0 && c.perDetent > 1 {
		c.late = 1000 - 4*int64(math.Round(m*1000))
	}
	c.bounce, c.debounce, c.decoder = int64(r.Knob.Bounce), r.Firmware.Debounce, r.Firmware.Decoder
	c.scan = newClock(r.Firmware.Scan)
	c.inOrder = c.orderly()
	c.spread = c.spreadOver(longestSpread)
	return c
}

func (c *contacts) reset() {
	c.pair = [2]contact{{due: never}, {due: never}}
	c.dueAny, c.walkingAny = never, false
	c.asleep, c.lone.due = false, never
	c.edges, c.position = 0, 0
	c.gray, c.quarters = 0, 0
}

// contact is one of the two switches of the part and what the firmware believes
// of it. It is at rest, or it has one acceptance before it that is known (due),
// or its scans must be read, a word of them at a time, because edges crowd or
// chatter is long.
type contact struct {
	accepted bool
	walking  bool
	due      int64 // time of the scan at which the level is accepted; never: none
	owner    int   // detent of the newest edge at the first of the readings that are accepted

	// The newest edge.
	level   bool // after it
	detent  int
	edge    int64  // its number on the path, index of its draws
	bits    uint64 // readings while it chatters, the first in bit 0
	noisy   int64  // number of the first scan that its chatter does not reach
	scan    int64  // first scan at or after it; while walking, the next scan to read
	firstAt int64  // the scan that reads bit 0
	run     int    // while walking: readings in a row that differ from accepted
}

// longestSpread is the time within which the edges of a detent come that is given by
// the time at which it is complete, if no other came less long before.
const longestSpread = int64(40 * time.Millisecond)

// spread says how long before a detent is complete its edges come.
type spread struct {
	first, before int64 // the first edge and the last but one
	spacing       int64 // least distance of two edges
}

func (c *contacts) spreadOver(gap int64) spread {
	s := spread{c.ahead(int64(c.perDetent)-1, gap), 0, c.detentThousandths.of((1000 - c.late) * gap)}
	if c.perDetent > 1 {
		s.before = c.ahead(1, gap)
	}
	return s
}

// ahead returns how long before a detent is complete that edge comes which has so
// many edges after it, less a gap.
func (c *contacts) ahead(after, gap int64) int64 {
	return c.detentThousandths.of((1000*after - c.late*(after&1)) * gap)
}

// edgeAt moves the shaft by a quarter step: the contact whose turn it is changes
// at te. All scans before te have been read by then.
func (p *Path) edgeAt(te int64, dir int8, detent int) {
	p.events++
	if p.contacts.dueAny < te || p.contacts.walkingAny {
		p.readContacts(te)
	}
	s := &p.contacts
	q := s.position
	s.position += int64(dir)
	if dir < 0 {
		q--
	}
	c := &s.pair[q&1]
	if c.due != never { // crowded: this edge may undo what the last one promised
		c.due, c.walking, c.run = never, true, 0
		p.walk(c, te)
	}

	c.edge = s.edges
	s.edges++
	c.level = !c.level
	c.detent = detent
	var n int
	c.firstAt, c.bits, n = s.chatters(c.edge, te)
	c.scan = c.firstAt
	c.noisy = c.firstAt + int64(n)
	if !c.walking {
		if n < s.debounce {
			c.due = s.accepts(c.level, c.bits, c.edge, c.firstAt, n)
			c.owner = detent
			s.dueAny = min(s.dueAny, c.due)
			return
		}
		c.walking, c.run = true, 0
	}
	s.walkingAny = true
}

// chatters returns the first scan after an edge, what it and those after it read while
// the contact chatters, the first in bit 0, and how many of them there are.
func (c *contacts) chatters(edge, te int64) (first int64, readings uint64, n int) {
	first = c.scan.first(te)
	readings = c.chatterNoise.Bits(edge)
	length := int64(readings >> 32 * uint64(c.bounce+1) >> 32)
	beyond := length - (c.scan.tick(first) - te)
	return first, readings, int(c.scan.period.of(max(0, beyond+c.scan.period.by-1)))
}

// accepts returns when a level is accepted where only the first n readings chatter,
// too few to make the firmware believe anything: `debounce` readings after the last
// wrong one.
func (c *contacts) accepts(level bool, readings uint64, edge, first int64, n int) int64 {
	flip := uint64(math.MaxUint64) // makes a right reading 1
	if level {
		flip = 0
	}
	if n > 32 {
		n = c.lastWrong(readings^flip, flip, edge, n)
	} else {
		n = lastZero(readings^flip, n)
	}
	return c.scan.tick(first + int64(n+c.debounce-1))
}

// lastZero returns how many of the first n ≤ 32 bits come up to the last 0, with it.
func lastZero(x uint64, n int) int {
	return bits.Len64(^x & (1<<(uint(n)&63) - 1))
}

// lastWrong is lastZero for more than 32 readings of an edge, of which right has the
// first 32; from the last one back, a word at a time.
func (c *contacts) lastWrong(right, flip uint64, edge int64, n int) int {
	for n > 32 {
		word := (n - 1) >> 6
		low := max(32, word<<6)
		x := (c.longChatter.Bits(edge<<24|int64(word)) ^ flip) << uint(63-(n-1)&63)
		if n -= min(bits.LeadingZeros64(^x), n-low); n > low {
			return n
		}
	}
	return lastZero(right, n)
}

// readings returns what the scan number k of a contact and the ones after it read,
// the first in bit 0, and how many of them it knows.
func (c *contacts) readings(x *contact, k int64) (word uint64, n int) {
	i := k - x.firstAt
	if i < 32 {
		return x.bits >> uint(i), int(min(32, x.noisy-x.firstAt) - i)
	}
	return c.longChatter.Bits(x.edge<<24|i>>6) >> uint(i&63), int(min(64-i&63, x.noisy-k))
}

// walk reads the scans before limit until a level is accepted, which becomes due, or
// until the contact has come to rest.
func (p *Path) walk(c *contact, limit int64) {
	s := &p.contacts
	end := int64(never / 2)
	if limit < end {
		end = s.scan.first(limit)
	}
	for c.scan < end {
		if c.scan >= c.noisy {
			p.walkQuiet(c, end)
			return
		}
		if !p.spend(1, chatter) {
			return
		}
		word, n := s.readings(c, c.scan)
		n = int(min(int64(n), end-c.scan))
		if c.accepted {
			word = ^word
		}
		if at := c.believes(word, n, s.debounce); at >= 0 {
			c.due = s.scan.tick(c.scan + int64(at))
			c.scan += int64(at) + 1
			return
		}
		c.scan += int64(n)
	}
}

// walkQuiet reads scans before end that are past all chatter.
func (p *Path) walkQuiet(c *contact, end int64) {
	if c.level == c.accepted {
		c.walking, c.run = false, 0
		return
	}
	if c.run == 0 {
		c.owner = c.detent
	}
	need := int64(p.contacts.debounce - c.run)
	if left := end - c.scan; left < need {
		c.run += int(left)
		c.scan = end
		return
	}
	c.due = p.contacts.scan.tick(c.scan + need - 1)
	c.scan += need
	c.run = 0
}

// believes looks for `debounce` ones in a row in n ≥ 1 readings, with those before
// them, and returns which reading was the last of them; −1: none, so far.
func (c *contact) believes(word uint64, n, debounce int) int {
	word &= math.MaxUint64 >> uint(64-n)
	if lead := bits.TrailingZeros64(^word); c.run+lead >= debounce {
		if c.run == 0 {
			c.owner = c.detent
		}
		at := debounce - c.run - 1
		c.run = 0
		return at
	} else if lead == n { // nothing else in it
		if c.run == 0 {
			c.owner = c.detent
		}
		c.run += n
		return -1
	}
	if debounce <= n {
		starts := word // of so many ones in a row
		for have := 1; have < debounce && starts != 0; {
			step := min(have, debounce-have)
			starts &= starts >> uint(step)
			have += step
		}
		if starts != 0 {
			c.owner, c.run = c.detent, 0
			return bits.TrailingZeros64(starts) + debounce - 1
		}
	}
	c.run = bits.LeadingZeros64(^(word << uint(64-n)))
	if c.run > 0 {
		c.owner = c.detent
	}
	return -1
}

// readContacts carries both contacts through all scans before limit and decodes
// what is accepted, in the order of time.
func (p *Path) readContacts(limit int64) {
	s := &p.contacts
	if s.asleep {
		if s.lone.due < limit {
			p.emitLone()
		}
		return
	}
	a, b := &s.pair[0], &s.pair[1]
	for {
		if a.walking && a.due == never {
			p.walk(a, limit)
		}
		if b.walking && b.due == never {
			p.walk(b, limit)
		}
		at := min(a.due, b.due)
		if at >= limit {
			s.dueAny = at
			s.walkingAny = a.walking || b.walking
			return
		}
		p.events++
		changedA, changedB := a.due == at, b.due == at
		if changedA {
			a.accepted = !a.accepted
			a.due = never
		}
		if changedB {
			b.accepted = !b.accepted
			b.due = never
		}
		p.decode(at, changedA, changedB)
	}
}

// gray numbers the accepted pair along a clockwise turn: 00, 10, 11, 01.
func gray(a, b bool) int8 {
	switch {
	case !a && !b:
		return 0
	case a && !b:
		return 1
	case a && b:
		return 2
	}
	return 3
}

// decode turns a change of the accepted levels into a count, or not.
func (p *Path) decode(at int64, changedA, changedB bool) {
	a, b := &p.contacts.pair[0], &p.contacts.pair[1]
	if p.contacts.decoder == Edge {
		if changedA && a.accepted {
			dir := int8(1)
			if b.accepted {
				dir = -1
			}
			p.emit(at, dir, a.owner)
		}
		return
	}
	g := gray(a.accepted, b.accepted)
	if changedA && changedB {
		p.contacts.gray = g
		p.account.IllegalTransitions++
		if p.Trace != nil {
			p.Trace(Event{At: at, Kind: IllegalTransition})
		}
		return
	}
	delta := int8(1)
	if (g-p.contacts.gray)&3 == 3 {
		delta = -1
	}
	p.contacts.gray = g
	p.contacts.quarters += int(delta)
	if p.contacts.quarters == p.contacts.perDetent || p.contacts.quarters == -p.contacts.perDetent {
		p.contacts.quarters = 0
		owner := a.owner
		if changedB {
			owner = b.owner
		}
		p.emit(at, delta, owner)
	}
}
