package main

import (
	"io"
	"os"
	"strings"

	"golang.org/x/term"

	"dialwright/scenarios/columns"
)

// printed returns a stream for what people read: nothing in it speaks to the terminal,
// and where the locale has no more than ASCII, neither has the text. What programs
// read (CSV, YAML, C, HTML) goes past it: its format says how it is encoded.
func printed(w io.Writer) io.Writer {
	if unicodeLocale() {
		return columns.Gate(w)
	}
	return plainer{columns.Gate(w)}
}

// plainer writes ASCII. Each Write is a whole piece of text.
type plainer struct{ w io.Writer }

func (p plainer) Write(text []byte) (int, error) {
	_, err := io.WriteString(p.w, columns.ASCII(string(text)))
	return len(text), err
}

// unicodeLocale says whether the locale can show more than ASCII. The first of these
// variables that is set decides (POSIX, 8.2).
func unicodeLocale() bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if v := os.Getenv(name); v != "" {
			v = strings.ToLower(strings.ReplaceAll(v, "-", ""))
			return strings.Contains(v, "utf8")
		}
	}
	return false
}

// widthOf is how many columns a stream has: those of a terminal, else 80.
func widthOf(stream any) int {
	if f, ok := stream.(*os.File); ok {
		if n, _, err := term.GetSize(int(f.Fd())); err == nil && n > 0 {
			return n
		}
	}
	return columns.Width
}

// width is how many columns the result has.
func (o *output) width() int {
	if o.path != "" && o.path != "-" {
		return columns.Width
	}
	return widthOf(o.out)
}
