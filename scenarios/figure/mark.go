package figure

// Mark is something drawn in a figure: one of Line, Area, Band, Bars,
// Histogram, Rug, Points, Spans and Pairs.
type Mark interface {
	// reach tells which values of the axes the mark needs to be seen.
	reach(r *extent)
}

// Line is a curve through points, from left to right. A point that is not a
// number interrupts it.
type Line struct {
	Name    string // beside its end or in the key; lines of one name share a key entry
	Tone    Tone
	At      []XY
	Step    bool // level until the next point, then a jump: a displayed value, a share of trials
	Markers bool // each point gets the marker of the tone
}

// Area is the surface between two curves. Nil Lower is the lower end of the
// axis.
type Area struct {
	Name         string
	Tone         Tone
	Upper, Lower []XY
	Step         bool
}

// Band is a range of one axis over the whole other axis: the target with its
// tolerance.
type Band struct {
	Name     string
	Tone     Tone
	From, To float64
	OnX      bool // a range of X; otherwise of Y
}

// Bars are bars that begin at 0 (or at From). They lie where Y has categories
// and stand otherwise. Several Bars of one figure stand beside each other.
type Bars struct {
	Name string
	Tone Tone
	Bars []Bar
}

// Bar is one bar.
type Bar struct {
	At        float64 // the category's index, or the place on the numbers' axis
	From      float64 // where the bar begins
	Value     float64 // where it ends
	Low, High float64 // interval of Value, drawn as a whisker where Low < High
	Text      string  // beside the bar: its number
}

// Histogram stands in the background, on a scale of its own: its highest bin
// takes two fifths of the figure's height.
type Histogram struct {
	Name  string
	Tone  Tone
	Edges []float64 // ends of the bins, one more than Share
	Share []float64 // height of each bin
}

// Rug is a row of short strokes at the foot of the figure: the times of
// detents. Every rug has a row of its own.
type Rug struct {
	Name string
	Tone Tone
	At   []float64
}

// Points are single points, labelled where there is room. The chosen one is
// drawn larger and always labelled.
type Points struct {
	Name string
	Tone Tone
	At   []Point
}

// Point is one of Points.
type Point struct {
	X, Y      float64
	Low, High float64 // interval of Y, drawn as a whisker where Low < High
	Label     string
	Chosen    bool
}

// Spans are stretches of time in the lanes of a figure whose Y axis names the
// lanes: one turn of a knob, click by click.
type Spans struct {
	Name  string
	Tone  Tone
	Spans []Span
}

// Span is one stretch. Where From is To it is a moment, drawn as a stroke.
type Span struct {
	Lane     int // index into Y.Categories
	From, To float64
	Letter   string // the click's letter, inside the stretch or beside it
}

// Pairs is a figure of its own: what several things were and what they become, a row
// for each, in several measures beside each other.
type Pairs struct {
	Before, After, Same string // the names of the markers
	Rows                []PairRow
	Columns             []PairColumn
}

// PairRow is a thing of Pairs.
type PairRow struct{ Name, Note string }

// PairColumn is a measure of Pairs, on a scale from 0.
type PairColumn struct {
	Label string
	Pairs []Pair  // a row each
	Limit float64 // drawn across all rows; 0: none
	Bound string  // the limit's name
}

// Pair is a thing before and after.
type Pair struct {
	Before, After         float64
	BeforeText, AfterText string
	Same                  bool // nothing was changed: only After is shown
}
