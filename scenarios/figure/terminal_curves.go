package figure

import (
	"math"
	"slices"
	"strings"
)

// curves draws everything that has numbers on both axes.
func (t *terminal) curves() {
	p := t.plot
	rows := 16
	if t.columns < 60 {
		rows = 12
	}
	var ticks []Tick
	switch a := &t.f.Y; {
	case a.Ticks != nil:
		ticks = p.given(a, p.y)
	case a.Log:
		ticks = p.y.logTicks(false)
	default:
		ticks = p.y.ticks(finest(p.y.hi-p.y.lo, 5, a.Whole))
	}
	labels := make([]string, rows)
	wide := 1
	for _, k := range ticks {
		if y, ok := column(p.y, k.At, rows); ok {
			labels[rows-1-y] = t.cut(t.fold(k.Label), t.columns/4)
			wide = max(wide, cells(labels[rows-1-y]))
		}
	}
	long := t.columns - wide - 2
	s := newSheet(long, rows)
	d := &drawing{terminal: t, sheet: s, long: long, rows: rows}
	// What lies above is drawn first; the rest only fills what is free.
	for i := len(t.f.Marks) - 1; i >= 0; i-- {
		d.sharp(t.f.Marks[i])
	}
	for _, m := range t.f.Marks {
		d.text(m)
	}
	for i := len(t.f.Marks) - 1; i >= 0; i-- {
		d.broad(t.f.Marks[i])
	}
	if label := t.fold(t.f.Y.Label); label != "" {
		t.line(t.cut(label, t.columns))
	}
	for y, row := range s {
		edge := t.pen.upright
		if labels[y] != "" && !t.pen.ascii {
			edge = '┤'
		}
		t.line(strings.Repeat(" ", wide-cells(labels[y])) + labels[y] + " " + string(edge) + strings.Join(row, ""))
	}
	for _, m := range t.f.Marks {
		if r, ok := m.(Rug); ok && len(r.At) > 0 {
			strip := newSheet(long, 1)
			for _, v := range r.At {
				if x, ok := column(p.x, v, long); ok {
					strip.set(x, 0, t.pen.rug)
				}
			}
			t.line(strings.Repeat(" ", wide+1) + string(t.pen.upright) + strings.Join(strip[0], ""))
		}
	}
	t.ticksBelow(wide+2, long)
	for _, m := range t.f.Marks {
		d.name(m)
	}
}

// drawing is the field of a plot of curves.
type drawing struct {
	*terminal
	sheet
	long, rows int
}

func (d *drawing) place(v XY) (x, y int, ok bool) {
	x, inX := column(d.plot.x, v.X, d.long)
	y, inY := column(d.plot.y, v.Y, d.rows)
	return x, d.rows - 1 - y, inX && inY
}

func (d *drawing) sign(t Tone) rune { return d.pen.points[(int(t)+7)%8] }

// sharp draws curves and points.
func (d *drawing) sharp(m Mark) {
	switch m := m.(type) {
	case Line:
		before := -1
		for x := range d.long {
			v, ok := d.value(m.At, m.Step, x)
			row, inside := column(d.plot.y, v, d.rows)
			if !ok || !inside {
				before = -1
				continue
			}
			y := d.rows - 1 - row
			if before >= 0 {
				for k := min(before, y) + 1; k < max(before, y); k++ {
					d.under(x, k, d.sign(m.Tone))
				}
			}
			d.under(x, y, d.sign(m.Tone))
			before = y
		}
	case Points:
		for _, v := range m.At {
			x, y, ok := d.place(XY{v.X, v.Y})
			if !ok {
				continue
			}
			sign := d.sign(m.Tone)
			if v.Chosen {
				sign = d.pen.chosen
			}
			d.set(x, y, sign)
		}
	}
}

// text writes labels and notes where a place beside them is free.
func (d *drawing) text(m Mark) {
	write := func(at XY, label string) {
		x, y, ok := d.place(at)
		if label = d.cut(d.fold(label), d.long/2); !ok || label == "" {
			return
		}
		for _, at := range [][2]int{{x + 2, y}, {x - 1 - cells(label), y}, {x + 1, y - 1}, {x + 1, y + 1}, {x - cells(label), y + 1}, {x - cells(label), y - 1},
			{x + 3, y - 1}, {x + 3, y + 1}, {x + 2, y - 2}, {x + 2, y + 2}} {
			if d.write(at[0], at[1], label) {
				return
			}
		}
	}
	if m, ok := m.(Points); ok {
		for _, v := range m.At {
			write(XY{v.X, v.Y}, v.Label)
		}
	}
}

