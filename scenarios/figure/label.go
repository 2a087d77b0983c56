package figure

import (
	"slices"
	"strings"
)

// tag is the name of a curve beside its end.
type tag struct {
	text   string
	tone   Tone
	at     XY
	y, end length // where it stands, and where the curve ends, both from the area's top
}

const tagIndent = 12 * px

// chooseTags decides whether the curves are named beside their ends: when there
// are few, they end at the right, and the names fit without moving far.
func (p *plot) chooseTags(height length) {
	p.direct = nil
	y := p.y
	y.a, y.b = height, 0
	var tags []tag
	seen := map[string]bool{}
	for _, m := range p.f.Marks {
		l, ok := m.(Line)
		name := clean(l.Name)
		if !ok || name == "" {
			continue
		}
		if seen[name] {
			return
		}
		seen[name] = true
		n := len(l.At)
		if n == 0 || p.x.part(min(l.At[n-1].X, p.x.hi)) < 0.85 || !p.y.holds(l.At[n-1].Y) {
			return
		}
		e := y.at(l.At[n-1].Y)
		tags = append(tags, tag{cut(name, p.w*30/100), l.Tone, l.At[n-1], e, e})
	}
	if len(tags) < 2 || length(len(tags))*lineStep > height {
		return
	}
	for i := range tags {
		for j := i; j > 0 && tags[j].end < tags[j-1].end; j-- {
			tags[j], tags[j-1] = tags[j-1], tags[j]
		}
	}
	spread(tags, height)
	for _, t := range tags {
		if d := t.y - t.end; d > 22*px || d < -22*px || textWidth(t.text) > p.w*27/100 {
			return
		}
	}
	p.direct = tags
}

// spread moves tags, sorted from the top, apart to a line's height, as little as
// can be: neighbours that would meet are centred on their common middle.
func spread(tags []tag, height length) {
	type block struct {
		sum, n length // of the wished places, less their rank in the block
		first  int
	}
	var blocks []block
	top := func(b block) length {
		y := b.sum / b.n
		return min(max(y, 0), height-(b.n-1)*lineStep)
	}
	for i, t := range tags {
		b := block{t.end, 1, i}
		for len(blocks) > 0 {
			before := blocks[len(blocks)-1]
			if top(before)+before.n*lineStep <= top(b) {
				break
			}
			b = block{before.sum + b.sum - before.n*b.n*lineStep, before.n + b.n, before.first}
			blocks = blocks[:len(blocks)-1]
		}
		blocks = append(blocks, b)
	}
	for _, b := range blocks {
		for k := length(0); k < b.n; k++ {
			tags[b.first+int(k)].y = top(b) + k*lineStep
		}
	}
}

// tags writes the names beside the ends of curves, with a leader where one had
// to move.
func (p *plot) tags() {
	for _, t := range p.direct {
		p.open(t.tone, attr{"data-tag", t.text})
		x := min(p.x.at(t.at.X), p.area.x1)
		y, e := p.area.y0+t.y, p.area.y0+t.end
		if d := y - e; d > 3*px || d < -3*px {
			p.path(thin, t.tone, false, run{{x + 2*px, e}, {p.area.x1 + tagIndent - 3*px, y}})
		}
		p.text(words, t.tone, p.area.x1+tagIndent, y+4*px, begin, t.text)
		p.shut()
	}
}

const kindOrder = "line point bar fill soft rule rug"

// entry is a name in the key above the figure.
type entry struct {
	kind   string
	tone   Tone
	name   string
	marked bool
	chosen bool // all its points are
	k      int  // which series of bars
}

