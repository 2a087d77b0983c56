package figure

import (
	"bytes"
	"io"
	"strconv"
	"strings"
)

// SVG writes the figure as a file of its own for a width in CSS pixels (at least
// 240): with its title and caption drawn and its colours inside.
func (f *Figure) SVG(w io.Writer, width float64) error {
	s := f.lay(width, true)
	_, err := w.Write(s.svg(f, true))
	return err
}

// Inline writes the figure as an svg element to stand in an HTML page, for a
// width in CSS pixels (at least 240). The page prints the title and the caption,
// and it must contain CSS once.
func (f *Figure) Inline(w io.Writer, width float64) error {
	s := f.lay(width, false)
	_, err := w.Write(s.svg(f, false))
	return err
}

// escape writes text so that no markup in it is markup.
var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;", "'", "&#39;")

var strokeClass = [styles]string{stroke: "l", thin: "t", hair: "j", grid: "g", axis: "x", fill: "f", soft: "o", edged: "o n", hollow: "w", words: "", quiet: "q", heading: "h", board: "b", letter: "i"}

var anchorClass = [...]string{begin: "", middle: "m", end: "e"}

// toneClass is the class of a group of a tone.
func (t Tone) class() string { return "s" + strconv.Itoa(int(t)) }

func (s *scene) svg(f *Figure, own bool) []byte {
	var b bytes.Buffer
	w, h := s.w.svg(), s.h.svg()
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" class="fig" viewBox="0 0 ` + w + " " + h +
		`" width="` + w + `" height="` + h + `" role="img"><title>` + escape.Replace(clean(f.Title)) + `</title>`)
	if alt := clean(f.Alt); alt != "" {
		b.WriteString(`<desc>` + escape.Replace(alt) + `</desc>`)
	}
	if own {
		b.WriteString(`<style>` + CSS() + `</style><path class="p" d="M0 0h` + w + `v` + h + `H0z"/>`)
	}
	for i := range s.items {
		s.items[i].svg(&b)
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

func (it *item) svg(b *bytes.Buffer) {
	switch it.kind {
	case open:
		b.WriteString("\n<g class=\"" + it.tone.class() + `"`)
		for _, a := range it.attrs {
			b.WriteString(" " + a.key + `="` + escape.Replace(a.value) + `"`)
		}
		b.WriteString(">")
	case shut:
		b.WriteString("</g>")
	case path:
		b.WriteString(`<path class="` + strokeClass[it.style] + `" d="`)
		for _, r := range it.at {
			r.svg(b, it.closed)
		}
		b.WriteString(`"/>`)
	case disc:
		b.WriteString(`<circle class="` + strokeClass[it.style] + `" cx="` + it.x.svg() + `" cy="` + it.y.svg() + `" r="` + it.r.svg() + `"/>`)
	case text:
		class := strings.TrimSpace(strokeClass[it.style] + " " + anchorClass[it.anchor])
		b.WriteString("<text")
		if class != "" {
			b.WriteString(` class="` + class + `"`)
		}
		// Another font than ours is made as wide as ours, so that no label is cut off.
		face, size := it.style.typeface()
		wide := face.exact(it.text, size)
		b.WriteString(` x="` + it.x.svg() + `" y="` + it.y.svg() + `" textLength="` + wide.svg() + `" lengthAdjust="spacingAndGlyphs">` + escape.Replace(it.text) + `</text>`)
	}
}

// svg writes a run: its first spot as it is, the others as steps from the one
// before.
func (r run) svg(b *bytes.Buffer, closed bool) {
	if len(r) == 0 {
		return
	}
	number := func(v length) {
		s := v.svg()
		if last := b.Bytes()[b.Len()-1]; s[0] != '-' && last >= '0' && last <= '9' {
			b.WriteByte(' ')
		}
		b.WriteString(s)
	}
	b.WriteByte('M')
	number(r[0].x)
	number(r[0].y)
	command := byte('M')
	for i := 1; i < len(r); i++ {
		dx, dy := r[i].x-r[i-1].x, r[i].y-r[i-1].y
		c := byte('l')
		switch {
		case dx == 0 && dy == 0:
			continue
		case dy == 0:
			c = 'h'
		case dx == 0:
			c = 'v'
		}
		if c != command {
			b.WriteByte(c)
			command = c
		}
		if dx != 0 {
			number(dx)
		}
		if dy != 0 {
			number(dy)
		}
	}
	if closed {
		b.WriteByte('z')
	}
}

// svg writes a length as a decimal number of pixels.
func (l length) svg() string {
	sign := ""
	if l < 0 {
		sign, l = "-", -l
	}
	s := strconv.Itoa(int(l / px))
	if r := l % px; r != 0 {
		s += "." + strconv.Itoa(int(r))
	}
	if sign+s == "-0" {
		return "0"
	}
	return sign + s
}
