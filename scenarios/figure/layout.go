package figure

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
)

// plot is a figure while it is laid out.
type plot struct {
	*scene
	f        *Figure
	x, y     scale
	area     box    // where the marks are drawn
	rugs     length // height of the rows of rugs below it
	lying    bool   // the rows are categories
	above    bool   // the categories' names stand above their bars
	direct   []tag  // names beside the ends of curves
	wanted   []wanted
	barMarks []*Bars
	lanes    []lane // nil: the rows are alike
	row      length // of pairs; 0: as usual
}

const (
	rowHeight = 26 * px
	rugHeight = 13 * px
	gap       = 6 * px
)

// lay lays the figure out for a width in CSS pixels. A figure of its own
// carries its title and its caption.
func (f *Figure) lay(width float64, own bool) *scene {
	if !(width > 240) {
		width = 240
	}
	p := &plot{scene: &scene{w: length(math.Round(min(width, 2000))) * px}, f: f}
	side := length(0)
	if own {
		side = 12 * px
	}
	if m, ok := f.pairs(); ok {
		p.h = p.close(side, p.pairs(m, side, p.title(side, side, own)), own)
		return p.scene
	}
	p.scales()
	height := p.height()
	left, right := side+p.leftMargin(), p.w-side-p.rightMargin(height, side)
	top := p.title(side, side, own)
	top = p.key(side, top)
	if f.Y.Label != "" {
		for _, line := range regular().wrap(clean(f.Y.Label), textSize, p.w-2*side, 2) {
			top += 13 * px
			p.text(quiet, Quiet, side, top, begin, line)
			top += 3 * px
		}
	}
	top += 8 * px
	p.x.a, p.x.b = left, right
	if p.pack(left, right); p.lanes != nil {
		height = p.lanes[len(p.lanes)-1].bottom
	}
	p.area = box{left, top, right, top + height}
	p.y.a, p.y.b = top+height, top
	if len(f.Y.Categories) > 0 {
		p.y.a, p.y.b = top, top+height
	}
	bottom := p.axes(side)
	p.tags()
	p.marks()
	p.h = p.close(side, bottom, own)
	return p.scene
}

// title writes the title of a figure of its own and returns where it ends.
func (p *plot) title(side, top length, own bool) length {
	if !own || p.f.Title == "" {
		return top
	}
	top += 4 * px
	for _, line := range bold().wrap(clean(p.f.Title), titleSize, p.w-2*side, 3) {
		top += 15 * px
		p.text(heading, Ink, side, top, begin, line)
		top += 5 * px
	}
	return top + 4*px
}

// close writes the caption of a figure of its own and returns its height.
func (p *plot) close(side, bottom length, own bool) length {
	if own && p.f.Caption != "" {
		bottom += 6 * px
		for _, line := range regular().wrap(clean(p.f.Caption), textSize, p.w-2*side, 6) {
			bottom += 13 * px
			p.text(quiet, Quiet, side, bottom, begin, line)
			bottom += 3 * px
		}
	}
	return (bottom + side + 2*px + px - 1) / px * px
}

// scales settles the ends of both axes from what is given and from the marks.
func (p *plot) scales() {
	var r extent
	for _, m := range p.f.Marks {
		if b, ok := m.(Bars); ok {
			p.barMarks = append(p.barMarks, &b)
		}
	}
	p.lying = len(p.f.Y.Categories) > 0
	for _, m := range p.f.Marks {
		m.reach(&r)
		if b, ok := m.(Bars); ok {
			b.ends(&r, p.lying)
		}
	}
	p.x, p.y = scaleOf(&p.f.X, r.x), scaleOf(&p.f.Y, r.y)
	if x := &p.f.X; !p.lying && len(x.Categories) == 0 && !(x.Min < x.Max) && !x.Log {
		// Points and standing bars need room beside them.
		if pad := p.padding(); pad > 0 {
			if p.x.lo != 0 || !x.Zero {
				p.x.lo -= pad
			}
			p.x.hi += pad
		}
	}
	// The value axis ends on a tick, unless its ends were given.
	if y := &p.f.Y; len(y.Categories) == 0 && !(y.Min < y.Max) && !y.Log {
		d := finest(p.y.hi-p.y.lo, 5, y.Whole)
		step := d.value(1)
		p.y.lo = d.value(int(math.Floor(p.y.lo/step + 1e-9)))
		p.y.hi = d.value(int(math.Ceil(p.y.hi/step - 1e-9)))
	}
	if x := &p.f.X; p.lying && !(x.Min < x.Max) && !x.Log {
		d := finest(p.x.hi-p.x.lo, 8, x.Whole)
		if step := d.value(1); p.x.lo >= 0 {
			p.x.lo = d.value(int(math.Floor(p.x.lo/step + 1e-9)))
		}
	}
}

