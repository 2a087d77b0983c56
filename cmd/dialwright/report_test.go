package main

import (
	"testing"
)

// The first of the variables that is set says whether a terminal has more than
// ASCII (POSIX, 8.2).
func TestLocaleDecidesOverASCII(t *testing.T) {
	for _, x := range []struct {
		all, ctype, lang string
		unicode          bool
	}{
		{"", "", "", false}, {"", "", "de_DE.UTF-8", true}, {"", "", "C.utf8", true}, {"C", "", "de_DE.UTF-8", false},
		{"", "POSIX", "de_DE.UTF-8", false}, {"en_GB.UTF-8", "C", "C", true}, {"", "", "de_DE.ISO-8859-1", false},
	} {
		t.Setenv("LC_ALL", x.all)
		t.Setenv("LC_CTYPE", x.ctype)
		t.Setenv("LANG", x.lang)
		if got := unicodeLocale(); got != x.unicode {
			t.Errorf("%+v: %v", x, got)
		}
	}
}
