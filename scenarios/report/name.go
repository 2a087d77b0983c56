package report

import (
	"regexp"
	"strings"
	"unicode"
)

// mostLetters is how many letters of a name from a file are shown.
const mostLetters = 60

// short makes a name from a file fit to stand in a sentence: one line of at most
// longest letters.
func short(name string) string { return clean(name, mostLetters) }

// clean makes text with names from files fit to be shown: one line of at most so
// many letters, none of which controls a terminal or the direction of writing.
func clean(text string, most int) string {
	text = strings.Join(strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) || unicode.Is(unicode.Cf, r) }), " ")
	if letters := []rune(text); len(letters) > most {
		return string(letters[:most-1]) + "…"
	}
	return text
}

// slug makes a part of a file's name or an id of a name from a file.
func slug(name string) string {
	var out strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			out.WriteRune(r)
		case out.Len() > 0 && !strings.HasSuffix(out.String(), "-"):
			out.WriteByte('-')
		}
		if out.Len() == 32 {
			break
		}
	}
	return strings.Trim(out.String(), "-")
}

var inTime = regexp.MustCompile(`([0-9]) s\b`)

var brackets = regexp.MustCompile(`\([^()]{1,24}\)`)

// tied keeps numbers together with their signs where lines are broken on a page:
// a percentage, and an interval in brackets.
func tied(s string) string {
	s = brackets.ReplaceAllStringFunc(s, func(b string) string {
		return strings.NewReplacer(" ", "\u00a0", "–", "–\u2060").Replace(b)
	})
	s = inTime.ReplaceAllString(s, "$1\u00a0s")
	return strings.NewReplacer(" %", "\u00a0%", " → ", "\u00a0→\u00a0").Replace(s)
}
