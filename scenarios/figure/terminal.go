package figure

import (
	"strings"

	"github.com/clipperhouse/displaywidth"
)

// Text draws the figure with characters, at most so many columns wide (at least
// 40), with lines that end in a newline. Without utf8 it is plain ASCII. Names
// of curves stand below, each with the character that draws it.
func (f *Figure) Text(columns int, utf8 bool) string {
	columns = min(max(columns, 40), 400)
	t := &terminal{f: f, columns: columns, pen: asciiPen}
	if utf8 {
		t.pen = unicodePen
	}
	t.plot = &plot{scene: &scene{w: length(columns)}, f: f}
	t.plot.scales()
	for _, line := range t.wrap(f.Title, columns) {
		t.line(line)
	}
	pairs, paired := f.pairs()
	switch {
	case paired:
		t.pairs(pairs)
		return t.out.String()
	case t.plot.lying && len(t.plot.barMarks) == 0:
		t.lanes()
	case len(t.plot.barMarks) > 0:
		t.rows()
	default:
		t.curves()
	}
	t.key()
	return t.out.String()
}

// pen is the set of characters that a terminal can show.
type pen struct {
	ascii                     bool
	points                    []rune // of the series, in the order of tones
	full, soft, band, level   rune
	upright, corner, tick     rune
	left, right, whisker, rug rune
	chosen                    rune
	eighths                   []rune // ends of bars
	arrow                     string
}

var (
	asciiPen = pen{ascii: true, points: []rune("*o+x#@%~"), full: '#', soft: '.', band: '=', level: '-', upright: '|', corner: '+', tick: '+',
		left: '|', right: '|', whisker: '-', rug: '|', chosen: '@', arrow: "->"}
	unicodePen = pen{points: []rune("●■▲◆▼✕✚○"), full: '█', soft: '░', band: '▒', level: '─', upright: '│', corner: '└', tick: '┬',
		left: '├', right: '┤', whisker: '─', rug: '╵', chosen: '◉', eighths: []rune(" ▏▎▍▌▋▊▉"), arrow: "→"}
)

type terminal struct {
	f       *Figure
	plot    *plot
	columns int
	pen     pen
	out     strings.Builder
	legend  []string
}

// fold writes a name with the characters that the terminal has.
func (t *terminal) fold(s string) string {
	s = clean(s)
	if !t.pen.ascii {
		return s
	}
	s = toASCII.Replace(s)
	return strings.Map(func(r rune) rune {
		if r > 126 {
			return '?'
		}
		return r
	}, s)
}

var toASCII = strings.NewReplacer("−", "-", "–", "-", "—", "-", "…", "...", "[°]", "[deg]", "°", " deg", "±", "+/-", "≥", ">=", "≤", "<=", "×", "x", "µ", "u",
	"\u2009", "", "\u00a0", " ", "‘", "'", "’", "'", "“", `"`, "”", `"`, "·", ".")

// cells is how many columns a text takes.
func cells(s string) int {
	n := 0
	for _, r := range s {
		n += displaywidth.Rune(r)
	}
	return n
}

// cut shortens a text to a number of columns.
func (t *terminal) cut(s string, most int) string {
	if cells(s) <= most {
		return s
	}
	dots := "…"
	if t.pen.ascii {
		dots = "..."
	}
	n, out := cells(dots), ""
	for _, r := range s {
		if n += displaywidth.Rune(r); n > most {
			break
		}
		out += string(r)
	}
	return strings.TrimRight(out, " ") + dots
}

func (t *terminal) wrap(s string, columns int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(t.fold(s)) {
		word = t.cut(word, columns)
		switch {
		case line == "":
			line = word
		case cells(line)+1+cells(word) > columns:
			if len(out) == 4 {
				return append(out, t.cut(line+" "+word, columns))
			}
			out, line = append(out, line), word
		default:
			line += " " + word
		}
	}
	if line == "" {
		return out
	}
	return append(out, line)
}

