package figure

import (
	"cmp"
	"slices"
)

// lane is a row of spans. It is as high as its letters need: where they would meet
// they stand in rows below each other, so that none is left out.
type lane struct {
	top, bottom length
	head        string
	tone        Tone
	rows        map[[2]int]int // by mark and span: which row of the lane
	ends        []length       // of the rows
}

const (
	laneRow  = 18 * px
	laneEdge = 4 * px
	headStep = 24 * px
	mostRows = 12 // of a lane
)

// pack puts the spans of lanes into rows, between two places across.
func (p *plot) pack(left, right length) {
	type placed struct {
		at   [2]int
		lane int
		from float64
		box  box
	}
	var all []placed
	for i, m := range p.f.Marks {
		m, ok := m.(Spans)
		if !ok {
			continue
		}
		for j, s := range m.Spans {
			if s.Lane >= 0 && s.Lane < len(p.f.Y.Categories) && p.shows(s) {
				all = append(all, placed{[2]int{i, j}, s.Lane, s.From, p.spanBox(s, left, right)})
			}
		}
	}
	if !p.lying || len(p.barMarks) > 0 || len(all) == 0 {
		return
	}
	slices.SortStableFunc(all, func(a, b placed) int { return cmp.Compare(a.from, b.from) })
	p.lanes = make([]lane, len(p.f.Y.Categories))
	for _, s := range all {
		l := &p.lanes[s.lane]
		row := slices.IndexFunc(l.ends, func(end length) bool { return end <= s.box.x0 })
		if row < 0 && len(l.ends) < mostRows {
			row = len(l.ends)
			l.ends = append(l.ends, 0)
		}
		if row < 0 {
			row = mostRows - 1
		}
		if l.rows == nil {
			l.rows = map[[2]int]int{}
		}
		l.rows[s.at] = row
		l.ends[row] = max(l.ends[row], s.box.x1)
	}
	y := length(0)
	for i := range p.lanes {
		l := &p.lanes[i]
		for _, h := range p.f.Y.Heads {
			if h.Lane == i {
				l.head, l.tone = cut(clean(h.Text), p.w), h.Tone
				y += headStep
			}
		}
		l.top = y
		y += 2*laneEdge + laneRow*length(max(1, len(l.ends)))
		if p.above {
			y += lineStep
		}
		l.bottom = y
	}
}

func (p *plot) shows(s Span) bool { return s.To >= p.x.lo && s.From <= p.x.hi }

// spanBox is how much room across a span and its letter take.
func (p *plot) spanBox(s Span, left, right length) box {
	place := func(v float64) length { return min(max(p.x.at(v), left), right) }
	b := box{x0: place(s.From), x1: place(s.To)}
	w := textWidth(clean(s.Letter))
	switch {
	case w == 0, s.From < s.To && w+2*px <= b.x1-b.x0:
		b.x1 += px
	case b.x1+w+5*px <= p.w:
		b.x1 += w + 5*px
	default:
		b.x0 -= w + 5*px
		b.x1 += px
	}
	return b
}

// spans draws the k-th mark of the figure.
func (p *plot) spans(k int, m Spans) {
	for j, s := range m.Spans {
		if p.lanes == nil || s.Lane < 0 || s.Lane >= len(p.lanes) || !p.shows(s) {
			continue
		}
		l := &p.lanes[s.Lane]
		top := p.area.y0 + l.top + laneEdge + laneRow*length(l.rows[[2]int{k, j}])
		if p.above {
			top += lineStep
		}
		low, base := top+laneRow-px, top+laneRow/2+4*px
		x0, x1 := p.inX(s.From), p.inX(s.To)
		text := clean(s.Letter)
		if s.From < s.To {
			p.rect(board, m.Tone, box{x0, top, max(x1, x0+px), low})
			if w := textWidth(text); w+2*px <= x1-x0 {
				p.textIfFree(letter, m.Tone, (x0+x1)/2, base, middle, text)
				continue
			}
		} else {
			p.segment(thin, m.Tone, x0, top, x0, low)
		}
		if b := p.spanBox(s, p.area.x0, p.area.x1); b.x0 < x0 {
			p.textIfFree(words, m.Tone, x0-3*px, base, end, text)
		} else {
			p.textIfFree(words, m.Tone, x1+3*px, base, begin, text)
		}
	}
}
