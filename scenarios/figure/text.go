package figure

import (
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// length is a length or a place in tenths of a CSS pixel. Everything is laid out
// in these, so that no processor rounds differently from another.
type length int

const px length = 10

// The sizes of text, and the height of a line of the smallest one.
const (
	textSize     = 12 * px
	titleSize    = 15 * px
	headlineSize = 20 * px
	lineStep     = 16 * px
)

// typeface knows how wide its letters are. Its widths are those of Arial and
// Helvetica too; other sans-serif fonts come within a few per cent.
type typeface struct {
	file  *sfnt.Font
	units int64 // to an em
	plain [0x250]int64
}

var (
	regular = sync.OnceValue(func() *typeface { return openTypeface(liberationsansregular.TTF) })
	bold    = sync.OnceValue(func() *typeface { return openTypeface(liberationsansbold.TTF) })
)

func openTypeface(ttf []byte) *typeface {
	file, err := sfnt.Parse(ttf)
	if err != nil {
		panic(err) // the font is part of the program
	}
	t := &typeface{file: file, units: int64(file.UnitsPerEm())}
	for r := range t.plain {
		t.plain[r] = t.look(rune(r))
	}
	return t
}

// look finds the advance of a letter in font units; letters that the font does
// not have count as a full em.
func (t *typeface) look(r rune) int64 {
	var buf sfnt.Buffer
	i, err := t.file.GlyphIndex(&buf, r)
	if err != nil || i == 0 {
		return t.units
	}
	a, err := t.file.GlyphAdvance(&buf, i, fixed.I(int(t.units)), font.HintingNone)
	if err != nil {
		return t.units
	}
	return int64(a) >> 6
}

// width returns how wide a text may be, rounded up, with a twenty-fifth more for
// other fonts than ours.
func (t *typeface) width(s string, size length) length {
	d := t.units * 25
	return length((t.sum(s)*26*int64(size) + d - 1) / d)
}

// exact returns how wide a text is in our own font.
func (t *typeface) exact(s string, size length) length {
	return length(divide(t.sum(s)*int64(size), t.units))
}

// sum adds the advances of a text, in font units.
func (t *typeface) sum(s string) int64 {
	var sum int64
	for _, r := range s {
		if int(r) < len(t.plain) {
			sum += t.plain[r]
		} else {
			sum += t.look(r)
		}
	}
	return sum
}

func textWidth(s string) length { return regular().width(s, textSize) }

// clean makes a name from a file fit to be shown: one line, no control or
// direction-changing characters, at most some hundred letters.
func clean(s string) string {
	const most = 400
	var out strings.Builder
	n, space := 0, false
	for _, r := range s {
		if n == most {
			out.WriteRune('…')
			break
		}
		switch {
		case unicode.IsSpace(r):
			space = n > 0
			continue
		case r == utf8.RuneError, r == 0xFFFE, r == 0xFFFF:
			r = '\uFFFD'
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r):
			continue
		}
		if space {
			out.WriteByte(' ')
			space = false
			n++
		}
		out.WriteRune(r)
		n++
	}
	return out.String()
}

// cut shortens a text to a width, with an ellipsis where something is missing.
func (t *typeface) cut(s string, size, most length) string {
	if t.width(s, size) <= most {
		return s
	}
	letters := []rune(s)
	// Halve the range of lengths that may fit.
	lo, hi := 0, len(letters)
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if t.width(strings.TrimRight(string(letters[:mid]), " ")+"…", size) <= most {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	return strings.TrimRight(string(letters[:lo]), " ") + "…"
}

func cut(s string, most length) string { return regular().cut(s, textSize, most) }

// wrap breaks a text into lines of a width, at most so many; the last is cut.
func (t *typeface) wrap(s string, size, most length, lines int) []string {
	var out []string
	line := ""
	words := strings.Fields(s)
	for i, word := range words {
		longer := word
		if line != "" {
			longer = line + " " + word
		}
		if t.width(longer, size) <= most {
			line = longer
			continue
		}
		if line == "" {
			line = t.cut(word, size, most)
			if i == len(words)-1 {
				break
			}
			continue
		}
		if len(out) == lines-1 {
			return append(out, t.cut(line+" "+strings.Join(words[i:], " "), size, most))
		}
		out = append(out, line)
		line = t.cut(word, size, most)
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}
