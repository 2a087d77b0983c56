package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"dialwright/scenarios/figure"
)

// The tones that stand for before and after in every figure, and for what stays as
// it is.
const (
	beforeTone = figure.Vermilion
	afterTone  = figure.Blue
	sameTone   = figure.Quiet
)

// Figures returns every figure of the report, in the order of the page.
func (r *Report) Figures() []*figure.Figure {
	var all []*figure.Figure
	for _, part := range [][]*figure.Figure{r.stories(), r.times(), r.sizes(), r.links(), r.lost(), r.turns(), r.gains(), r.fronts(), r.around()} {
		all = append(all, part...)
	}
	return all
}

// named gives a figure a name of its own, from its kind and from names in files.
func named(kind string, n int, names ...string) string {
	s := kind + "-" + strconv.Itoa(n+1)
	for _, x := range names {
		if x = slug(x); x != "" {
			s += "-" + x
		}
	}
	return s
}

// plain writes a number with as many decimals as asked for, a true minus before it.
func plain(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// signed writes a difference with its sign.
func signed(x float64, decimals int) string {
	s := plain(x, decimals)
	if strings.Trim(s, "0.") != "" && !strings.HasPrefix(s, "−") {
		s = "+" + s
	}
	return s
}

// interval writes a difference with its interval.
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
