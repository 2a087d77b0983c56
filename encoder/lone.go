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
// contact. It is never where chatter alone may be believed.
func (c *contacts) orderly() int64 {
	scan := c.scan.period.by
	if c.decoder == Edge || c.perDetent == 1 || c.bounce > 0 && c.bounce/scan+1 >= int64(c.debounce) {
		return never
	}
	settled := c.bounce + int64(c.debounce)*scan
	return max(c.bounce+scan, settled/2) + 1
}

// turnAlone turns a detent whose edges come from first over before, the last but one,
// to last, at least `spacing` apart, if they stand alone. Otherwise it does nothing and
// returns false.
func (p *Path) turnAlone(first, before, last, spacing int64, dir int8, detent int) bool {
	c := &p.contacts
	if spacing <= c.inOrder || !p.fallAsleep(first, dir) {
		return false
	}
	c.edges += int64(c.perDetent)
	c.position += int64(dir) * int64(c.perDetent)
	x := &c.lone // field by field: a copy of the whole would wait for its parts
	x.due = c.acceptsNewest(last, dir)
	x.before, x.edge = before, last
	x.dir, x.detent = dir, detent
	return true
}

// fallAsleep lets contacts and decoder sleep from an edge on, if they are at rest or
// still wait for nothing but the last edge of a detent that stands alone and turned the
// same way. Otherwise it returns false.
func (p *Path) fallAsleep(te int64, dir int8) bool {
	c := &p.contacts
	p.readContacts(te)
	if !c.asleep {
		c.asleep = c.dueAny == never && !c.walkingAny && c.quarters == 0
		return c.asleep
	}
	if x := &c.lone; x.due != never {
		if x.dir != dir || te-x.edge <= c.inOrder {
			return false
		}
		p.emitLone()
	}
	return true
}

// emitLone lets the last edge of the newest detent be accepted.
func (p *Path) emitLone() {
	x := &p.contacts.lone
	at := x.due
	x.due = never
	p.countLone(at, x.dir, x.detent)
}

// countLone is emit for a detent that stands alone: the count is its own.
func (p *Path) countLone(at int64, dir int8, detent int) {
	p.detents[detent].counted = true
	if p.levels.taken == oneForOne {
		p.startAhead(at, pulse{lineOf(dir, false), detent})
		return
	}
	p.count(at, dir, detent)
}

// acceptsNewest returns when the newest edge, at te, is accepted.
func (c *contacts) acceptsNewest(te int64, dir int8) int64 {
	scan := c.scan.first(te)
	readings, n := c.chatters(c.edges-1, c.scan.tick(scan)-te)
	return c.accepts(c.closed(dir), readings, c.edges-1, scan, n)
}

// closed returns the level of the contact that the last quarter step changed: A is
// closed at the positions 1 and 2 of a cycle, B at 2 and 3.
func (c *contacts) closed(dir int8) bool { return (c.position+int64(dir+1)/2)&2 != 0 }

// wake readies contacts and decoder for edges that crowd.
func (p *Path) wake() {
	c := &p.contacts
	if !c.asleep {
		return
	}
	c.asleep = false
	last, pending := c.lone, c.lone.due != never
	if pending { // its last two edges are turned anew; those before have been accepted
		c.lone.due = never
		c.position -= 2 * int64(last.dir)
		c.edges -= 2
		c.quarters = int(last.dir) * (c.perDetent - 2)
	}
	c.gray = int8(c.position & 3)
	a, b := c.gray == 1 || c.gray == 2, c.gray >= 2
	c.pair = [2]contact{{due: never, level: a, accepted: a}, {due: never, level: b, accepted: b}}
	if pending {
		p.edgeAt(last.before, last.dir, last.detent)
		p.edgeAt(last.edge, last.dir, last.detent)
	}
}