// key writes the names of marks that are not named beside them, in rows from a
// height down, and returns where it ends.
func (p *plot) key(side, top length) length {
	var entries []entry
	bars := 0
	add := func(kind string, t Tone, name string, marked bool) {
		if name = clean(name); name == "" {
			return
		}
		e := entry{kind: kind, tone: t, name: name, marked: marked, k: bars}
		for _, o := range entries {
			if o.kind == kind && o.tone == t && o.name == name {
				return
			}
		}
		entries = append(entries, e)
	}
	for _, m := range p.f.Marks {
		switch m := m.(type) {
		case Line:
			if p.direct == nil {
				add("line", m.Tone, m.Name, m.Markers || p.dotted(m))
			}
		case Area:
			add("soft", m.Tone, m.Name, false)
		case Band:
			add("soft", m.Tone, m.Name, false)
		case Histogram:
			add("soft", m.Tone, m.Name, false)
		case Bars:
			add("bar", m.Tone, m.Name, false)
			bars++
		case Spans:
			add("fill", m.Tone, m.Name, false)
		case Rug:
			if len(m.At) > 0 {
				add("rug", m.Tone, m.Name, false)
			}
		case Points:
			if n := len(entries); !p.curved(m) {
				add("point", m.Tone, m.Name, true)
				if len(entries) > n {
					entries[n].chosen = !slices.ContainsFunc(m.At, func(at Point) bool { return !at.Chosen })
				}
			}
		}
	}
	if len(entries) == 0 {
		return top
	}
	// What is looked for first stands first: curves, then surfaces, then rugs.
	slices.SortStableFunc(entries, func(a, b entry) int { return strings.Index(kindOrder, a.kind) - strings.Index(kindOrder, b.kind) })
	x, y := side, top+13*px
	for _, e := range entries {
		swatch := 14 * px
		if e.kind == "line" {
			swatch = 26 * px
		}
		name := cut(e.name, p.w-2*side-swatch-gap)
		w := swatch + gap + textWidth(name)
		if x > side && x+w > p.w-side {
			x, y = side, y+lineStep+2*px
		}
		p.open(e.tone, attr{"data-key", name})
		mid := y - 4*px
		switch e.kind {
		case "line":
			p.segment(stroke, e.tone, x, mid, x+swatch, mid)
			if e.marked {
				p.marker(e.tone, x+swatch/2, mid, false)
			}
		case "soft":
			p.rect(soft, e.tone, box{x, mid - 5*px, x + swatch, mid + 5*px})
		case "fill":
			p.rect(fill, e.tone, box{x, mid - 5*px, x + swatch, mid + 5*px})
		case "bar":
			p.bar(e.tone, e.k, box{x, mid - 5*px, x + swatch, mid + 5*px})
		case "rule":
			p.segment(thin, e.tone, x, mid, x+swatch, mid)
		case "rug":
			p.path(thin, e.tone, false, run{{x + 2*px, mid - 4*px}, {x + 2*px, mid + 4*px}}, run{{x + 7*px, mid - 4*px}, {x + 7*px, mid + 4*px}}, run{{x + 12*px, mid - 4*px}, {x + 12*px, mid + 4*px}})
		case "point":
			p.marker(e.tone, x+swatch/2, mid, e.chosen)
		}
		p.text(words, e.tone, x+swatch+gap, y, begin, name)
		p.shut()
		x += w + 16*px
	}
	return y + 9*px
}

// dotted and curved tell whether a line has points of its name and tone, and
// points a line: the two are one thing, and named once.
func (p *plot) dotted(l Line) bool {
	return slices.ContainsFunc(p.f.Marks, func(m Mark) bool {
		q, ok := m.(Points)
		return ok && q.Name == l.Name && q.Tone == l.Tone
	})
}

func (p *plot) curved(q Points) bool {
	return slices.ContainsFunc(p.f.Marks, func(m Mark) bool {
		l, ok := m.(Line)
		return ok && l.Name == q.Name && l.Tone == q.Tone
	})
}

