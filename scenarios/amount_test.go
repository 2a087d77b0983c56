package scenarios

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseAmount(t *testing.T) {
	for s, want := range map[string]Amount{
		"0":              0,
		"-0":             0,
		"7":              7 * Unity,
		"29.92":          29_920_000,
		"-0.5":           -500_000,
		"-12.000001":     -12_000_001,
		"5351.5":         5_351_500_000,
		"1000000000000":  1e12 * Unity,
		"-1000000000000": -1e12 * Unity,
		"118.000000":     118 * Unity,
		"007":            7 * Unity,
	} {
		if got, err := ParseAmount(s); got != want || err != nil {
			t.Errorf("ParseAmount(%q) = %d, %v; want %d", s, got, err, want)
		}
	}
	for _, s := range []string{
		"", " ", "-", ".", "5.", ".5", "1e3", "0x10", "1_000", "1,5", "1.2.3", "1.0000001", "1.+5", "1.-5", "٣",
		"1000000000001", "99999999999999999999", "NaN", "Inf", "7 ", "--1",
	} {
		if got, err := ParseAmount(s); err == nil {
			t.Errorf("ParseAmount(%q) = %d without an error", s, got)
		} else if !strings.Contains(err.Error(), "decimal number") {
			t.Errorf("ParseAmount(%q): %v does not say what would do", s, err)
		}
	}
}

func TestAnAmountReadsBackAsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Amount(rapid.Int64Range(-1e18, 1e18).Draw(t, "a"))
		if got, err := ParseAmount(a.String()); got != a || err != nil {
			t.Fatalf("%d is written %q and read %d, %v", a, a.String(), got, err)
		}
	})
}

func FuzzParseAmount(f *testing.F) {
	for _, s := range []string{"29.92", "-0.5", "1e3", "5.", "118.0000001", "-1000000000000.999999", "1.+5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := ParseAmount(s)
		if err != nil {
			return
		}
		if b, err := ParseAmount(a.String()); b != a || err != nil {
			t.Errorf("%q is %d, written %q, read back as %d, %v", s, a, a.String(), b, err)
		}
		if len(a.String()) > len(strings.TrimLeft(s, "+")) {
			t.Errorf("%q is written longer: %q", s, a.String())
		}
	})
}