func (t *terminal) line(s string) { t.out.WriteString(strings.TrimRight(s, " ") + "\n") }

// column places a value of an axis on so many columns (or rows), or tells that
// it lies outside.
func column(s scale, v float64, columns int) (int, bool) {
	if !s.holds(v) {
		return 0, false
	}
	s.a, s.b = 0, length(columns-1)*100
	return int((s.at(v) + 50) / 100), true
}

// ticksBelow writes the marks and numbers of the X axis.
func (t *terminal) ticksBelow(indent, columns int) {
	a := &t.f.X
	p := t.plot
	marks, labels := newSheet(columns, 1), newSheet(columns+indent, 1)
	for i := range columns {
		marks.set(i, 0, t.pen.level)
	}
	var ticks []Tick
	switch {
	case a.Ticks != nil:
		for _, k := range a.Ticks {
			if k.Label == "" {
				k.Label = plainNumber(k.At)
			}
			ticks = append(ticks, k)
		}
	case a.Log:
		ticks = p.x.logTicks(false)
	default:
		ticks = p.x.ticks(finest(p.x.hi-p.x.lo, max(2, columns/9), a.Whole))
	}
	for _, k := range ticks {
		x, ok := column(p.x, k.At, columns)
		if !ok {
			continue
		}
		label := t.fold(k.Label)
		at := min(max(0, x+indent-cells(label)/2), columns+indent-cells(label))
		if at == 0 || labels.blank(at-1, 0) {
			labels.write(at, 0, label)
		}
		marks.set(x, 0, t.pen.tick)
	}
	t.line(strings.Repeat(" ", indent-1) + string(t.pen.corner) + strings.Join(marks[0], ""))
	t.line(strings.Join(labels[0], ""))
	if label := t.fold(a.Label); label != "" {
		label = t.cut(label, columns+indent)
		t.line(strings.Repeat(" ", columns+indent-cells(label)) + label)
	}
}

// key writes what the characters stand for, several to a line.
func (t *terminal) key() {
	line := ""
	for _, k := range t.legend {
		k = t.cut(k, t.columns)
		if line != "" && cells(line)+3+cells(k) > t.columns {
			t.line(line)
			line = ""
		}
		if line != "" {
			line += "   "
		}
		line += k
	}
	if line != "" {
		t.line(line)
	}
}

// legendFor adds an entry to the key, once.
func (t *terminal) legendFor(sign string, name string) {
	name = t.fold(name)
	if name == "" {
		return
	}
	entry := sign + " " + name
	for _, e := range t.legend {
		if e == entry {
			return
		}
	}
	t.legend = append(t.legend, entry)
}

// rows draws bars as rows, those of a category below each other.
func (t *terminal) rows() {
	p := t.plot
	names, value := t.f.Y.Categories, p.x
	if !p.lying {
		// Standing bars lie down.
		value = p.y
		names = t.f.X.Categories
	}
	name := func(at float64) string {
		if i := int(at); len(names) > 0 {
			if i < 0 || i >= len(names) {
				return ""
			}
			return t.fold(names[i])
		}
		return t.fold(plainNumber(at))
	}
	wide, room := 0, 0
	var places []float64
	for _, m := range p.barMarks {
		for _, b := range m.Bars {
			wide, room = max(wide, cells(name(b.At))), max(room, cells(t.fold(b.Text))+1)
			places = append(places, b.At)
		}
	}
	wide, room = min(wide, t.columns*2/5), min(room, t.columns/4)
	long := t.columns - wide - 2 - room
	if label := t.f.X.Label; !p.lying && label != "" {
		t.line(t.cut(t.fold(label), t.columns))
	}
	seen := map[float64]bool{}
	for _, at := range places {
		if seen[at] {
			continue
		}
		seen[at] = true
		label := t.cut(name(at), wide)
		for k, m := range p.barMarks {
			for _, b := range m.Bars {
				if b.At != at {
					continue
				}
				t.line(strings.Repeat(" ", wide-cells(label)) + label + " " + string(t.pen.upright) + t.bar(b, m, k, value, long))
				label = ""
			}
		}
	}
	if !p.lying {
		// The axis below is that of the values.
		flat := *t.f
		flat.X = t.f.Y
		t.f = &flat
		p.x = value
	}
	t.ticksBelow(wide+2, long)
}

