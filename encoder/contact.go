package encoder

import (
	"math"
	"math/bits"
)

// never is a time that does not come.
const never = math.MaxInt64

// contact is one of the two switches of the part and what the firmware believes
// of it. It is at rest, or it has one acceptance before it that is known (due),
// or its scans must be walked one by one because edges crowd or chatter is long.
type contact struct {
	accepted bool
	walking  bool
	due      int64 // time of the scan at which the level is accepted; never: none
	owner    int   // detent of the newest edge at the first of the readings that are accepted

	// The newest edge.
	level   bool // after it
	detent  int
	chatter int64  // its chatter ends before this time
	edge    int64  // its number on the path, index of its draws
	bits    uint64 // readings while it chatters, the first in bit 0
	scan    int64  // first scan at or after it; while walking, the next scan to read
	firstAt int64  // the scan that reads bit 0
	run     int    // while walking: readings in a row that differ from accepted
}

// edgeAt moves the shaft by a quarter step: the contact whose turn it is changes
// at te. All scans before te have been read by then.
func (p *Path) edgeAt(te int64, dir int8, detent int) {
	if p.dueAny < te || p.walkingAny {
		p.readContacts(te)
	}
	q := p.position
	p.position += int64(dir)
	if dir < 0 {
		q--
	}
	c := &p.contacts[q&1]
	if c.due != never { // crowded: this edge may undo what the last one promised
		c.due, c.walking, c.run = never, true, 0
		p.walk(c, te)
	}

	var length int64
	c.edge = p.edges
	c.bits, length = p.chatters(c.edge)
	p.edges++
	c.level = !c.level
	c.detent = detent
	c.chatter = te + length
	c.firstAt = p.scan.first(te)
	if !c.walking {
		n := int(p.scan.first(c.chatter) - c.firstAt) // scans that fall into the chatter
		if n < p.debounce && n <= 32 {
			c.due = p.accepts(c.level, c.bits, c.firstAt, n)
			c.owner = detent
			c.scan = c.firstAt
			p.dueAny = min(p.dueAny, c.due)
			return
		}
		c.walking, c.run = true, 0
	}
	p.walkingAny = true
	c.scan = c.firstAt
}

// chatters returns what scans read while an edge chatters, and for how long it does.
func (p *Path) chatters(edge int64) (readings uint64, length int64) {
	b := p.chatterNoise.Bits(edge)
	return b & math.MaxUint32, int64(b >> 32 * uint64(p.bounce+1) >> 32)
}

// accepts returns when a level is accepted where only the first n readings chatter,
// too few to make the firmware believe anything: `debounce` readings after the last
// wrong one.
func (p *Path) accepts(level bool, readings uint64, first int64, n int) int64 {
	x := uint32(readings)
	if !level {
		x = ^x
	}
	right := min(bits.LeadingZeros32(^(x << (32 - n))), n)
	return p.scan.tick(first + int64(n-right+p.debounce-1))
}

// reading returns what the scan number k at time `at` reads of the contact.
func (p *Path) reading(c *contact, k, at int64) bool {
	if at >= c.chatter {
		return c.level
	}
	i := k - c.firstAt
	if i < 32 {
		return c.bits>>uint(i)&1 == 1
	}
	return p.longChatter.Bits(c.edge<<24|i>>6)>>uint(i&63)&1 == 1
}

// walk reads the scans before limit one by one until a level is accepted, which
// becomes due, or until the contact has come to rest.
func (p *Path) walk(c *contact, limit int64) {
	for {
		at := p.scan.tick(c.scan)
		if at >= limit {
			return
		}
		if at >= c.chatter && c.level == c.accepted {
			c.walking, c.run = false, 0
			return
		}
		if p.reading(c, c.scan, at) == c.accepted {
			c.run = 0
		} else {
			if c.run == 0 {
				c.owner = c.detent
			}
			c.run++
		}
		c.scan++
		if c.run == p.debounce {
			c.run = 0
			c.due = at
			return
		}
	}
}

// readContacts carries both contacts through all scans before limit and decodes
// what is accepted, in the order of time.
func (p *Path) readContacts(limit int64) {
	if p.asleep {
		if p.lone.due < limit {
			at := p.lone.due
			p.lone.due = never
			p.emit(at, p.lone.dir, p.lone.detent)
		}
		return
	}
	a, b := &p.contacts[0], &p.contacts[1]
	for {
		if a.walking && a.due == never {
			p.walk(a, limit)
		}
		if b.walking && b.due == never {
			p.walk(b, limit)
		}
		at := min(a.due, b.due)
		if at >= limit {
			p.dueAny = at
			p.walkingAny = a.walking || b.walking
			return
		}
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
	a, b := &p.contacts[0], &p.contacts[1]
	if p.decoder == Edge {
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
		p.gray = g
		p.account.IllegalTransitions++
		if p.Trace != nil {
			p.Trace(Event{At: at, Kind: IllegalTransition})
		}
		return
	}
	delta := int8(1)
	if (g-p.gray)&3 == 3 {
		delta = -1
	}
	p.gray = g
	p.quarters += int(delta)
	if p.quarters == p.perDetent || p.quarters == -p.perDetent {
		p.quarters = 0
		owner := a.owner
		if changedB {
			owner = b.owner
		}
		p.emit(at, delta, owner)
	}
}
