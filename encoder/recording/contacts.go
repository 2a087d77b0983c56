package recording

import (
	"bytes"
	"slices"
	"strings"
)

// contacts reads a trace of contact levels.
type contacts struct {
	*lines
	sep    byte
	header bool // the first line is still to be skipped
	odd    *Fault
	places int    // a time of 1 is 10^places ns
	slot   [3]int // which contact a column is
	width  int    // columns of contacts in a line

	fields  [4]field
	started bool
	origin  int64
	last    int64 // ns, with wrapped
	wrapped int64 // what a counter that wrapped around has lost
	level   [3]int8
	waiting [3]Event
	n, i    int
}

// newContacts reads columns and unit from the first lines.
func newContacts(l *lines, head []byte) *contacts {
	c := &contacts{lines: l, slot: [3]int{0, 1, 2}, places: -1, level: [3]int8{-1, -1, -1}}
	first, rest := "", head
	for first == "" || first[0] == '#' {
		var line []byte
		line, rest, _ = bytes.Cut(rest, []byte("\n"))
		first = strings.TrimSpace(string(line))
	}
	c.sep = separator(first)
	columns, _ := split([]byte(first), c.sep, make([]field, 0, len(c.fields)))
	c.width = len(columns) - 1
	if _, number := decimal(columns[0].text, 0, c.sep != ','); !number {
		c.header = true
		c.unit(strings.ToLower(string(columns[0].text)), columns[0].at)
		c.order(columns[1:])
	}
	if c.places < 0 {
		c.places = guess(head, c.sep)
	}
	return c
}

// unit reads the unit of the time from its header.
func (c *contacts) unit(name string, at int) {
	for _, word := range []string{"timestamp", "time", "t"} {
		if unit, ok := strings.CutPrefix(name, word); ok {
			name = unit
			break
		}
	}
	switch unit := strings.Trim(name, " _-[](){}"); unit {
	case "":
	case "s", "sec", "seconds":
		c.places = 9
	case "ms", "milliseconds":
		c.places = 6
	case "us", "µs", "μs", "microseconds", "micros":
		c.places = 3
	case "ns", "nanoseconds":
		c.places = 0
	default:
		c.odd = &Fault{Field: "time", Found: "the unit " + quote(unit), Want: "time_s, time_ms, time_us or time_ns would do"}
	}
}

var contactNames = [3]string{"a", "b", "push"}

// order takes columns that are named like contacts for what they say, and the
// others in turn.
func (c *contacts) order(columns []field) {
	var named, taken [3]bool
	for i, f := range columns {
		slot := slices.Index(contactNames[:], strings.ToLower(string(f.text)))
		if slot >= 0 && !taken[slot] {
			c.slot[i], named[i], taken[slot] = slot, true, true
		}
	}
	for i := range columns {
		if !named[i] {
			c.slot[i] = slices.Index(taken[:], false)
			taken[c.slot[i]] = true
		}
	}
}

// guess tells seconds from microseconds: a fraction or an exponent anywhere means
// seconds.
func guess(head []byte, sep byte) int {
	marks := ".eE"
	if sep != ',' {
		marks += ","
	}
	for line := range bytes.Lines(head) {
		t, _, _ := bytes.Cut(line, []byte{sep})
		if _, number := decimal(bytes.TrimSpace(t), 0, sep != ','); number && bytes.ContainsAny(t, marks) {
			return 9
		}
	}
	return 3
}

func level(b []byte) int8 {
	if len(b) == 1 && (b[0] == '0' || b[0] == '1') {
		return int8(b[0] - '0')
	}
	return -1
}

func (c *contacts) next() (Event, error) {
	for c.i == c.n {
		if err := c.lines.next(); err != nil {
			return Event{}, err
		}
		switch {
		case c.text[0] == '#':
		case c.header:
			c.header = false
			if c.odd != nil {
				return Event{}, c.at(0, c.odd)
			}
		default:
			if f := c.line(); f != nil {
				return Event{}, f
			}
		}
	}
	c.i++
	return c.waiting[c.i-1], nil
}

// wrap is where a 32-bit count of microseconds begins again, in ns.
const wrap = 1 << 32 * 1000

func (c *contacts) line() *Fault {
	f, ok := split(c.text, c.sep, c.fields[:0])
	if !ok || len(f) != c.width+1 {
		return c.at(-1, &Fault{Found: quote(c.text), Want: "a time and one 0 or 1 for each contact, as in the first line, would do"})
	}
	t, ok := decimal(f[0].text, c.places, c.sep != ',')
	if !ok || t > 1<<61 || t < -1<<61 {
		return c.at(f[0].at, &Fault{Field: "time", Found: quote(f[0].text), Want: "a number would do"})
	}
	now := c.level
	for i := range c.width {
		slot := c.slot[i]
		if now[slot] = level(f[i+1].text); now[slot] < 0 {
			return c.at(f[i+1].at, &Fault{Field: contactNames[slot], Found: quote(f[i+1].text), Want: "0 or 1 would do"})
		}
	}
	raw := t
	t += c.wrapped
	switch {
	case !c.started:
		c.started, c.origin = true, t
	case t < c.last && c.places == 3 && raw >= 0 && raw < wrap && c.last-t > wrap/2 && c.last-t <= wrap:
		t += wrap
		c.wrapped += wrap
	case t < c.last:
		return c.at(f[0].at, &Fault{Field: "time", Found: quote(f[0].text) + ", which is earlier than the line before",
			Want: "lines in the order of time would do"})
	}
	c.last = t
	c.i, c.n = 0, 0
	for i, name := range contactNames {
		if now[i] != c.level[i] {
			c.level[i] = now[i]
			c.waiting[c.n] = Event{Time: t - c.origin, Control: name, Kind: Level, N: int64(now[i])}
			c.n++
		}
	}
	return nil
}
