package figure

import "math"

func (l Line) reach(r *extent)      { reachAll(r, l.At) }
func (a Area) reach(r *extent)      { reachAll(r, a.Upper); reachAll(r, a.Lower) }
func (b Bars) reach(r *extent)      {}
func (m Pairs) reach(r *extent)     {}
func (h Rug) reach(r *extent)       { takeAll(&r.x, h.At) }
func (b Band) reach(r *extent)      { r.of(b.OnX).take(b.From); r.of(b.OnX).take(b.To) }
func (h Histogram) reach(r *extent) { takeAll(&r.x, h.Edges) }

func (p Points) reach(r *extent) {
	for _, at := range p.At {
		r.x.take(at.X)
		r.y.take(at.Y)
		if at.Low < at.High {
			r.y.take(at.Low)
			r.y.take(at.High)
		}
	}
}

func (s Spans) reach(r *extent) {
	for _, at := range s.Spans {
		r.x.take(at.From)
		r.x.take(at.To)
	}
}

// ends tells how far the bars reach, lying or standing.
func (b Bars) ends(r *extent, lying bool) {
	place, value := &r.x, &r.y
	if lying {
		place, value = &r.y, &r.x
	}
	for _, at := range b.Bars {
		place.take(at.At)
		value.take(at.From)
		value.take(at.Value)
		if at.Low < at.High {
			value.take(at.Low)
			value.take(at.High)
		}
	}
}

func (r *extent) of(x bool) *span {
	if x {
		return &r.x
	}
	return &r.y
}

func reachAll(r *extent, at []XY) {
	for _, v := range at {
		r.x.take(v.X)
		r.y.take(v.Y)
	}
}

func takeAll(s *span, at []float64) {
	for _, v := range at {
		s.take(v)
	}
}

// marks draws what the figure shows.
func (p *plot) marks() {
	bars, rug := 0, p.area.y1
	for i, m := range p.f.Marks {
		switch m := m.(type) {
		case Line:
			p.mark(m.Tone, "line", m.Name)
			p.line(m)
		case Area:
			p.mark(m.Tone, "area", m.Name)
			p.surface(m)
		case Band:
			p.mark(m.Tone, "band", m.Name)
			b := p.across(m.OnX, m.From, m.To)
			p.rect(soft, m.Tone, b)
			// Its edges too: a narrow target is hardly a surface.
			if m.OnX {
				p.path(hair, m.Tone, false, run{{b.x0, b.y0}, {b.x0, b.y1}}, run{{b.x1, b.y0}, {b.x1, b.y1}})
			} else {
				p.path(hair, m.Tone, false, run{{b.x0, b.y0}, {b.x1, b.y0}}, run{{b.x0, b.y1}, {b.x1, b.y1}})
			}
		case Bars:
			p.mark(m.Tone, "bars", m.Name)
			p.bars(m, bars)
			bars++
		case Histogram:
			top := 0.0
			for _, v := range m.Share {
				top = max(top, v)
			}
			p.mark(m.Tone, "histogram", m.Name, attr{"data-top", plainNumber(top)})
			p.histogram(m, top)
		case Rug:
			if len(m.At) == 0 {
				continue
			}
			p.mark(m.Tone, "rug", m.Name)
			var runs []run
			for _, v := range m.At {
				if x := p.x.at(v); p.x.holds(v) {
					runs = append(runs, run{{x, rug + 3*px}, {x, rug + rugHeight - 2*px}})
				}
			}
			p.path(thin, m.Tone, false, runs...)
			rug += rugHeight
		case Points:
			p.mark(m.Tone, "points", m.Name)
			p.points(m)
		case Spans:
			p.mark(m.Tone, "spans", m.Name)
			p.spans(i, m)
		}
		p.shut()
	}
	p.labels()
}

