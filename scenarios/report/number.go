package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dialwright/scenarios/sample"
)

// One rounding for the whole report (ours): times in seconds, shares in percent, both
// to tenths. A difference is that of the figures that are shown, so that whoever
// checks it with a pencil finds no other one.

// tenths rounds to one decimal.
func tenths(x float64) float64 { return math.Round(x*10) / 10 }

// inSeconds writes a time.
func inSeconds(s float64) string { return plain(tenths(s), 1) }

// inPercent writes a share of 1.
func inPercent(share float64) string { return plain(tenths(100*share), 1) }

// less is a difference of two times in seconds, as they are shown.
func less(after, before float64) float64 { return tenths(tenths(after) - tenths(before)) }

// points is a difference of two shares in percent, as they are shown.
func points(after, before float64) float64 { return less(100*after, 100*before) }

// between writes the interval of a difference in seconds, wide enough for the
// difference that is shown.
func between(shown float64, e sample.Interval) string {
	low, high := min(tenths(e.Low), shown), max(tenths(e.High), shown)
	if low == 0 && high == 0 {
		return "0"
	}
	return signed(low, 1) + " to " + signed(high, 1)
}

// byHand is a difference in seconds with its interval.
func byHand(after, before float64, e sample.Interval) string {
	d := less(after, before)
	if in := between(d, e); in != "0" {
		return signed(d, 1) + " (" + in + ")"
	}
	return "0"
}

// becomes writes what was and what will be.
func becomes(before, after string) string { return before + " → " + after }

// plain writes a number with as many decimals as asked for, a true minus before it.
func plain(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// bare writes a number without a decimal that says nothing.
func bare(x float64, decimals int) string {
	s := plain(x, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// signed writes a difference with its sign.
func signed(x float64, decimals int) string {
	s := plain(x, decimals)
	if strings.Trim(s, "0.") != "" && !strings.HasPrefix(s, "−") {
		s = "+" + s
	}
	return s
}

// signedInterval writes a difference with its interval.
func signedInterval(value, low, high float64, decimals int) string {
	if value == 0 && low == 0 && high == 0 {
		return "0"
	}
	return fmt.Sprintf("%s (%s to %s)", signed(value, decimals), signed(low, decimals), signed(high, decimals))
}

// timeOr writes seconds, or that the limit came first.
func timeOr(s *float64, decimals int) string {
	if s == nil {
		return "beyond the limit"
	}
	return plain(*s, decimals)
}

// hundred turns a share into percent, without the noise of the multiplication.
func hundred(share float64) float64 { return math.Round(share*1e8) / 1e6 }

// listed joins names as a sentence does.
func listed(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}
