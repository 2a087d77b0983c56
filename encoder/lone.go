package encoder

// lone is the newest detent where all edges since the contacts were last at rest lie
// so far apart that their acceptances fall in order: nothing is left to decide but the
// scan at which the last of them is accepted. Contacts and decoder sleep meanwhile.
type lone struct {
	due    int64 // that scan; never: it is over
	before int64 // time of the last edge but one
	edge   int64 // and of the last one
	dir    int8
	detent int
}

// orderly returns the distance beyond which edges are accepted in order: an edge's
// chatter and the scan after it end before the next edge, so that the next one's
// readings begin later; and it is accepted before the edge after that, of its own
// contact. Where each edge is a detent it is accepted before the next one. It is never
// where chatter alone may be believed.
func (c *contacts) orderly() int64 {
	scan := c.scan.period.by
	if c.decoder == Edge || c.bounce > 0 && c.bounce/scan+1 >= int64(c.debounce) {
		return never
	}
	settled := c.bounce + int64(c.debounce)*scan
	if c.perDetent == 1 {
		return settled + 1
	}
	return max(c.bounce+scan, settled/2) + 1
}

// turnAlone turns a detent whose edges come from first over before, the last but one,
// to last, at least `spacing` apart, if they stand alone. Otherwise it does nothing and
// returns false.
func (p *Path) turnAlone(first, before, last, spacing int64, dir int8, detent int) bool {
	c := &p.contacts
	if spacing <= c.inOrder || !p.maySleep(first, dir) {
		return false
	}
	c.asleep = true
	x := &c.lone // field by field: a copy of the whole would wait for its parts
	x.due = c.accept([]int64{last}, 1, dir)[0]
	x.before, x.edge = before, last
	x.dir, x.detent = dir, detent
	return true
}

// maySleep says whether contacts and decoder are at rest at an edge, or wait for nothing
// but the last edge of a detent that stands alone and turned the same way; that one is
// accepted then.
func (p *Path) maySleep(te int64, dir int8) bool {
	c := &p.contacts
	if !c.asleep {
		p.readContacts(te)
		return c.dueAny == never && !c.walkingAny && c.quarters == 0
	}
	if x := &c.lone; x.due != never {
		if x.due >= te && (x.dir != dir || te-x.edge <= c.inOrder) {
			return false
		}
		p.emitLone()
	}
	return true
}

// emitLone lets the last edge of the newest detent be accepted.
func (p *Path) emitLone() {
	x := &p.contacts.lone
	p.countLone([]int64{x.due}, x.dir, x.detent)
	x.due = never
}

// countLone is emit for detents that stand alone, from one on: each count is its own.
func (p *Path) countLone(at []int64, dir int8, detent int) {
	for i := range at {
		p.detents[detent+i].counted = true
	}
	if p.levels.taken == oneForOne {
		p.account.Pulses += len(at)
		p.startAhead(at, pulse{lineOf(dir, false), detent}, 1)
		return
	}
	for i := range at {
		p.count(at[i], dir, detent+i)
	}
}

// accept takes the edges of detents that stand alone and returns when the last one of
// each is accepted: every so many of the times, from the first one on. It is chatters and
// accepts in one, where few scans fall into the chatter. The slice is valid until the
// next call.
func (c *contacts) accept(times []int64, every int, dir int8) []int64 {
	scan, noise := &c.scan, c.chatterNoise
	longest, debounce := uint64(c.bounce+1), c.debounce-1
	edges, way := int64(c.perDetent), int64(c.perDetent)*int64(dir)
	edge := c.edges - 1
	// After the last step A is closed at the positions 1 and 2 of a cycle, B at 2 and 3:
	// the one that changed is closed where bit 1 of this is set.
	side := c.position + int64(dir+1)/2
	c.due = c.due[:0]
	for i := 0; i < len(times); i += every {
		edge += edges
		side += way
		first := scan.first(times[i])
		at := scan.tick(first)
		readings := noise.Bits(edge)
		beyond := int64(readings>>32*longest>>32) - (at - times[i])
		n := int(scan.period.of(max(0, beyond+scan.period.by-1)))
		closed := uint64(side) >> 1 & 1
		if n > 32 {
			at = c.accepts(closed == 1, readings, edge, first, n)
		} else {
			at += int64(lastZero(readings^(closed-1), n)+debounce) * scan.period.by
		}
		c.due = append(c.due, at)
	}
	n := int64(len(c.due))
	c.edges += n * edges
	c.position += n * way
	return c.due
}

// wake readies contacts and decoder for edges that crowd.
func (p *Path) wake() {
	c := &p.contacts
	if !c.asleep {
		return
	}
	c.asleep = false
	last, pending := c.lone, c.lone.due != never
	again := min(2, c.perDetent)
	if pending { // its last two edges are turned anew; those before have been accepted
		c.lone.due = never
		c.position -= int64(again) * int64(last.dir)
		c.edges -= int64(again)
		c.quarters = int(last.dir) * (c.perDetent - again)
	}
	c.gray = int8(c.position & 3)
	a, b := c.gray == 1 || c.gray == 2, c.gray >= 2
	c.pair = [2]contact{{due: never, level: a, accepted: a}, {due: never, level: b, accepted: b}}
	if pending {
		if again == 2 {
			p.edgeAt(last.before, last.dir, last.detent)
		}
		p.edgeAt(last.edge, last.dir, last.detent)
	}
}
