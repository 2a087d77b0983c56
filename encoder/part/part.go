// Package part holds what data sheets and systems say about the links of a path:
// the geometry and bounce of rotary encoders, the key repeat that a system comes
// with, the typematic codes of a keyboard, and the poll period that a device's
// bInterval asks for.
//
// A person who builds a panel reads these numbers once, from a sheet or a control
// panel; a rig file names them instead: part: 24x24, repeat: windows,
// poll: {speed: full, interval: 10}. Every number comes with the source it was
// read in. What a sheet does not say is left out, never filled in: no sheet here
// gives both a bounce and a shortest state, so the presets keep the shortest
// state of an ideal part, a quarter of the cycle.
package part

import (
	_ "embed" // for the tables
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"dialwright/encoder"
)

// Part is the geometry of a rotary encoder and what its data sheet promises.
type Part struct {
	Name      string // cycles x detents: "15x30"; of a smooth one its kind and cycles
	Sheet     string // maker and series, as on the sheet
	Cycles    int    // per turn (PPR)
	Detents   int    // per turn; 0 is smooth
	Bounce    time.Duration
	BounceRPM float64 // the speed at which the bounce was measured, turns a minute
	MaxRPM    float64 // 0 where the sheet does not say
	Source    string
}

// Knob returns the part as a rig knows it.
func (p Part) Knob() encoder.Knob {
	return encoder.Knob{Detents: p.Detents, Cycles: p.Cycles, Bounce: p.Bounce, MinState: 0.25}
}

// presets are three geometries that are sold in numbers: one cycle a detent, half
// a cycle a detent, and a small 9 mm part; each from the one sheet in the table
// that gives its bounce.
var presets = []struct {
	sheet           string
	cycles, detents int
}{
	{"Bourns PEC11R", 24, 24},
	{"Bourns PEC11H", 15, 30},
	{"CUI EC09P20V", 20, 20},
}

//go:embed parts.csv
var sheets string

// Parts returns the presets, a smooth one last.
var Parts = sync.OnceValue(func() []Part {
	t := read(sheets)
	parts := make([]Part, len(presets))
	for i, p := range presets {
		row := t.row("part", p.sheet)
		number := func(column string) float64 {
			v, _ := strconv.ParseFloat(t.at(row, column), 64) // empty = not seen
			return v
		}
		parts[i] = Part{
			Name:  fmt.Sprintf("%dx%d", p.cycles, p.detents),
			Sheet: p.sheet, Cycles: p.cycles, Detents: p.detents,
			Bounce:    time.Duration(number("bounce_max_ms") * float64(time.Millisecond)),
			BounceRPM: number("bounce_test_rpm"),
			MaxRPM:    number("max_rpm"),
			Source:    t.at(row, "source"),
		}
	}
	return append(parts, smooth)
})

// smooth is an optical encoder: light barriers instead of contacts, so nothing bounces,
// and no detents. Cycles: common practice, no source.
var smooth = Part{Name: "optical-64", Sheet: "optical: no contact that bounces", Cycles: 64, Source: "common practice, no source"}

// Names returns the names of the parts.
func Names() []string { return namesOf(Parts(), func(p Part) string { return p.Name }) }

// Named returns the part with a name.
func Named(name string) (Part, bool) {
	return find(Parts(), func(p Part) bool { return p.Name == name })
}

func namesOf[T any](list []T, name func(T) string) []string {
	all := make([]string, len(list))
	for i, v := range list {
		all[i] = name(v)
	}
	return all
}

func find[T any](list []T, is func(T) bool) (found T, ok bool) {
	if i := slices.IndexFunc(list, is); i >= 0 {
		return list[i], true
	}
	return found, false
}

// sheet is an embedded table: a comment line that names the source, a header and
// rows.
type sheet struct {
	header []string
	rows   [][]string
}

func read(text string) sheet {
	r := csv.NewReader(strings.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic(err) // the table is part of the program
	}
	return sheet{rows[0], rows[1:]}
}

func (t sheet) at(row []string, column string) string { return row[slices.Index(t.header, column)] }

func (t sheet) row(column, value string) []string {
	return t.rows[slices.IndexFunc(t.rows, func(row []string) bool { return t.at(row, column) == value })]
}
