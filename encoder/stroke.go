package encoder

// Stroke turns the knob by the detents of a stroke, whose edges come at the given times,
// EdgesPerDetent for each detent. It does what Turn does for each of them, with less
// work where they stand alone.
func (p *Path) Stroke(dir int8, edges []int64) {
	e := p.contacts.perDetent
	for len(edges) > 0 {
		n := p.strokeAlone(dir, edges)
		if n == 0 {
			n = 1
			p.Turn(dir, edges[:e])
		}
		edges = edges[n*e:]
	}
}

// StrokeApart does what Stroke does for detents that are complete at the given times, if
// all of their edges lie so far apart that they stand alone: first is the time of the
// first edge, before that of the last but one, spacing the least time between two. If
// they do not it does nothing and returns false.
func (p *Path) StrokeApart(dir int8, first, before, spacing int64, ends []int64) bool {
	if spacing <= p.contacts.inOrder || !p.maySleep(first, dir) {
		return false
	}
	p.standAlone(dir, ends, 1, before)
	return true
}

// strokeAlone turns the first of these detents, as many as stand alone one by one, and
// returns how many: two at least, or none.
func (p *Path) strokeAlone(dir int8, edges []int64) int {
	c := &p.contacts
	e := c.perDetent
	if len(edges) < 2*e || c.aloneOf(edges[:2*e]) < 2*e || !p.maySleep(edges[0], dir) {
		return 0
	}
	n := c.aloneOf(edges) / e
	p.standAlone(dir, edges[e-1:n*e], e, edges[n*e-2])
	return n
}

// standAlone turns detents that stand alone. Every so many of the times, from the first
// one on, is that of a last edge; before is that of the last but one of all. Each stage
// takes all of them before the next one does.
func (p *Path) standAlone(dir int8, times []int64, every int, before int64) {
	c := &p.contacts
	detent := len(p.detents)
	for i := 0; i < len(times); i += every {
		p.turn(times[i], dir)
	}
	due := c.accept(times, every, dir)
	last := len(due) - 1
	p.countLone(due[:last], dir, detent)
	c.asleep = true
	x := &c.lone // field by field: a copy of the whole would wait for its parts
	x.due = due[last]
	x.before, x.edge = before, times[len(times)-1]
	x.dir, x.detent = dir, detent+last
}

// aloneOf returns how many of some edges, from the first one on, stand alone.
func (c *contacts) aloneOf(edges []int64) int {
	for i := 1; i < len(edges); i++ {
		if edges[i]-edges[i-1] <= c.inOrder {
			return i
		}
	}
	return len(edges)
}
