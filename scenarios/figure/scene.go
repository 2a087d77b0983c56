package figure

// scene is a figure laid out for one width: what is drawn where, in the order of
// drawing. SVG and PNG are two ways of writing it down.
type scene struct {
	w, h  length
	items []item
}

type kind uint8

const (
	open kind = iota // a group begins
	shut             // the group ends
	path
	disc
	text
)

// style is how something is drawn; its colour is that of its group's tone.
type style uint8

const (
	stroke   style = iota // a curve: two pixels, with the tone's dash
	thin                  // one pixel, never dashed: whiskers, rugs, rules
	hair                  // half a pixel: the edges of a band
	grid                  // a hairline in the background
	axis                  // the line under the figure and its ticks
	fill                  // a surface in the full tone
	soft                  // a surface that lets the grid shine through
	edged                 // the same with an edge
	hollow                // the page's colour, edged in the tone: markers
	words                 // text in the tone
	quiet                 // text in grey
	heading               // the title
	headline              // the title of a picture to share
	board                 // a surface for letters, in the tone's colour of texts
	letter                // text upon a board, in the page's colour
	styles
)

// typeface is what a text of a style is written in.
func (st style) typeface() (*typeface, length) {
	switch st {
	case heading:
		return bold(), titleSize
	case headline:
		return bold(), headlineSize
	}
	return regular(), textSize
}

type item struct {
	kind   kind
	style  style
	tone   Tone
	attrs  []attr // of a group
	at     []run  // of a path
	closed bool
	x, y   length // of a disc and of a text's base line
	r      length
	anchor anchor
	text   string
	box    box // of a text
}

type attr struct{ key, value string }

type spot struct{ x, y length }

// run is a connected piece of a path.
type run []spot

type anchor uint8

const (
	begin anchor = iota
	middle
	end
)

type box struct{ x0, y0, x1, y1 length }

func (b box) meets(c box) bool { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }

func (b box) wider(by length) box { return box{b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by} }

// open begins a group.
func (s *scene) open(t Tone, attrs ...attr) {
	s.items = append(s.items, item{kind: open, tone: t, attrs: attrs})
}

func (s *scene) shut() { s.items = append(s.items, item{kind: shut}) }

func (s *scene) path(st style, t Tone, closed bool, runs ...run) {
	if len(runs) > 0 {
		s.items = append(s.items, item{kind: path, style: st, tone: t, at: runs, closed: closed})
	}
}

func (s *scene) rect(st style, t Tone, b box) {
	s.path(st, t, true, run{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}})
}

func (s *scene) segment(st style, t Tone, x0, y0, x1, y1 length) {
	s.path(st, t, false, run{{x0, y0}, {x1, y1}})
}

// textBox tells where a text will be, its base line at y.
func textBox(st style, x, y length, a anchor, str string) box {
	face, size := st.typeface()
	w := face.width(str, size)
	switch a {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	// Ascent and descent of the letters, without the leading.
	return box{x, y - size*3/4, x + w, y + size/4}
}

func (s *scene) text(st style, t Tone, x, y length, a anchor, str string) {
	if str == "" {
		return
	}
	s.items = append(s.items, item{kind: text, style: st, tone: t, x: x, y: y, anchor: a, text: str,
		box: textBox(st, x, y, a, str)})
}

// free tells whether a box meets no text so far and lies inside the scene.
func (s *scene) free(b box) bool {
	if b.x0 < 0 || b.y0 < 0 || b.x1 > s.w || (s.h > 0 && b.y1 > s.h) {
		return false
	}
	for i := range s.items {
		if s.items[i].kind == text && s.items[i].box.meets(b) {
			return false
		}
	}
	return true
}

// textIfFree writes a text where it meets no other, and tells whether it did.
func (s *scene) textIfFree(st style, t Tone, x, y length, a anchor, str string) bool {
	if b := textBox(st, x, y, a, str); str == "" || !s.free(b) {
		return false
	}
	s.text(st, t, x, y, a, str)
	return true
}
