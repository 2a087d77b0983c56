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

// strokeAlone turns the first of these detents, as many as stand alone one by one, and
// returns how many: two at least, or none.
func (p *Path) strokeAlone(dir int8, edges []int64) int {
	c := &p.contacts
	e := c.perDetent
	if len(edges) < 2*e || c.aloneOf(edges[:2*e]) < 2*e || !p.maySleep(edges[0], dir) {
		return 0
	}
	n := c.aloneOf(edges) / e
	first := len(p.detents)
	p.dues = p.dues[:0]
	for last := e - 1; last < n*e; last += e {
		p.turn(edges[last], dir)
		c.edges += int64(e)
		c.position += int64(dir) * int64(e)
		p.dues = append(p.dues, c.acceptsNewest(edges[last], dir))
	}
	for i, due := range p.dues[:n-1] {
		p.countLone(due, dir, first+i)
	}
	c.asleep = true
	c.lone.due = p.dues[n-1]
	c.lone.before, c.lone.edge = edges[n*e-2], edges[n*e-1]
	c.lone.dir, c.lone.detent = dir, first+n-1
	return n
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
