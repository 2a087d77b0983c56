// Package columns says once what a study has to say: a [Page] of headings,
// sentences, tables and drawings, and a [Table] of rows. Every format renders the
// same description: text for a terminal of any width from 60 columns, Markdown, CSV,
// rows of JSON.
package columns

import (
	"fmt"
	"io"
	"strings"

	"github.com/clipperhouse/displaywidth"
)

// Width is how many columns a terminal is taken to have, and narrowest is how many
// it has at least.
const (
	Width     = 80
	narrowest = 60
)

// Page is what a study has to say, part after part. The zero value is empty.
type Page struct{ parts []part }

type part struct {
	kind            kind
	text            string
	table           *Table
	draw            func(columns int, unicode bool) string
	percent, length float64 // of a bar
}

type kind int

const (
	heading kind = iota
	paragraph
	item
	rows
	bar
	drawing
)

func (p *Page) add(k kind, s string) { p.parts = append(p.parts, part{kind: k, text: s}) }

// Heading is the title of what follows.
func (p *Page) Heading(s string) { p.add(heading, s) }

// Text is a paragraph, or an empty line.
func (p *Page) Text(s string) { p.add(paragraph, s) }

// Item is a sentence that is one of several.
func (p *Page) Item(s string) { p.add(item, s) }

// Show is a table.
func (p *Page) Show(t Table) { p.parts = append(p.parts, part{kind: rows, table: &t}) }

// Table is a table of plain text under a header.
func (p *Page) Table(header []string, rows [][]string) { p.Show(plain(header, rows)) }

// Bar is a line of a histogram: what it counts, its percentage, and a bar of a
// length from 0 to 1.
func (p *Page) Bar(what string, percent, length float64) {
	p.parts = append(p.parts, part{kind: bar, text: what, percent: percent, length: length})
}

// Drawing is a figure that a terminal shows with characters; a document goes without.
func (p *Page) Drawing(draw func(columns int, unicode bool) string) {
	p.parts = append(p.parts, part{kind: drawing, draw: draw})
}

// Print writes the page for a terminal of so many columns.
func (p *Page) Print(w io.Writer, width int) error {
	width = max(width, narrowest)
	var out strings.Builder
	for _, x := range p.parts {
		switch x.kind {
		case heading, paragraph:
			out.WriteString(Wrap(x.text, width) + "\n")
		case item:
			out.WriteString(Wrap("  "+x.text, width) + "\n")
		case rows:
			if err := x.table.print(&out, width); err != nil {
				return err
			}
		case bar:
			out.WriteString(x.bar(width) + "\n")
		case drawing:
			out.WriteString(x.draw(width, false))
		}
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// Markdown writes the page for a document.
func (p *Page) Markdown(w io.Writer) error {
	var out strings.Builder
	for _, x := range p.parts {
		switch x.kind {
		case heading:
			out.WriteString("### " + escaped(x.text) + "\n\n")
		case paragraph:
			if x.text != "" {
				out.WriteString(escaped(x.text) + "\n")
			}
			out.WriteString("\n")
		case item:
			out.WriteString("- " + escaped(x.text) + "\n")
		case rows:
			if err := x.table.markdown(&out); err != nil {
				return err
			}
		case bar:
			out.WriteString(fmt.Sprintf("    - %s: %.1f %%", escaped(line(x.text)), x.percent) + "\n")
		}
	}
	_, err := io.WriteString(w, out.String())
	return err
}

// bar draws a line of a histogram. On a narrow terminal it is the bar that gives way.
func (x part) bar(width int) string {
	const names = 34
	longest := min(32, width-names-14)
	drawn := strings.Repeat("#", int(x.length*float64(longest)+0.5))
	if drawn == "" && x.length > 0 {
		drawn = "."
	}
	what := line(x.text)
	pad := strings.Repeat(" ", max(0, names-displaywidth.String(what)))
	return strings.TrimRight(fmt.Sprintf("    %s%s %4.1f %% %s", what, pad, x.percent, drawn), " ")
}

// line makes one line of text from a file.
func line(s string) string { return strings.Join(strings.Fields(s), " ") }

// escaped keeps text from being read as Markdown or HTML.
func escaped(s string) string {
	return strings.NewReplacer(`\`, `\\`, "|", `\|`, "<", "&lt;", "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`, "\n", " ").Replace(s)
}

// Wrap breaks text into lines of at most so many columns; what follows is indented
// like its start.
func Wrap(s string, width int) string {
	indent := s[:len(s)-len(strings.TrimLeft(s, " "))]
	var out strings.Builder
	column := 0
	for i, word := range strings.Fields(s) {
		n := displaywidth.String(word)
		switch {
		case i == 0:
			out.WriteString(indent)
			column = len(indent)
		case column+1+n > width:
			out.WriteString("\n" + indent)
			column = len(indent)
		default:
			out.WriteByte(' ')
			column++
		}
		out.WriteString(word)
		column += n
	}
	return out.String()
}

// Percent writes a share of 1 without decimals.
func Percent(share float64) string { return fmt.Sprintf("%.0f", 100*share) }

// Either lists words of which one is wanted.
func Either(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " or " + words[n-1]
	}
	return strings.Join(words, "")
}
