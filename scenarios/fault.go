package scenarios

import (
	"strconv"
	"strings"
	"unicode"
)

// Fault is one thing that makes a rig, a profile, a panel, a task or an operator
// unusable.
type Fault struct {
	Field string // dotted, as in the file: "firmware.pulse", "knobs[1].rings"
	Found string // what is there
	Would string // what would do
}

// Error returns "field: what was found; what would do".
func (f Fault) Error() string {
	s := f.Found
	if f.Would != "" {
		s += "; " + f.Would
	}
	if f.Field != "" {
		field := f.Field
		if strings.ContainsFunc(field, unicode.IsControl) {
			field = Shown(field) // what somebody took for a key
		}
		s = field + ": " + s
	}
	return s
}

// under returns the fault with a field in front of its own.
func (f Fault) under(field string) Fault {
	if f.Field != "" {
		field += "." + f.Field
	}
	f.Field = field
	return f
}

// Faults is every fault of one thing, in the order of its file's keys.
type Faults []Fault

// Error returns one line a fault.
func (fs Faults) Error() string { return Lines(fs) }

// Lines writes errors, one a line.
func Lines[F error](list []F) string {
	var lines []string
	for _, f := range list {
		lines = append(lines, f.Error())
	}
	return strings.Join(lines, "\n")
}

// err returns the faults as an error, nil when there are none.
func (fs Faults) err() error {
	if len(fs) == 0 {
		return nil
	}
	return fs
}

// Shown returns what somebody wrote in a form that fits into an error line:
// short, and in quotes where it holds more than plain characters.
func Shown(s string) string {
	const long = 60
	cut := s
	if r := []rune(s); len(r) > long {
		cut = string(r[:long]) + "…"
	}
	plain := func(r rune) bool { return unicode.IsGraphic(r) && r != '\uFFFD' && !unicode.IsSpace(r) }
	if s == "" || strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) >= 0 {
		return strconv.Quote(cut)
	}
	return cut
}

// Nearest returns the name that somebody who wrote another one probably meant,
// or "" when none is near. A name that ends in the written one after a dot is
// nearer than any misspelling: scan is firmware.scan.
func Nearest(written string, names []string) string {
	best, distance := "", len([]rune(written))/3+2
	for _, name := range names {
		if written != "" && strings.HasSuffix(name, "."+written) {
			return name
		}
		if d := misspelling(strings.ToLower(written), strings.ToLower(name), distance); d < distance {
			best, distance = name, d
		}
	}
	return best
}

// misspelling returns how many letters must be added, dropped, changed or swapped
// with their neighbour to make one word of another, or at least limit when that
// is clear from their lengths (optimal string alignment).
func misspelling(a, b string, limit int) int {
	x, y := []rune(a), []rune(b)
	if d := len(x) - len(y); max(d, -d) >= limit {
		return limit
	}
	before, above, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range above {
		above[j] = j
	}
	for i := 1; i <= len(x); i++ {
		row[0] = i
		for j := 1; j <= len(y); j++ {
			change := above[j-1]
			if x[i-1] != y[j-1] {
				change++
			}
			row[j] = min(change, above[j]+1, row[j-1]+1)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, above, row = above, row, before
	}
	return above[len(y)]
}

// unknown returns the fault of a name that is none of those known.
func unknown(field, written, what string, names []string) Fault {
	f := Fault{Field: field, Found: "there is no " + what + " " + Shown(written)}
	if near := Nearest(written, names); near != "" {
		f.Would = "did you mean " + near + "?"
	} else {
		f.Would = "one of " + strings.Join(names, ", ") + " would do"
	}
	return f
}