func (p *plot) mark(t Tone, kind, name string, more ...attr) {
	attrs := []attr{{"data-mark", kind}}
	if name = clean(name); name != "" {
		attrs = append(attrs, attr{"data-name", name})
	}
	p.open(t, append(attrs, more...)...)
}

// across is a range of one axis over the whole other axis.
func (p *plot) across(onX bool, from, to float64) box {
	b := p.area
	if onX {
		b.x0, b.x1 = p.inX(from), p.inX(to)
	} else {
		b.y0, b.y1 = p.inY(to), p.inY(from)
	}
	return b
}

// inX and inY place a value, and one outside on the edge of the area.
func (p *plot) inX(v float64) length { return min(max(p.x.at(v), p.area.x0), p.area.x1) }
func (p *plot) inY(v float64) length { return min(max(p.y.at(v), p.area.y0), p.area.y1) }

func (p *plot) line(m Line) {
	runs := p.trace(m.At, m.Step)
	p.path(stroke, m.Tone, false, runs...)
	if m.Markers {
		for _, v := range m.At {
			if p.x.holds(v.X) && p.y.holds(v.Y) {
				p.marker(m.Tone, p.x.at(v.X), p.y.at(v.Y), false)
			}
		}
	}
}

// surface fills between two curves; both are held inside the area.
func (p *plot) surface(m Area) {
	upper := p.hold(m.Upper, m.Step)
	lower := p.hold(m.Lower, m.Step)
	if len(upper) < 2 {
		return
	}
	if len(lower) == 0 {
		lower = run{{upper[0].x, p.area.y1}, {upper[len(upper)-1].x, p.area.y1}}
	}
	ring := append(run{}, upper...)
	for i := len(lower) - 1; i >= 0; i-- {
		ring = append(ring, lower[i])
	}
	p.path(soft, m.Tone, true, ring)
}

// hold places a curve and moves what lies outside the area to its edge.
func (p *plot) hold(at []XY, step bool) run {
	var out run
	for _, v := range at {
		if math.IsNaN(v.X) || math.IsNaN(v.Y) {
			continue
		}
		x, y := p.inX(v.X), p.inY(v.Y)
		if step && len(out) > 0 {
			out = append(out, spot{x, out[len(out)-1].y})
		}
		out = append(out, spot{x, y})
	}
	return simplify(out)
}

// trace places a curve, in pieces where it is interrupted or leaves the area.
func (p *plot) trace(at []XY, step bool) []run {
	var out []run
	var piece run
	finish := func() {
		if len(piece) > 1 {
			out = append(out, simplify(piece))
		}
		piece = nil
	}
	add := func(a, b spot) {
		a, b, ok := p.area.clip(a, b)
		if !ok {
			finish()
			return
		}
		if len(piece) == 0 || piece[len(piece)-1] != a {
			finish()
			piece = run{a}
		}
		piece = append(piece, b)
	}
	var last spot
	have := false
	for _, v := range at {
		if math.IsNaN(v.X) || math.IsNaN(v.Y) {
			finish()
			have = false
			continue
		}
		now := spot{p.x.at(v.X), p.y.at(v.Y)}
		if have {
			if step && now.y != last.y {
				corner := spot{now.x, last.y}
				add(last, corner)
				last = corner
			}
			add(last, now)
		}
		last, have = now, true
	}
	finish()
	return out
}

// clip cuts a segment at the sides of the box (Liang and Barsky), in whole
// numbers.
func (b box) clip(from, to spot) (spot, spot, bool) {
	dx, dy := int64(to.x-from.x), int64(to.y-from.y)
	// The part kept is from n0/d0 to n1/d1 of the segment.
	n0, d0, n1, d1 := int64(0), int64(1), int64(1), int64(1)
	for _, side := range [4][2]int64{
		{-dx, int64(from.x - b.x0)}, {dx, int64(b.x1 - from.x)},
		{-dy, int64(from.y - b.y0)}, {dy, int64(b.y1 - from.y)},
	} {
		d, n := side[0], side[1]
		switch {
		case d == 0 && n < 0:
			return from, to, false
		case d < 0: // entering at n/d
			n, d = -n, -d
			if n*d0 > n0*d {
				n0, d0 = n, d
			}
		case d > 0: // leaving at n/d
			if n*d1 < n1*d {
				n1, d1 = n, d
			}
		}
	}
	if n0*d1 > n1*d0 {
		return from, to, false
	}
	at := func(n, d int64) spot {
		return spot{from.x + length(divide(dx*n, d)), from.y + length(divide(dy*n, d))}
	}
	return at(n0, d0), at(n1, d1), true
}

