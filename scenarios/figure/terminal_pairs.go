package figure

import "strings"

// pairs writes pairs as lines: a row's name, then for each measure where it lies and
// its numbers.
func (t *terminal) pairs(m Pairs) {
	names := 0
	for _, r := range m.Rows {
		names = max(names, cells(t.fold(r.Name)))
	}
	names = min(names, t.columns/4)
	numbers := make([]int, len(m.Columns))
	rest := t.columns - names
	text := func(x Pair) string {
		if x.Same {
			return t.fold(x.AfterText)
		}
		return t.fold(x.BeforeText) + " " + t.pen.arrow + " " + t.fold(x.AfterText)
	}
	for i, c := range m.Columns {
		for _, x := range c.Pairs {
			numbers[i] = min(max(numbers[i], cells(text(x))), (t.columns-names)/len(m.Columns)-2)
		}
		rest -= numbers[i] + 4
	}
	long := rest / max(1, len(m.Columns))
	gap := 2
	if long < 6 {
		long, gap = 0, 0 // no room for more than the numbers
	}
	pad := func(s string, n int) string {
		s = t.cut(s, n)
		return s + strings.Repeat(" ", n-cells(s))
	}
	line := pad("", names)
	for i, c := range m.Columns {
		line += "  " + pad(t.fold(c.Label), numbers[i]+gap+long)
	}
	t.line(line)
	before, after := t.pen.points[int(pairBefore)], t.pen.points[int(pairAfter)]
	same := t.pen.points[int(pairSame)]
	for k, r := range m.Rows {
		line := pad(t.fold(r.Name), names)
		for i := range m.Columns {
			c := &m.Columns[i]
			if k >= len(c.Pairs) {
				continue
			}
			if long == 0 {
				line += "  " + pad(text(c.Pairs[k]), numbers[i])
				continue
			}
			s := newSheet(long, 1)
			x, to := c.Pairs[k], scale{lo: 0, hi: c.most()}
			a, _ := column(to, x.After, long)
			if x.Same {
				s.set(a, 0, same)
			} else {
				b, _ := column(to, x.Before, long)
				for at := min(a, b); at <= max(a, b); at++ {
					s.set(at, 0, t.pen.level)
				}
				s.set(b, 0, before)
				s.set(a, 0, after)
			}
			if at, ok := column(to, c.Limit, long); ok && c.Limit > 0 {
				s.under(at, 0, t.pen.upright)
			}
			line += "  " + pad(text(x), numbers[i]) + "  " + strings.Join(s[0], "")
		}
		t.line(line)
	}
	key := ""
	for _, e := range []struct {
		sign rune
		name string
	}{{before, m.Before}, {after, m.After}, {same, m.Same}} {
		if e.name != "" {
			key += string(e.sign) + " " + t.fold(e.name) + "  "
		}
	}
	for _, c := range m.Columns {
		if c.Limit > 0 && c.Bound != "" {
			key += string(t.pen.upright) + " " + t.fold(c.Bound)
		}
	}
	t.line(t.cut(key, t.columns))
}
