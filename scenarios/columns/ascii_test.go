package columns_test

import (
	"strings"
	"testing"

	"github.com/clipperhouse/displaywidth"
	"pgregory.net/rapid"

	"dialwright/scenarios/columns"
)

func TestASCIIHasAWordForEverySignOfOurs(t *testing.T) {
	for text, want := range map[string]string{
		"−4.4 (−4.9 to −3.8)":    "-4.4 (-4.9 to -3.8)",
		"416°/s, 4.7 (4.4–4.9)":  "416 deg/s, 4.7 (4.4-4.9)",
		"10 µs ± 2, 30 → 55 ms…": "10 us +/- 2, 30 -> 55 ms...",
		"Zoë, Müller, Å":         "Zoe, Mueller, A",
		"航法 2³":                  "?? 2?",
		"plain ASCII ~!%":        "plain ASCII ~!%",
	} {
		if got := columns.ASCII(text); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		for _, r := range columns.ASCII(rapid.String().Draw(t, "text")) {
			if r >= 0x80 {
				t.Fatalf("%q is left", r)
			}
		}
	})
}

// Hang loses no word, breaks none, and keeps within the width where words do.
func TestHangBreaksBetweenWords(t *testing.T) {
	const flags = "Flags:\n" +
		"      --force           replace the file that --output names\n" +
		"  -o, --output string   write to this file instead of standard output\n\n"
	const want = "Flags:\n" +
		"      --force           replace the file\n" +
		"                        that --output\n" +
		"                        names\n" +
		"  -o, --output string   write to this\n" +
		"                        file instead of\n" +
		"                        standard output\n\n"
	if got := columns.Hang(flags, 40); got != want {
		t.Errorf("got\n%s", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`( {0,6}([a-z-]{1,12} {1,4}){0,12}\n){0,6}`).Draw(t, "text")
		width := rapid.IntRange(60, 100).Draw(t, "width")
		got := columns.Hang(text, width)
		if a, b := strings.Fields(text), strings.Fields(got); strings.Join(a, " ") != strings.Join(b, " ") {
			t.Fatalf("%q has become %q", a, b)
		}
		for line := range strings.Lines(got) {
			if n := displaywidth.String(strings.TrimRight(line, "\n")); n > width {
				t.Fatalf("%d columns: %q", n, line)
			}
		}
	})
}
