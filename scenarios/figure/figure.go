// Package figure draws the pictures of a report: one description of a figure,
// drawn as SVG for a page, as SVG or PNG for a file, and as characters for a
// terminal.
//
// A practitioner looks at a report to see one thing a picture: that the tuned
// curve is flat where this hand turns slowly, that most of the time goes into
// one link. So a figure has a title that says it, axes whose labels carry the
// unit, names beside the curves instead of a legend to learn, an alternative in
// words and a table of its numbers. No mark is told from another by its colour
// alone: tones differ in dash and marker too.
//
// A figure is laid out anew for every width, from 320 CSS pixels up, rather than
// scaled, so that its text is 12 pixels high on a phone as well. Lengths are
// whole tenths of a pixel, so that the same figure gives the same bytes on every
// processor.
//
// What it leaves out: scales with two different units, rotated text, and
// anything that moves.
package figure

// Figure is the description of one picture. The zero value is an empty picture;
// axes whose ends are not given take them from the marks.
type Figure struct {
	Name    string // stem of its file name and its id in a page: small letters, digits and dashes
	Title   string // what it shows, in a few words or as the finding
	Caption string // one or two sentences below: how to read it, how many trials
	Alt     string // the alternative text: what a reader who can't see it should know
	X, Y    Axis
	Marks   []Mark // drawn in this order, later ones above earlier ones
	Table   Table  // the figure's numbers
}

// Table holds the numbers of a figure in the words of a person: a header and
// rows of as many cells.
type Table struct {
	Header []string
	Rows   [][]string
}

// Axis is one axis of a figure. With Categories it has a row (or column) for
// each, at the positions 0, 1, 2 and so on, the first one on top (or left).
// Otherwise it is a scale of numbers.
type Axis struct {
	Label      string   // what is measured, with its unit in brackets
	Min, Max   float64  // the ends; where Min is not below Max they are taken from the marks
	Ticks      []Tick   // nil: round numbers are chosen to fit the width
	Whole      bool     // only whole numbers make ticks (counts)
	Log        bool     // logarithmic; Min must be above 0, or the marks' smallest positive value is taken
	Zero       bool     // an end taken from the marks includes 0
	Categories []string // names of rows or columns instead of numbers
	Heads      []Head   // of lanes: what the lanes from one on have in common
}

// Head stands above a lane, for it and those that follow.
type Head struct {
	Lane int
	Text string
	Tone Tone
}

// Tick is a marked place of an axis.
type Tick struct {
	At    float64
	Label string // empty: the number itself
}

// XY is a point in the units of the axes.
type XY struct{ X, Y float64 }