// padding is how much further than its marks the X axis reaches.
func (p *plot) padding() float64 {
	for _, m := range p.f.Marks {
		if _, ok := m.(Points); ok {
			return (p.x.hi - p.x.lo) / 32
		}
	}
	pad := 0.0
	for _, m := range p.barMarks {
		for i := 1; i < len(m.Bars); i++ {
			if d := m.Bars[i].At - m.Bars[i-1].At; d > 0 && (pad == 0 || d/2 < pad) {
				pad = d / 2
			}
		}
	}
	return pad
}

// height is that of the area of the marks.
func (p *plot) height() length {
	p.rugs = 0
	for _, m := range p.f.Marks {
		if r, ok := m.(Rug); ok && len(r.At) > 0 {
			p.rugs += rugHeight
		}
	}
	if !p.lying {
		return min(max(p.w*42/100, 190*px), 300*px)
	}
	row := rowHeight
	if n := length(len(p.barMarks)); n > 1 {
		row = 10*px + n*14*px
	}
	if p.above = p.names() > p.w*38/100; p.above {
		row += lineStep
	}
	return row * length(len(p.f.Y.Categories))
}

// names is the width of the longest category.
func (p *plot) names() length {
	var w length
	for _, c := range p.f.Y.Categories {
		w = max(w, textWidth(clean(c)))
	}
	return w
}

func (p *plot) leftMargin() length {
	if p.lying {
		if p.above {
			return 2 * px
		}
		return p.names() + gap + 2*px
	}
	var w length
	for _, t := range p.yTicks() {
		w = max(w, textWidth(t.Label))
	}
	return w + gap
}

// rightMargin leaves room for the names of curves or the numbers of bars, and
// otherwise for half a tick label.
func (p *plot) rightMargin(height, side length) length {
	room := 14 * px
	if p.lying {
		for _, b := range p.barMarks {
			for _, bar := range b.Bars {
				room = max(room, textWidth(clean(bar.Text))+10*px)
			}
		}
		return min(room, p.w*40/100)
	}
	p.chooseTags(height)
	for _, t := range p.direct {
		room = max(room, textWidth(t.text)+tagIndent+2*px)
	}
	return room
}

func (p *plot) yTicks() []Tick {
	if p.f.Y.Ticks != nil {
		return p.given(&p.f.Y, p.y)
	}
	if p.y.log {
		if t := p.y.logTicks(true); len(t) <= 9 {
			return t
		}
		return p.y.logTicks(false)
	}
	return p.y.ticks(finest(p.y.hi-p.y.lo, 6, p.f.Y.Whole))
}

// given are the ticks that the figure names, with their labels.
func (p *plot) given(a *Axis, s scale) []Tick {
	var out []Tick
	for _, t := range a.Ticks {
		if !s.holds(t.At) {
			continue
		}
		t.Label = cut(clean(t.Label), max(p.w, 240*px)*30/100) // a terminal is narrower in pixels; it cuts by itself
		if t.Label == "" {
			t.Label = plainNumber(t.At)
		}
		out = append(out, t)
	}
	slices.SortStableFunc(out, func(a, b Tick) int { return cmp.Compare(a.At, b.At) })
	return out
}

// axes draws the grid, ticks and names of both axes and returns where they end
// below.
func (p *plot) axes(side length) length {
	a := p.area
	floor := a.y1 + p.rugs
	if !p.lying {
		p.open(Quiet, p.measure("y", p.y)...)
		for _, t := range p.yTicks() {
			y := p.y.at(t.At)
			p.segment(grid, Quiet, a.x0, y, a.x1, y)
			p.textIfFree(quiet, Quiet, a.x0-gap, y+4*px, end, t.Label)
		}
		p.shut()
	}
	p.open(Quiet, p.measure("x", p.x)...)
	bottom := floor
	if n := len(p.f.X.Categories); n > 0 {
		p.segment(axis, Quiet, a.x0, floor, a.x1, floor)
		bottom = p.columnNames(floor)
	} else {
		if !p.lying || len(p.barMarks) == 0 {
			p.segment(axis, Quiet, a.x0, floor, a.x1, floor)
		}
		for _, t := range p.xTicks() {
			x := p.x.at(t.At)
			if p.lying {
				p.segment(grid, Quiet, x, a.y0, x, floor)
			}
			p.segment(axis, Quiet, x, floor, x, floor+4*px)
			if b := textBox(quiet, x, floor+17*px, middle, t.Label); t.Label != "" {
				p.textIfFree(quiet, Quiet, x+max(0, -b.x0)-max(0, b.x1-p.w), floor+17*px, middle, t.Label)
			}
		}
		if p.lying && len(p.barMarks) > 0 && p.x.holds(0) {
			p.segment(axis, Quiet, p.x.at(0), a.y0, p.x.at(0), floor)
		}
		bottom = floor + 20*px
	}
	if p.f.X.Label != "" {
		for _, line := range regular().wrap(clean(p.f.X.Label), textSize, a.x1-side, 2) {
			bottom += 14 * px
			p.text(quiet, Quiet, a.x1, bottom, end, line)
			bottom += 2 * px
		}
	}
	p.shut()
	if p.lying {
		var measure []attr
		if p.lanes == nil {
			measure = p.measure("y", p.y)
		}
		p.open(Ink, measure...)
		p.rowNames(side)
		p.shut()
	}
	return bottom
}

