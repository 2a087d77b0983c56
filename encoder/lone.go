package encoder

// lone is the newest detent where each of its edges comes so far before the next one
// that the acceptances fall in order: nothing is left to decide but the scan at
// which the last of them is accepted. Contacts and decoder sleep meanwhile.
type lone struct {
	due    int64 // that scan; never: it is over
	edge   int64 // time of the last edge
	dir    int8
	detent int
}

// turnAlone turns a detent whose edges come from first to last, at least `spacing`
// apart, if they stand alone. Otherwise it does nothing and returns false.
func (p *Path) turnAlone(first, last, spacing int64, dir int8, detent int) bool {
	if spacing <= p.settled || p.decoder == Edge || p.perDetent == 1 {
		return false
	}
	p.readContacts(first)
	if p.asleep {
		if p.lone.due != never {
			return false
		}
	} else if p.dueAny != never || p.walkingAny || p.quarters != 0 {
		return false
	}
	p.asleep = true
	p.edges += int64(p.perDetent)
	p.position += int64(dir) * int64(p.perDetent)
	readings, chatter := p.chatters(p.edges - 1)
	a, b := p.shaft()
	level := a
	if p.moved(dir) == 1 {
		level = b
	}
	scan := p.scan.first(last)
	n := int(p.scan.first(last+chatter) - scan)
	p.lone = lone{p.accepts(level, readings, scan, n), last, dir, detent}
	return true
}

// shaft returns the levels of the contacts at the shaft's position.
func (p *Path) shaft() (a, b bool) {
	g := p.position & 3
	return g == 1 || g == 2, g >= 2
}

// moved returns which contact the last quarter step changed: 0 is A, 1 is B.
func (p *Path) moved(dir int8) int {
	if dir > 0 {
		return int(p.position-1) & 1
	}
	return int(p.position) & 1
}

// wake readies contacts and decoder for edges that crowd.
func (p *Path) wake() {
	if !p.asleep {
		return
	}
	p.asleep = false
	last, pending := p.lone, p.lone.due != never
	if pending { // its last edge is turned anew
		p.lone.due = never
		p.position -= int64(last.dir)
		p.edges--
		p.quarters = int(last.dir) * (p.perDetent - 1)
	}
	p.gray = int8(p.position & 3)
	a, b := p.shaft()
	p.contacts = [2]contact{{due: never, level: a, accepted: a}, {due: never, level: b, accepted: b}}
	if pending {
		p.edgeAt(last.edge, last.dir, last.detent)
	}
}
