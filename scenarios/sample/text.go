package sample

import (
	"fmt"
	"math"
	"strings"

	"dialwright/scenarios/paired"
)

// Seconds writes a time with its interval for a table; what lies among timeouts is
// beyond the limit.
func Seconds(e paired.Estimate) string {
	if math.IsInf(e.Value, 1) {
		return "> limit"
	}
	return fmt.Sprintf("%.1f (%.1f–%s)", e.Value, e.Low, beyond(e.High, "> limit"))
}

// Percent writes a share with its interval for a table.
func Percent(e paired.Estimate) string {
	return fmt.Sprintf("%.0f (%.0f–%.0f)", 100*e.Value, 100*e.Low, 100*e.High)
}

// Until writes a time, or the limit that it lies beyond.
func Until(x, limit float64) string { return beyond(x, fmt.Sprintf("> %.0f", limit)) }

func beyond(x float64, otherwise string) string {
	if math.IsInf(x, 1) {
		return otherwise
	}
	return fmt.Sprintf("%.1f", x)
}

// Signed writes a difference, times so much, with its sign and interval.
func Signed(e paired.Estimate, times float64, decimals int) string {
	if e == (paired.Estimate{}) {
		return "0"
	}
	signed := func(x float64) string { return Plus(times*x, decimals) }
	return fmt.Sprintf("%s (%s to %s)", signed(e.Value), signed(e.Low), signed(e.High))
}

// Plus writes a number with its sign; what rounds to 0 has none.
func Plus(x float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, math.Abs(x))
	switch {
	case strings.Trim(s, "0.") == "":
		return s
	case x < 0:
		return "−" + s
	}
	return "+" + s
}
