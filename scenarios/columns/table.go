package columns

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"math"
	"strconv"
	"strings"

	"github.com/clipperhouse/displaywidth"
	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// Table is rows with as many cells as there are columns.
type Table struct {
	Columns []Column
	Rows    iter.Seq[[]Cell] // made anew whenever they are gone through
}

// Column is a column as people and as programs know it. People see those that are
// not Hidden; programs those that have Keys.
type Column struct {
	Head   string
	Keys   []string // of CSV and JSON, one for each value of a cell; names end in their unit
	Hidden bool
	Left   bool // aligned to the left, as the first is
}

// Cell is what stands in a column: text for people, values for programs. A value is
// a string, an int, an int64, a bool, a float64 (empty and null where it is not
// finite), a [Written] or nil.
type Cell struct {
	Text   string
	Values []any
}

// Written is a number that is written already, so that its digits stay.
type Written string

// Of returns a cell of values, the first of which people read as it is.
func Of(values ...any) Cell { return Cell{fmt.Sprint(values[0]), values} }

// plain is a table for people only.
func plain(header []string, rows [][]string) Table {
	var t Table
	for _, h := range header {
		t.Columns = append(t.Columns, Column{Head: h})
	}
	t.Rows = func(yield func([]Cell) bool) {
		for _, r := range rows {
			cells := make([]Cell, len(r))
			for i, s := range r {
				cells[i].Text = s
			}
			if !yield(cells) {
				return
			}
		}
	}
	return t
}

// seen returns what people see: the header and the rows.
func (t Table) seen() (header []string, rows [][]string) {
	pick := func(text func(i int) string) (row []string) {
		for i, c := range t.Columns {
			if !c.Hidden {
				s := text(i)
				indent := len(s) - len(strings.TrimLeft(s, " "))
				row = append(row, s[:indent]+line(s))
			}
		}
		return row
	}
	for r := range t.Rows {
		rows = append(rows, pick(func(i int) string { return r[i].Text }))
	}
	return pick(func(i int) string { return t.Columns[i].Head }), rows
}

// print writes the table for a terminal. What does not fit beside the rest stands in
// a table below, under the same first column.
func (t Table) print(w io.Writer, width int) error {
	const between = 2 // columns that tablewriter puts around a cell
	header, rows := t.seen()
	wide := make([]int, len(header))
	for i, h := range header {
		wide[i] = displaywidth.String(h)
		for _, r := range rows {
			wide[i] = max(wide[i], displaywidth.String(r[i]))
		}
		wide[i] += between
	}
	pick := func(row []string, columns []int) []string {
		some := make([]string, len(columns))
		for i, c := range columns {
			some[i] = row[c]
		}
		return some
	}
	for next := 1; next == 1 || next < len(header); {
		some, sum := []int{0}, wide[0]
		for ; next < len(header) && (len(some) == 1 || sum+wide[next]-1 <= width); next++ { // the last blank is not written
			some = append(some, next)
			sum += wide[next]
		}
		if next == 1 {
			next = 2 // there is no other column
		}
		var body [][]string
		for _, r := range rows {
			r = pick(r, some)
			if over := sum - 1 - width; over > 0 { // the first column gives way, down to a fifth of the line
				r[0] = Wrap(r[0], max(width/5, wide[0]-between-over))
			}
			body = append(body, r)
		}
		left := make([]bool, len(some))
		for i, c := range some {
			left[i] = c == 0 || t.shown(c).Left
		}
		if err := render(w, pick(header, some), body, left, tablewriter.WithRendition(tw.Rendition{
			Borders:  tw.Border{Left: tw.Off, Right: tw.Off, Top: tw.Off, Bottom: tw.Off},
			Settings: tw.Settings{Separators: tw.Separators{BetweenColumns: tw.Off}, Lines: tw.Lines{ShowHeaderLine: tw.Off}},
		})); err != nil {
			return err
		}
	}
	return nil
}

// markdown writes the table for a document.
func (t Table) markdown(w io.Writer) error {
	header, rows := t.seen()
	for _, r := range append([][]string{header}, rows...) {
		for i, s := range r {
			r[i] = escaped(s)
		}
	}
	left := make([]bool, len(header))
	for i := range left {
		left[i] = i == 0 || t.shown(i).Left
	}
	return render(w, header, rows, left, tablewriter.WithRenderer(renderer.NewMarkdown()))
}

// shown is the n-th column that people see.
func (t Table) shown(n int) Column {
	for _, c := range t.Columns {
		if !c.Hidden {
			if n--; n < 0 {
				return c
			}
		}
	}
	panic("there is no such column")
}

func render(w io.Writer, header []string, rows [][]string, left []bool, look tablewriter.Option) error {
	align := tw.CellAlignment{Global: tw.AlignRight}
	for _, l := range left {
		at := tw.AlignRight
		if l {
			at = tw.AlignLeft
		}
		align.PerColumn = append(align.PerColumn, at)
	}
	var whole strings.Builder
	t := tablewriter.NewTable(&whole, tablewriter.WithHeaderAutoFormat(tw.Off), tablewriter.WithTrimSpace(tw.Off),
		tablewriter.WithRowAlignmentConfig(align), tablewriter.WithHeaderAlignmentConfig(align), look)
	t.Header(header)
	for _, row := range rows {
		if err := t.Append(row); err != nil {
			return err
		}
	}
	if err := t.Render(); err != nil {
		return err
	}
	for line := range strings.Lines(whole.String()) {
		if _, err := io.WriteString(w, strings.TrimRight(line, " \n")+"\n"); err != nil {
			return err
		}
	}
	return nil
}

// CSV writes a line of keys and one for each row.
func (t Table) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	err := out.Write(t.keys())
	for r := range t.Rows {
		var line []string
		for _, v := range t.values(r) {
			line = append(line, field(v))
		}
		if err = cmp.Or(err, out.Write(line)); err != nil {
			return err
		}
	}
	out.Flush()
	return cmp.Or(err, out.Error())
}

// keys are what programs call the values of a row.
func (t Table) keys() (keys []string) {
	for _, c := range t.Columns {
		keys = append(keys, c.Keys...)
	}
	return keys
}

func (t Table) values(row []Cell) (values []any) {
	for i, c := range t.Columns {
		values = append(values, row[i].Values[:len(c.Keys)]...)
	}
	return values
}

// field writes a value for CSV.
func field(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case string:
		return guarded(v)
	case float64:
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	return fmt.Sprint(v)
}

// guarded makes one line of what somebody wrote, and keeps it from being taken for a
// formula by a spreadsheet.
func guarded(s string) string {
	if s = line(s); s != "" && strings.ContainsRune("=+-@|＝＋－＠", []rune(s)[0]) {
		return "'" + s
	}
	return s
}

// MarshalJSON writes the rows as objects, their keys in the order of the columns.
func (t Table) MarshalJSON() ([]byte, error) {
	keys, between := t.keys(), ""
	var out bytes.Buffer
	out.WriteByte('[')
	for r := range t.Rows {
		out.WriteString(between + "{")
		between = ","
		for i, v := range t.values(r) {
			switch x := v.(type) {
			case float64:
				if v = nil; field(x) != "" {
					v = json.Number(field(x))
				}
			case Written:
				v = json.Number(x)
			}
			text, err := json.Marshal(v)
			if err != nil {
				return nil, err
			}
			if i > 0 {
				out.WriteByte(',')
			}
			fmt.Fprintf(&out, "%q:%s", keys[i], text)
		}
		out.WriteByte('}')
	}
	out.WriteByte(']')
	return out.Bytes(), nil
}