// marker draws the tone's marker.
func (p *plot) marker(t Tone, x, y length, chosen bool) {
	st, r := hollow, 35*px/10
	if chosen {
		st, r = fill, 55*px/10
	}
	poly := func(at ...spot) {
		for i := range at {
			at[i] = spot{x + at[i].x, y + at[i].y}
		}
		p.path(st, t, true, at)
	}
	switch tones[t].marker {
	case round:
		p.items = append(p.items, item{kind: disc, style: st, tone: t, x: x, y: y, r: r})
	case square:
		r = r * 9 / 10
		poly(spot{-r, -r}, spot{r, -r}, spot{r, r}, spot{-r, r})
	case triangle:
		poly(spot{0, -r * 12 / 10}, spot{r * 11 / 10, r * 8 / 10}, spot{-r * 11 / 10, r * 8 / 10})
	case tee:
		poly(spot{0, r * 12 / 10}, spot{r * 11 / 10, -r * 8 / 10}, spot{-r * 11 / 10, -r * 8 / 10})
	case diamond:
		r = r * 13 / 10
		poly(spot{0, -r}, spot{r, 0}, spot{0, r}, spot{-r, 0})
	case cross:
		p.path(stroke, t, false, run{{x - r, y - r}, {x + r, y + r}}, run{{x - r, y + r}, {x + r, y - r}})
	case plus:
		p.path(stroke, t, false, run{{x - r, y}, {x + r, y}}, run{{x, y - r}, {x, y + r}})
	case bar:
		p.path(stroke, t, false, run{{x, y - r}, {x, y + r}})
	}
}

// wanted is a text that is to stand near a place. Texts are written when every
// mark is drawn, so that they can keep clear of them.
type wanted struct {
	tone       Tone
	x, y, away length
	text       string
	must       bool
}

// labels writes the wanted texts, first those that must be read.
func (p *plot) labels() {
	for _, must := range []bool{true, false} {
		for _, w := range p.wanted {
			if w.must == must && w.text != "" {
				p.label(w)
			}
		}
	}
}

// label writes a text near its place where it meets no other text and crosses
// as few lines as can be. Where there is no such place beside it, a text that
// must be read moves further away, and another is left out.
func (p *plot) label(w wanted) {
	x, y, str := w.x, w.y, cut(w.text, p.w*45/100)
	rings, least := length(1), 1000
	if w.must {
		rings = 4
	}
	var best item
	for k := range rings {
		d := w.away + k*10*px
		for i, c := range []item{{x: x + d, y: y + 4*px, anchor: begin}, {x: x - d, y: y + 4*px, anchor: end},
			{x: x + d*3/4, y: y - d*3/4, anchor: begin}, {x: x, y: y - d, anchor: middle},
			{x: x, y: y + d + 9*px, anchor: middle}, {x: x - d*3/4, y: y - d*3/4, anchor: end},
			{x: x + d*3/4, y: y + d*3/4 + 9*px, anchor: begin}, {x: x - d*3/4, y: y + d*3/4 + 9*px, anchor: end}} {
			b := textBox(words, c.x, c.y, c.anchor, str)
			if b.y0 < p.area.y0-6*px || b.y1 > p.area.y1 || b.x0 < p.area.x0+px || b.x1 > p.w-2*px || !p.free(b.wider(px)) {
				continue
			}
			if cost := 12*p.crossings(b) + i + 9*int(k); cost < least {
				least, best = cost, c
			}
		}
	}
	if least < 1000 {
		p.open(w.tone, attr{"data-label", str})
		p.text(words, w.tone, best.x, best.y, best.anchor, str)
		p.shut()
	}
}

// crossings counts the lines and markers so far that a box would cover.
func (p *plot) crossings(b box) int {
	n := 0
	for i := range p.items {
		it := &p.items[i]
		switch {
		case it.kind == disc:
			if b.meets(box{it.x - it.r, it.y - it.r, it.x + it.r, it.y + it.r}) {
				n++
			}
		case it.kind == path && it.style != grid && it.style != soft:
			for _, r := range it.at {
				for j := 1; j < len(r); j++ {
					if _, _, ok := b.clip(r[j-1], r[j]); ok {
						n++
						break
					}
				}
			}
		}
	}
	return n
}