// rowNames writes the categories, beside or above their rows.
func (p *plot) rowNames(side length) {
	n := length(len(p.f.Y.Categories))
	row := (p.area.y1 - p.area.y0) / n
	for i, c := range p.f.Y.Categories {
		top := p.area.y0 + length(i)*row
		if p.lanes != nil {
			l := p.lanes[i]
			top, row = p.area.y0+l.top, l.bottom-l.top
			if l.head != "" {
				p.text(words, l.tone, side, top-5*px, begin, l.head)
			}
		}
		if i > 0 && len(p.barMarks) == 0 && (p.lanes == nil || p.lanes[i].head == "") {
			p.segment(grid, Quiet, p.area.x0, top, p.area.x1, top)
		}
		if p.above {
			p.text(words, Ink, p.area.x0+3*px, top+13*px, begin, cut(clean(c), p.w-p.area.x0-3*px-side))
		} else {
			p.text(words, Ink, p.area.x0-gap-2*px, top+row/2+4*px, end, cut(clean(c), p.area.x0-gap))
		}
	}
}

// columnNames writes the categories below their columns, and every other one a
// line lower where they would otherwise be too wide; it returns where they end.
func (p *plot) columnNames(floor length) length {
	n := length(len(p.f.X.Categories))
	wide := (p.area.x1-p.area.x0)/n - 3*px
	lower, lines := length(0), 3
	for _, c := range p.f.X.Categories {
		for _, word := range strings.Fields(clean(c)) {
			if textWidth(word) > wide {
				wide, lower, lines = 2*((p.area.x1-p.area.x0)/n)-4*px, 14*px, 1
				break
			}
		}
		if lower > 0 {
			break
		}
	}
	bottom := floor
	for i, c := range p.f.X.Categories {
		x, y := p.x.at(float64(i)), floor+2*px+length(i%2)*lower
		if i%2 == 1 && lower > 0 {
			p.segment(grid, Quiet, x, floor, x, y+3*px)
		}
		for _, line := range regular().wrap(clean(c), textSize, min(wide, 2*min(x, p.w-x)), lines) {
			y += 14 * px
			p.text(quiet, Quiet, x, y, middle, line)
		}
		bottom = max(bottom, y+3*px)
	}
	return bottom
}

// xTicks chooses the finest ticks whose labels stand clear of each other.
func (p *plot) xTicks() []Tick {
	if p.f.X.Ticks != nil {
		return p.clear(p.given(&p.f.X, p.x), true)
	}
	if p.x.log {
		if t := p.clear(p.x.logTicks(true), false); t != nil {
			return t
		}
		return p.clear(p.x.logTicks(false), true)
	}
	d := finest(p.x.hi-p.x.lo, 10, p.f.X.Whole)
	for {
		if t := p.x.ticks(d); len(t) == 0 || p.clear(t, false) != nil {
			return t
		}
		d = d.coarser()
	}
}

// clear takes the labels away that stand too near to the one before; where none
// may be missing it returns nil instead.
func (p *plot) clear(ticks []Tick, drop bool) []Tick {
	edge := length(-1 << 30)
	for i := range ticks {
		b := textBox(quiet, p.x.at(ticks[i].At), 0, middle, ticks[i].Label)
		// The first and the last are moved into the picture.
		if b.x0 < 0 {
			b.x1 -= b.x0
			b.x0 = 0
		}
		if b.x1 > p.w {
			b.x0 -= b.x1 - p.w
		}
		if b.x0 < edge+8*px {
			if !drop {
				return nil
			}
			ticks[i].Label = ""
			continue
		}
		edge = b.x1
	}
	return ticks
}

// measure writes down where an axis lies, so that values can be read back.
func (p *plot) measure(name string, s scale) []attr {
	out := []attr{{"data-axis", name},
		{"data-min", strconv.FormatFloat(s.lo, 'g', 12, 64)}, {"data-max", strconv.FormatFloat(s.hi, 'g', 12, 64)},
		{"data-from", s.a.svg()}, {"data-to", s.b.svg()}}
	if s.log {
		out = append(out, attr{"data-scale", "log"})
	}
	return out
}
