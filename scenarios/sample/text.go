package sample

import (
	"fmt"
	"math"

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
	return fmt.Sprintf("%+.*f (%+.*f to %+.*f)", decimals, times*e.Value, decimals, times*e.Low, decimals, times*e.High)
}