// broad fills surfaces where nothing else is.
func (d *drawing) broad(m Mark) {
	cell := func(x int) float64 { return d.plot.x.back(x, d.long) }
	switch m := m.(type) {
	case Area:
		for x := range d.long {
			hi, ok := d.value(m.Upper, m.Step, x)
			lo := d.plot.y.lo
			if len(m.Lower) > 0 {
				var ok2 bool
				lo, ok2 = d.value(m.Lower, m.Step, x)
				ok = ok && ok2
			}
			if ok {
				d.fill(x, x, lo, hi, d.pen.soft)
			}
		}
	case Histogram:
		top := 0.0
		for _, v := range m.Share {
			top = max(top, v)
		}
		for x := range d.long {
			for i := range m.Share {
				if len(m.Edges) == len(m.Share)+1 && m.Edges[i] <= cell(x) && cell(x) < m.Edges[i+1] {
					for k := range int(math.Round(float64(m.Share[i] / top * float64(d.rows*2/5)))) {
						d.under(x, d.rows-1-k, d.pen.soft)
					}
				}
			}
		}
	case Band:
		if m.OnX {
			for x := range d.long {
				if m.From <= cell(x) && cell(x) <= m.To {
					d.fill(x, x, d.plot.y.lo, d.plot.y.hi, d.pen.soft)
				}
			}
			return
		}
		d.fill(0, d.long-1, m.From, m.To, d.pen.band)
	}
}

// fill fills columns between two values, at least one row.
func (d *drawing) fill(x0, x1 int, lo, hi float64, sign rune) {
	if hi < lo {
		lo, hi = hi, lo
	}
	if hi < d.plot.y.lo || lo > d.plot.y.hi {
		return
	}
	a, _ := column(d.plot.y, max(lo, d.plot.y.lo), d.rows)
	b, _ := column(d.plot.y, min(hi, d.plot.y.hi), d.rows)
	for x := x0; x <= x1; x++ {
		for y := a; y <= b; y++ {
			d.under(x, d.rows-1-y, sign)
		}
	}
}

// value is that of a curve at a column.
func (d *drawing) value(at []XY, step bool, x int) (float64, bool) {
	v := d.plot.x.back(x, d.long)
	// The last point at or before the column.
	i, j := 0, len(at)
	for i < j {
		if m := (i + j) / 2; at[m].X <= v {
			i = m + 1
		} else {
			j = m
		}
	}
	switch {
	case i == 0:
		return 0, false
	case i == len(at):
		// A curve that ends within the column is still in it.
		if last := at[i-1]; d.plot.x.back(x-1, d.long) < last.X {
			return last.Y, !math.IsNaN(last.Y)
		}
		return 0, false
	}
	a, b := at[i-1], at[i]
	if step || a.X == b.X {
		return a.Y, !math.IsNaN(a.Y)
	}
	y := a.Y + float64((b.Y-a.Y)*float64((v-a.X)/(b.X-a.X)))
	return y, !math.IsNaN(y)
}

// back is the value in the middle of a column.
func (s scale) back(x, columns int) float64 {
	p := float64(x) / float64(columns-1)
	if s.log {
		return s.lo * math.Pow(s.hi/s.lo, p)
	}
	return s.lo + float64(p*(s.hi-s.lo))
}

// name adds a mark to the key.
func (d *drawing) name(m Mark) {
	switch m := m.(type) {
	case Line:
		d.legendFor(string(d.sign(m.Tone)), m.Name)
	case Points:
		sign := d.sign(m.Tone)
		if !slices.ContainsFunc(m.At, func(at Point) bool { return !at.Chosen }) {
			sign = d.pen.chosen
		}
		d.legendFor(string(sign), m.Name)
	case Area:
		d.legendFor(string(d.pen.soft), m.Name)
	case Histogram:
		d.legendFor(string(d.pen.soft), m.Name)
	case Band:
		if m.OnX {
			d.legendFor(string(d.pen.soft), m.Name)
			return
		}
		d.legendFor(string(d.pen.band), m.Name)
	case Rug:
		if len(m.At) > 0 {
			d.legendFor(string(d.pen.rug), m.Name)
		}
	}
}