// divide rounds to the nearest whole number; d is above 0.
func divide(n, d int64) int64 {
	if n < 0 {
		return -divide(-n, d)
	}
	return (n + d/2) / d
}

// simplify leaves out points that lie within an eighth of a pixel of the line
// through those that stay (Douglas and Peucker). With the rounding of places
// that is less than a fifth of a pixel beside the true curve.
func simplify(r run) run {
	if len(r) < 3 {
		return r
	}
	keep := make([]bool, len(r))
	keep[0], keep[len(r)-1] = true, true
	stack := [][2]int{{0, len(r) - 1}}
	for len(stack) > 0 {
		from, to := stack[len(stack)-1][0], stack[len(stack)-1][1]
		stack = stack[:len(stack)-1]
		far, most := -1, int64(0)
		dx, dy := int64(r[to].x-r[from].x), int64(r[to].y-r[from].y)
		long := dx*dx + dy*dy
		for i := from + 1; i < to; i++ {
			ex, ey := int64(r[i].x-r[from].x), int64(r[i].y-r[from].y)
			// The square of the distance, times long.
			var d int64
			switch along := ex*dx + ey*dy; {
			case long == 0:
				d = ex*ex + ey*ey
			case along < 0:
				d = (ex*ex + ey*ey) * long
			case along > long:
				fx, fy := ex-dx, ey-dy
				d = (fx*fx + fy*fy) * long
			default:
				d = ex*dy - ey*dx
				d *= d
			}
			if d > most {
				far, most = i, d
			}
		}
		// 1.25 tenths of a pixel, squared.
		if far >= 0 && 16*most > 25*max(long, 1) {
			keep[far] = true
			stack = append(stack, [2]int{from, far}, [2]int{far, to})
		}
	}
	out := r[:0:0]
	for i, s := range r {
		if keep[i] {
			out = append(out, s)
		}
	}
	return out
}

// bars draws the k-th series of bars.
func (p *plot) bars(m Bars, k int) {
	n := length(len(p.barMarks))
	var whiskers []run
	for _, bar := range m.Bars {
		if math.IsNaN(bar.Value) || p.lying && !p.y.holds(bar.At) || !p.lying && !p.x.holds(bar.At) {
			continue
		}
		var b box
		tip := max(bar.From, bar.Value)
		if bar.Low < bar.High {
			tip = max(tip, bar.High)
		}
		if p.lying {
			rows := length(len(p.f.Y.Categories))
			row := (p.area.y1 - p.area.y0) / rows
			top := p.area.y0 + length(bar.At)*row
			if p.above {
				top += lineStep
				row -= lineStep
			}
			thick := (row - 8*px) / n
			y := top + 4*px + length(k)*thick
			x0, x1 := p.inX(min(bar.From, bar.Value)), p.inX(max(bar.From, bar.Value))
			b = box{x0, y + px/2, x1, y + thick - px/2}
			p.bar(m.Tone, k, b)
			whiskers = append(whiskers, p.whisker(bar, (b.y0+b.y1)/2)...)
			p.textIfFree(words, m.Tone, p.inX(tip)+gap, (b.y0+b.y1)/2+4*px, begin, cut(clean(bar.Text), p.w*40/100-gap))
			continue
		}
		pitch := p.pitch()
		thick := pitch * 7 / 10 / n
		x := p.x.at(bar.At) - thick*n/2 + length(k)*thick
		b = box{x + px/2, p.inY(max(bar.From, bar.Value)), x + thick - px/2, p.inY(min(bar.From, bar.Value))}
		p.bar(m.Tone, k, b)
		whiskers = append(whiskers, p.whisker(bar, (b.x0+b.x1)/2)...)
		if t := clean(bar.Text); t != "" && textWidth(t) <= pitch/n {
			p.textIfFree(words, m.Tone, (b.x0+b.x1)/2, p.inY(tip)-4*px, middle, t)
		}
	}
	if whiskers != nil {
		p.open(Ink)
		p.path(thin, Ink, false, whiskers...)
		p.shut()
	}
}

