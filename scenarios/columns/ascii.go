package columns

import (
	"strings"
	"unicode"

	"github.com/clipperhouse/displaywidth"
	"golang.org/x/text/unicode/norm"
)

// letters is what stands for a sign in plain ASCII.
var letters = strings.NewReplacer(
	"−", "-", "–", "-", "—", "-", "…", "...", "×", "x", "·", ".", "±", "+/-", "≥", ">=", "≤", "<=", "→", "->", "≈", "~",
	"[°]", "[deg]", "°", " deg", "µ", "u", "μ", "u", "½", "1/2", "¼", "1/4", "²", "2", "φ", "phi", "τ", "tau", "σ", "sigma",
	"“", `"`, "”", `"`, "’", "'", "‘", "'", "\u00a0", " ", "\u2009", " ", "ß", "ss", "ä", "ae", "ö", "oe", "ü", "ue",
)

// ASCII writes text without any sign beyond ASCII, for terminals that have no more:
// a minus as a hyphen, a degree as deg, letters without their accents. What it has no
// word for is a question mark.
func ASCII(s string) string {
	var out strings.Builder
	for _, r := range norm.NFD.String(letters.Replace(s)) {
		switch {
		case r < 0x80:
			out.WriteRune(r)
		case !unicode.Is(unicode.Mn, r):
			out.WriteByte('?')
		}
	}
	return out.String()
}

// Hang breaks the lines of a text that are longer than so many columns between words.
// What follows stands under the words that a wide blank sets apart, as in a list of
// flags, or is indented like its line.
func Hang(s string, width int) string {
	var out strings.Builder
	for line := range strings.Lines(s) {
		text := strings.TrimRight(line, " \n")
		head := len(text) - len(strings.TrimLeft(text, " "))
		if i := strings.Index(text[head:], "  "); i > 0 {
			if i += head; i < width*2/3 {
				head = len(text) - len(strings.TrimLeft(text[i:], " "))
			}
		}
		indent := strings.Repeat(" ", displaywidth.String(text[:head]))
		broken := Wrap(indent+text[head:], width)
		out.WriteString(text[:head] + broken[len(indent):])
		if strings.HasSuffix(line, "\n") {
			out.WriteByte('\n')
		}
	}
	return out.String()
}
