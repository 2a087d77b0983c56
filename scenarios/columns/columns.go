// Package columns writes headings, sentences and tables for people: on a terminal
// at most 80 columns wide, or as Markdown.
package columns

import (
	"fmt"
	"io"
	"strings"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// Width is how many columns a terminal is taken to have.
const Width = 80

// Printer writes until the first error, which Err returns.
type Printer struct {
	w        io.Writer
	markdown bool
	err      error
}

// New returns a printer for a terminal, or for a Markdown document.
func New(w io.Writer, markdown bool) *Printer { return &Printer{w: w, markdown: markdown} }

// Err returns the first error of the writer.
func (p *Printer) Err() error { return p.err }

func (p *Printer) write(s string) {
	if p.err == nil {
		_, p.err = io.WriteString(p.w, s+"\n")
	}
}

// Heading writes the title of what follows.
func (p *Printer) Heading(s string) {
	if p.markdown {
		p.write("### " + escaped(s) + "\n")
		return
	}
	p.write(Wrap(s))
}

// Text writes a paragraph, or an empty line.
func (p *Printer) Text(s string) {
	if p.markdown {
		if s != "" {
			s = escaped(s) + "\n"
		}
		p.write(s)
		return
	}
	p.write(Wrap(s))
}

// Item writes a sentence that is one of several.
func (p *Printer) Item(s string) {
	if p.markdown {
		p.write("- " + escaped(s))
		return
	}
	p.write(Wrap("  " + s))
}

// Table writes a table; all columns but the first are aligned to the right.
func (p *Printer) Table(header []string, rows [][]string) {
	if p.err != nil {
		return
	}
	align := tw.CellAlignment{Global: tw.AlignRight, PerColumn: []tw.Align{tw.AlignLeft}}
	options := []tablewriter.Option{
		tablewriter.WithHeaderAutoFormat(tw.Off),
		tablewriter.WithRowAlignmentConfig(align),
		tablewriter.WithHeaderAlignmentConfig(align),
	}
	if p.markdown {
		options = append(options, tablewriter.WithRenderer(renderer.NewMarkdown()))
	} else {
		options = append(options, tablewriter.WithRendition(tw.Rendition{
			Borders:  tw.Border{Left: tw.Off, Right: tw.Off, Top: tw.Off, Bottom: tw.Off},
			Settings: tw.Settings{Separators: tw.Separators{BetweenColumns: tw.Off}, Lines: tw.Lines{ShowHeaderLine: tw.Off}},
		}))
	}
	var whole strings.Builder
	t := tablewriter.NewTable(&whole, options...)
	t.Header(p.cells(header))
	for _, row := range rows {
		if p.err = t.Append(p.cells(row)); p.err != nil {
			return
		}
	}
	if p.err = t.Render(); p.err != nil {
		return
	}
	for line := range strings.Lines(whole.String()) {
		p.write(strings.TrimRight(line, " \n"))
	}
}

// Bar writes a line of a histogram: what it counts, its percentage, and a bar of
// a length from 0 to 1.
func (p *Printer) Bar(what string, percent, length float64) {
	const longest, names = 32, 34
	bar := strings.Repeat("#", int(length*longest+0.5))
	if bar == "" && length > 0 {
		bar = "."
	}
	what = strings.Join(strings.Fields(what), " ")
	pad := strings.Repeat(" ", max(0, names-len([]rune(what))))
	line := fmt.Sprintf("    %s%s %4.1f %% %s", what, pad, percent, bar)
	if p.markdown {
		line = fmt.Sprintf("    - %s: %.1f %%", escaped(what), percent)
	}
	p.write(strings.TrimRight(line, " "))
}

// cells makes text from files harmless in a table.
func (p *Printer) cells(row []string) []string {
	safe := make([]string, len(row))
	for i, s := range row {
		s = strings.Join(strings.Fields(s), " ")
		if p.markdown {
			s = escaped(s)
		}
		safe[i] = s
	}
	return safe
}

// escaped keeps text from being read as Markdown or HTML.
func escaped(s string) string {
	return strings.NewReplacer(`\`, `\\`, "|", `\|`, "<", "&lt;", "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`, "\n", " ").Replace(s)
}

// Wrap breaks text into lines of at most Width columns; what follows is indented
// like its start.
func Wrap(s string) string {
	indent := s[:len(s)-len(strings.TrimLeft(s, " "))]
	var out strings.Builder
	column := 0
	for i, word := range strings.Fields(s) {
		n := len([]rune(word))
		switch {
		case i == 0:
			out.WriteString(indent)
			column = len(indent)
		case column+1+n > Width:
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