// bar draws a bar of the k-th series. Where there are several they differ in
// their filling too: the first is light with an edge, the second full, the third
// only an edge.
func (p *plot) bar(t Tone, k int, b box) {
	switch {
	case len(p.barMarks) == 1 || k == 1 || k > 2:
		p.rect(fill, t, b)
	case k == 0:
		p.rect(edged, t, b)
	default:
		p.rect(hollow, t, b)
	}
}

// pitch is the distance of standing bars.
func (p *plot) pitch() length {
	if n := len(p.f.X.Categories); n > 0 {
		return (p.area.x1 - p.area.x0) / length(n)
	}
	least := p.area.x1 - p.area.x0
	for _, m := range p.barMarks {
		for i := 1; i < len(m.Bars); i++ {
			if d := p.x.at(m.Bars[i].At) - p.x.at(m.Bars[i-1].At); d > 0 {
				least = min(least, d)
			}
		}
	}
	return least
}

// whisker is the interval of a bar: a line with a cross stroke at each end.
func (p *plot) whisker(bar Bar, mid length) []run {
	if !(bar.Low < bar.High) {
		return nil
	}
	if p.lying {
		a, b := p.inX(bar.Low), p.inX(bar.High)
		return []run{{{a, mid}, {b, mid}}, {{a, mid - 3*px}, {a, mid + 3*px}}, {{b, mid - 3*px}, {b, mid + 3*px}}}
	}
	a, b := p.inY(bar.Low), p.inY(bar.High)
	return []run{{{mid, a}, {mid, b}}, {{mid - 3*px, a}, {mid + 3*px, a}}, {{mid - 3*px, b}, {mid + 3*px, b}}}
}

func (p *plot) histogram(m Histogram, top float64) {
	if !(top > 0) || len(m.Edges) != len(m.Share)+1 {
		return
	}
	tall := (p.area.y1 - p.area.y0) * 2 / 5
	var ring run
	ring = append(ring, spot{p.inX(m.Edges[0]), p.area.y1})
	for i, v := range m.Share {
		part := v / top
		if !(part > 0) {
			part = 0
		}
		y := p.area.y1 - length(math.Round(float64(part*float64(tall))))
		ring = append(ring, spot{p.inX(m.Edges[i]), y}, spot{p.inX(m.Edges[i+1]), y})
	}
	ring = append(ring, spot{p.inX(m.Edges[len(m.Share)]), p.area.y1})
	p.path(soft, m.Tone, true, simplify(ring))
}

func (p *plot) points(m Points) {
	for _, at := range m.At {
		if !p.x.holds(at.X) || !p.y.holds(at.Y) {
			continue
		}
		x, y := p.x.at(at.X), p.y.at(at.Y)
		if at.Low < at.High {
			p.segment(thin, m.Tone, x, p.inY(at.Low), x, p.inY(at.High))
		}
		p.marker(m.Tone, x, y, at.Chosen)
		away := 8 * px
		if at.Chosen {
			away = 10 * px
		}
		p.wanted = append(p.wanted, wanted{m.Tone, x, y, away, clean(at.Label), at.Chosen})
	}
}
