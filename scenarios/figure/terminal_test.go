package figure

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestTextKeepsToItsColumns(t *testing.T) {
	check := func(f *Figure, columns int, utf8 bool) {
		t.Helper()
		text := f.Text(columns, utf8)
		for _, line := range strings.Split(text, "\n") {
			if cells(line) > columns {
				t.Fatalf("%d columns: %q", cells(line), line)
			}
			if !utf8 && strings.IndexFunc(line, func(r rune) bool { return r < ' ' || r > '~' }) >= 0 {
				t.Fatalf("not ASCII: %q", line)
			}
		}
		if !strings.HasSuffix(text, "\n") {
			t.Fatalf("ends without a line: %q", text)
		}
	}
	for _, f := range append(samples(), hostile()) {
		for columns := 40; columns < 130; columns++ {
			check(f, columns, columns%2 == 0)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		check(anyFigure(r), rapid.IntRange(40, 120).Draw(r, "columns"), rapid.Bool().Draw(r, "utf8"))
	})
}

func TestTextDrawsACurveWhereItIs(t *testing.T) {
	f := &Figure{X: Axis{Min: 0, Max: 10}, Y: Axis{Min: 0, Max: 15}, Marks: []Mark{Line{Name: "l", At: []XY{{0, 0}, {10, 15}}}}}
	lines := strings.Split(f.Text(80, false), "\n")
	// Sixteen rows, from 15 down to 0, of a straight line.
	for i := range 16 {
		at := strings.LastIndexByte(lines[i], '~')
		left := strings.IndexByte(lines[i], '|')
		long := 80 - left - 1
		want := left + 1 + int(float64(15-i)/15*float64(long-1)+0.5)
		if at < want-3 || at > want+3 {
			t.Errorf("row %d: the curve is at %d, not %d: %q", i, at, want, lines[i])
		}
	}
}