// bar draws one bar with its whisker and its number.
func (t *terminal) bar(b Bar, m *Bars, k int, s scale, long int) string {
	row := newSheet(long, 1)
	ink := t.pen.full
	if len(t.plot.barMarks) > 1 {
		signs := []rune{t.pen.soft, t.pen.full, t.pen.band}
		ink = signs[min(k, 2)]
		t.legendFor(strings.Repeat(string(ink), 2), m.Name)
	}
	from, to := min(b.From, b.Value), max(b.From, b.Value)
	s.a, s.b = 0, length(long)*8
	x0, x1 := max(s.at(from), 0), min(s.at(to), length(long)*8)
	for x := x0 / 8; x < x1/8; x++ {
		row.set(int(x), 0, ink)
	}
	if rest := x1 % 8; x1 == x0 {
		// Nothing: not even the part of a character.
	} else if rest > 0 && t.pen.eighths != nil && ink == t.pen.full {
		row.set(int(x1/8), 0, t.pen.eighths[rest])
	} else if rest >= 4 {
		row.set(int(x1/8), 0, ink)
	}
	tip := int((x1 + 7) / 8)
	if b.Low < b.High {
		a, _ := column(s, max(b.Low, s.lo), long)
		z, ok := column(s, b.High, long)
		if ok {
			for x := a + 1; x < z; x++ {
				row.set(x, 0, t.pen.whisker)
			}
			row.set(a, 0, t.pen.left)
			row.set(z, 0, t.pen.right)
			tip = max(tip, z+1)
		}
	}
	text := t.fold(b.Text)
	if text == "" {
		return strings.Join(row[0], "")
	}
	return strings.Join(row[0][:min(max(tip, 0), long)], "") + " " + t.cut(text, t.columns/4-1)
}

// lanes draws the lanes of a turn.
func (t *terminal) lanes() {
	p := t.plot
	wide := 0
	for _, c := range t.f.Y.Categories {
		wide = max(wide, cells(t.fold(c)))
	}
	wide = min(wide, t.columns/3)
	long := t.columns - wide - 2
	s := newSheet(long, len(t.f.Y.Categories))
	signs := newSheet(long, len(t.f.Y.Categories)) // above the stretches; where several meet, the first
	for _, m := range t.f.Marks {
		spans, ok := m.(Spans)
		if !ok {
			continue
		}
		for _, v := range spans.Spans {
			x0, ok := column(p.x, v.From, long)
			if !ok {
				continue
			}
			x1, _ := column(p.x, min(v.To, p.x.hi), long)
			sign := t.pen.upright
			if l := []rune(t.fold(v.Letter)); len(l) == 1 || len(l) > 1 && l[1] == ' ' { // what a click does stands beside its letter
				sign = l[0]
			}
			for x := x0; x <= x1; x++ {
				s.under(x, v.Lane, t.pen.band)
			}
			signs.under(x0, v.Lane, sign)
		}
	}
	for y := range signs {
		for x, sign := range signs[y] {
			if sign != " " {
				s[y][x] = sign
			}
		}
	}
	for i, c := range t.f.Y.Categories {
		for _, h := range t.f.Y.Heads {
			if h.Lane == i {
				t.line(t.cut(t.fold(h.Text), t.columns))
			}
		}
		c = t.cut(t.fold(c), wide)
		t.line(strings.Repeat(" ", wide-cells(c)) + c + " " + string(t.pen.upright) + strings.Join(s[i], ""))
	}
	t.ticksBelow(wide+2, long)
}
