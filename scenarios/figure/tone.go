package figure

import (
	"fmt"
	"strings"
)

// Tone is the role of a mark, from which its colour, dash and marker follow.
// The zero value is Ink.
//
// The hues are those of Okabe and Ito (Color Universal Design, from memory),
// darker or lighter where text and lines would otherwise be too faint on a white
// or on a dark page.
type Tone uint8

// The tones. Quiet is for what stands in the background or was before.
const (
	Ink Tone = iota
	Blue
	Vermilion
	Green
	Purple
	Orange
	Sky
	Quiet
)

// look is how a tone is drawn on a white and on a dark page.
type look struct {
	light, dark         string // lines and surfaces
	lightText, darkText string
	dash                []length // of its curves; nil is solid
	marker              marker
}

type marker uint8

const (
	round marker = iota
	square
	triangle
	diamond
	tee // a triangle on its tip
	cross
	plus
	bar
)

var tones = [...]look{
	Ink:       {"#1a1a1a", "#e8e6e1", "#1a1a1a", "#e8e6e1", nil, round},
	Blue:      {"#0072b2", "#4aa8e0", "#0068a3", "#5cb3e6", nil, square},
	Vermilion: {"#d55e00", "#ee7a2e", "#b34d00", "#f28a45", []length{7 * px, 3 * px}, triangle},
	Green:     {"#008f68", "#20b98d", "#007a58", "#35c79c", []length{2 * px, 3 * px}, diamond},
	Purple:    {"#b5588e", "#d98db6", "#9c3f76", "#de9bc0", []length{8 * px, 3 * px, 2 * px, 3 * px}, tee},
	Orange:    {"#b37a00", "#e69f00", "#8a5e00", "#e8a820", []length{12 * px, 4 * px}, cross},
	Sky:       {"#2b8fc9", "#7cc7f0", "#1d6f9f", "#8acdf2", []length{4 * px, 2 * px, 1 * px, 2 * px, 1 * px, 2 * px}, plus},
	Quiet:     {"#7d7d7d", "#8f9298", "#5f5f5f", "#a3a6ac", nil, bar},
}

// The colours of what carries no data.
var (
	lightPage, darkPage = "#ffffff", "#16181c"
	lightGrid, darkGrid = "#e2e2e2", "#33373d"
)

// CSS is the style sheet of inline figures, for a page once: light, dark where
// the reader's screen is dark, and light on paper. It names only classes below
// the class fig.
func CSS() string {
	var b strings.Builder
	b.WriteString(".fig{max-width:100%;height:auto}" +
		".fig text{font:12px 'Liberation Sans',Arial,Helvetica,'DejaVu Sans Condensed',sans-serif;fill:currentColor;paint-order:stroke;stroke-width:3px;stroke-linejoin:round}" +
		".fig .h{font-size:15px;font-weight:bold}.fig .m{text-anchor:middle}.fig .e{text-anchor:end}" +
		".fig path,.fig circle{fill:none;stroke:none}" +
		".fig .l{stroke:currentColor;stroke-width:2;stroke-linejoin:round}" +
		".fig .t,.fig .j,.fig .n{stroke:currentColor;stroke-width:1.2}.fig .j{stroke-width:.6}" +
		".fig .g,.fig .x{shape-rendering:crispEdges}.fig .f{fill:currentColor}.fig .o{fill:currentColor;fill-opacity:.2}.fig .w{stroke:currentColor;stroke-width:1.6}")
	for i, t := range tones {
		if t.dash != nil {
			fmt.Fprintf(&b, ".fig .s%d .l{stroke-dasharray:%s}", i, dashes(t.dash))
		}
	}
	colours := func(dark bool) {
		page, line := lightPage, lightGrid
		ink, grey := tones[Ink].lightText, tones[Quiet].lightText
		if dark {
			page, line = darkPage, darkGrid
			ink, grey = tones[Ink].darkText, tones[Quiet].darkText
		}
		fmt.Fprintf(&b, ".fig .p,.fig .w{fill:%s}.fig text{stroke:%[1]s}.fig .g{stroke:%s}", page, line)
		for i, t := range tones {
			c, ct := t.light, t.lightText
			if dark {
				c, ct = t.dark, t.darkText
			}
			fmt.Fprintf(&b, ".fig .s%d{color:%s}.fig .s%[1]d text,.fig .s%[1]d .b{fill:%[3]s}", i, c, ct)
		}
		fmt.Fprintf(&b, ".fig text.q{fill:%s}.fig text.h{fill:%s}.fig text.i{fill:%s;stroke:none}.fig .x{stroke:%[1]s}", grey, ink, page)
	}
	colours(false)
	b.WriteString("@media screen and (prefers-color-scheme:dark){")
	colours(true)
	b.WriteString("}")
	return b.String()
}

func dashes(d []length) string {
	out := make([]string, len(d))
	for i, l := range d {
		out[i] = l.svg()
	}
	return strings.Join(out, " ")
}
