package columns

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// longestShown is how many characters of a path or another string that somebody gave
// are shown.
const longestShown = 200

// Gate passes text on to a terminal, or to somebody who may look at it on one.
// What would speak to the terminal instead of being read is quoted: control
// characters but the end of a line and the tabulator, characters that turn the
// direction of writing, and bytes that are no UTF-8. The escapes \u001b and the
// like mean the same in a string of JSON. Each Write is a whole piece of text.
func Gate(w io.Writer) io.Writer { return gate{w} }

type gate struct{ w io.Writer }

func (g gate) Write(p []byte) (int, error) {
	if _, err := io.WriteString(g.w, quoted(string(p), "\n\t")); err != nil {
		return 0, err
	}
	return len(p), nil
}

// Line returns a path, a flag's value or a name as a part of a line: on one line,
// without anything that Gate quotes, and cut where it is long.
func Line(s string) string {
	s = quoted(s, "")
	if r := []rune(s); len(r) > longestShown {
		s = string(r[:longestShown/2]) + "…" + string(r[len(r)-longestShown/2:])
	}
	return s
}

// Speaks says whether a terminal would take a character for something else than a
// letter to show.
func Speaks(r rune) bool {
	return unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r == '\u2028' || r == '\u2029'
}

// quoted quotes what speaks, but for the characters to keep.
func quoted(s, keep string) string {
	speaks := func(r rune) bool { return Speaks(r) && !strings.ContainsRune(keep, r) }
	if utf8.ValidString(s) && strings.IndexFunc(s, speaks) < 0 {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && n == 1:
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case speaks(r):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
		i += n
	}
	return b.String()
}
