package figure

import (
	"math"
	"slices"
	"strconv"
)

// The tones of a pair.
const (
	pairBefore = Vermilion
	pairAfter  = Blue
	pairSame   = Quiet
)

const (
	pairRow   = 26 * px
	pairSplit = 20 * px // between measures
	pairWide  = 480 * px
)

// pairs returns the pairs that a figure is made of.
func (f *Figure) pairs() (Pairs, bool) {
	for _, m := range f.Marks {
		if m, ok := m.(Pairs); ok {
			return m, true
		}
	}
	return Pairs{}, false
}

// most is the end of a column's scale: a round number.
func (c *PairColumn) most() float64 {
	most := c.Limit
	for _, p := range c.Pairs {
		most = max(most, p.After)
		if !p.Same {
			most = max(most, p.Before)
		}
	}
	if !(most > 0) || math.IsInf(most, 1) {
		return 1
	}
	d := finest(most, 10, false)
	return d.value(int(math.Ceil(most/d.value(1) - 1e-9)))
}

// pairs draws pairs from a height down, and returns where they end.
func (p *plot) pairs(m Pairs, side, top length) length {
	top = p.pairKey(m, side, top)
	names, notes, labels := length(0), length(0), length(0)
	for _, r := range m.Rows {
		names = max(names, textWidth(clean(r.Name)))
		notes = min(max(notes, textWidth(clean(r.Note))), p.w*15/100)
	}
	for _, c := range m.Columns {
		for _, x := range c.Pairs {
			labels = max(labels, textWidth(clean(x.AfterText)))
			if !x.Same {
				labels = max(labels, textWidth(clean(x.BeforeText)))
			}
		}
	}
	labels += 10 * px
	above := p.w < pairWide
	row, left := pairRow, side
	if p.row > 0 {
		row = p.row
	}
	if above {
		row += lineStep
	} else {
		names = min(names, p.w*28/100)
		left += names + notes + 24*px
	}
	n := length(len(m.Columns))
	wide := (p.w - side - left - (n-1)*pairSplit) / max(n, 1)
	labels = min(labels, wide*35/100)
	top += 6 * px
	head := top
	for i := range m.Columns {
		x := left + length(i)*(wide+pairSplit)
		y := top
		for _, line := range regular().wrap(clean(m.Columns[i].Label), textSize, wide, 2) {
			y += 13 * px
			p.text(quiet, Quiet, x, y, begin, line)
			y += 3 * px
		}
		head = max(head, y)
	}
	top = head + 2*px
	bottom := top + row*length(len(m.Rows))
	p.open(Ink)
	for i, r := range m.Rows {
		y := top + length(i)*row
		p.segment(grid, Quiet, side, y, p.w-side, y)
		note := cut(clean(r.Note), p.w*15/100)
		if above {
			p.text(words, Ink, side, y+14*px, begin, cut(clean(r.Name), p.w-2*side-textWidth(note)-8*px))
			p.text(quiet, Quiet, p.w-side, y+14*px, end, note)
			continue
		}
		p.text(words, Ink, side, y+row/2+4*px, begin, cut(clean(r.Name), names))
		p.text(quiet, Quiet, side+names+10*px+notes, y+row/2+4*px, end, note)
	}
	p.segment(grid, Quiet, side, bottom, p.w-side, bottom)
	p.shut()
	low := bottom
	for i := range m.Columns {
		x := left + length(i)*(wide+pairSplit)
		low = max(low, p.pairColumn(&m.Columns[i], m, x+labels, x+wide-labels, labels-8*px, top, row, above))
	}
	return low + 2*px
}

// pairKey names the markers.
func (p *plot) pairKey(m Pairs, side, top length) length {
	changed, same := false, false
	for _, c := range m.Columns {
		for _, x := range c.Pairs {
			changed, same = changed || !x.Same, same || x.Same
		}
	}
	x := side
	for _, e := range []struct {
		tone Tone
		name string
		is   bool
	}{{pairBefore, m.Before, changed}, {pairAfter, m.After, changed}, {pairSame, m.Same, same}} {
		name := clean(e.name)
		if !e.is || name == "" {
			continue
		}
		name = cut(name, (p.w-side)/3-32*px)
		p.open(e.tone, attr{"data-key", name})
		p.pairMarker(e.tone, x+6*px, top+9*px)
		p.text(words, e.tone, x+16*px, top+13*px, begin, name)
		p.shut()
		x += 32*px + textWidth(name)
	}
	return top + 16*px
}

// pairMarker draws what was as a triangle, what will be as a square, and what stays
// as a disc.
func (p *plot) pairMarker(t Tone, x, y length) {
	if t == pairSame {
		p.items = append(p.items, item{kind: disc, style: fill, tone: t, x: x, y: y, r: 45})
		return
	}
	p.marker(t, x, y, true)
}

// pairColumn draws a measure between two places and returns where it ends below.
func (p *plot) pairColumn(c *PairColumn, m Pairs, from, to, room, top, row length, above bool) length {
	s := scale{lo: 0, hi: c.most(), a: from, b: max(to, from+10*px)}
	floor := top + row*length(len(m.Rows))
	p.open(Quiet, attr{"data-mark", "pairs"}, attr{"data-name", clean(c.Label)},
		attr{"data-min", "0"}, attr{"data-max", strconv.FormatFloat(s.hi, 'g', 12, 64)}, attr{"data-from", s.a.svg()}, attr{"data-to", s.b.svg()})
	bottom := floor
	rows := c.Pairs[:min(len(c.Pairs), len(m.Rows))]
	middleOf := func(i int) length {
		y := top + length(i)*row + row/2
		if above {
			y += lineStep / 2
		}
		return y
	}
	if c.Limit > 0 {
		x, from := s.at(c.Limit), top
		for i, pair := range rows {
			if slices.ContainsFunc(pairNumbers(pair, s, room), func(n pairNumber) bool { return n.covers(x) }) {
				p.segment(thin, Quiet, x, from, x, middleOf(i)-7*px)
				from = middleOf(i) + 7*px
			}
		}
		p.segment(thin, Quiet, x, from, x, floor+4*px)
		if b := cut(clean(c.Bound), s.b-s.a+2*room); b != "" {
			w := textWidth(b)
			p.text(quiet, Quiet, min(max(x, s.a-room+w/2), s.b+room-w/2), floor+17*px, middle, b)
			bottom += 20 * px
		}
	}
	for i, pair := range rows {
		y := middleOf(i)
		p.open(Quiet, attr{"data-row", clean(m.Rows[i].Name)})
		if !pair.Same {
			a, b := s.at(pair.After), s.at(pair.Before)
			p.segment(stroke, Quiet, min(a, b), y, max(a, b), y)
		}
		for _, n := range pairNumbers(pair, s, room) {
			p.open(n.tone, attr{"data-dot", n.dot})
			p.pairMarker(n.tone, n.x, y)
			switch {
			case n.text == "":
			case n.left:
				p.text(words, n.tone, n.x-8*px, y+4*px, end, n.text)
			default:
				p.text(words, n.tone, n.x+8*px, y+4*px, begin, n.text)
			}
			p.shut()
		}
		p.shut()
	}
	p.shut()
	return bottom
}

// pairNumber is a marker of a pair with its number beside it.
type pairNumber struct {
	tone Tone
	dot  string
	x    length // of the marker
	text string // none where it is the other one's
	left bool
}

// pairNumbers are the markers of a pair, in the order in which they are drawn.
func pairNumbers(x Pair, s scale, room length) []pairNumber {
	before, after := cut(clean(x.BeforeText), room), cut(clean(x.AfterText), room)
	switch {
	case x.Same:
		return []pairNumber{{pairSame, "same", s.at(x.After), after, false}}
	case x.Before == x.After:
		before = ""
	}
	return []pairNumber{
		{pairBefore, "before", s.at(x.Before), before, x.Before < x.After},
		{pairAfter, "after", s.at(x.After), after, x.Before > x.After},
	}
}

// covers says whether a place lies behind the number.
func (n pairNumber) covers(x length) bool {
	if n.left {
		x = 2*n.x - x
	}
	return n.text != "" && x > n.x && x < n.x+8*px+textWidth(n.text)+2*px
}
