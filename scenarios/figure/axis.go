package figure

import (
	"math"
	"strconv"
	"strings"
)

// extent gathers which values the marks of a figure take.
type extent struct{ x, y span }

type span struct {
	lo, hi, positive float64 // positive is the smallest value above 0
	any              bool
}

func (s *span) take(v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	if !s.any {
		s.lo, s.hi, s.any = v, v, true
	}
	s.lo, s.hi = min(s.lo, v), max(s.hi, v)
	if v > 0 && (s.positive == 0 || v < s.positive) {
		s.positive = v
	}
}

// scale places the values of an axis between a (its lower end) and b.
type scale struct {
	lo, hi float64
	log    bool
	a, b   length
}

// scaleOf settles the ends of an axis.
func scaleOf(a *Axis, s span) scale {
	if n := len(a.Categories); n > 0 {
		return scale{lo: -0.5, hi: float64(n) - 0.5}
	}
	sc := scale{lo: a.Min, hi: a.Max, log: a.Log}
	if !(a.Min < a.Max) || math.IsInf(a.Max-a.Min, 0) {
		if a.Zero {
			s.take(0)
		}
		sc.lo, sc.hi = s.lo, s.hi
		if a.Log {
			sc.lo = s.positive
		}
	}
	if sc.log && !(sc.lo > 0) {
		sc.lo = min(1, sc.hi/1000)
		if !(sc.lo > 0) {
			sc.lo, sc.hi = 1, 10
		}
	}
	if !(sc.hi-sc.lo > 1e-9*max(math.Abs(sc.lo), math.Abs(sc.hi))) || math.IsInf(sc.hi-sc.lo, 0) {
		// One value only, or none: give it room.
		switch {
		case sc.log:
			sc.lo, sc.hi = sc.lo/2, sc.lo*2
		case sc.hi == 0 || sc.lo == 0 || math.IsInf(sc.hi-sc.lo, 0):
			sc.lo, sc.hi = 0, 1
		default:
			d := max(math.Abs(sc.lo), math.Abs(sc.hi)) / 2
			sc.lo, sc.hi = sc.lo-d, sc.hi+d
		}
	}
	return sc
}

// part tells where a value lies between the ends, from 0 to 1.
func (s scale) part(v float64) float64 {
	if s.log {
		if !(v > 0) {
			return -1
		}
		return math.Log(v/s.lo) / math.Log(s.hi/s.lo)
	}
	return (v - s.lo) / (s.hi - s.lo)
}

// at places a value. Values far outside are held near the ends, so that no
// length overflows.
func (s scale) at(v float64) length {
	p := min(max(s.part(v), -1), 2)
	if math.IsNaN(p) {
		p = 0
	}
	return s.a + length(math.Round(float64(p*float64(s.b-s.a))))
}

func (s scale) holds(v float64) bool { return v >= s.lo && v <= s.hi }

// decimal is the number count × unit × 10^power, so that ticks are exact.
type decimal struct {
	unit, power int
}

func (d decimal) value(count int) float64 {
	v := float64(count * d.unit)
	if d.power < 0 {
		return v / math.Pow10(-d.power)
	}
	return v * math.Pow10(d.power)
}

// coarser is the next step in the row 1, 2, 5, 10.
func (d decimal) coarser() decimal {
	switch d.unit {
	case 1:
		return decimal{2, d.power}
	case 2:
		return decimal{5, d.power}
	}
	return decimal{1, d.power + 1}
}

// finest is the smallest step that makes at most so many ticks of a range.
func finest(width float64, most int, whole bool) decimal {
	d := decimal{1, max(int(math.Floor(math.Log10(width)))-3, -300)}
	if whole && d.power < 0 {
		d = decimal{1, 0}
	}
	for width/d.value(1) > float64(most) {
		d = d.coarser()
	}
	return d
}

// ticks lists the multiples of a step between the ends.
func (s scale) ticks(d decimal) []Tick {
	const slack = 1e-9
	step := d.value(1)
	var out []Tick
	first, last := math.Ceil(s.lo/step-slack), math.Floor(s.hi/step+slack)
	for n := first; n <= last && len(out) < 64; n++ {
		v := d.value(int(n))
		if p := s.part(v); p < -slack || p > 1+slack {
			continue
		}
		out = append(out, Tick{v, d.label(v, s)})
	}
	return out
}

// label writes a tick: as a plain number where that is short, and otherwise with
// a power of ten.
func (d decimal) label(v float64, s scale) string {
	if d.power >= -4 && max(math.Abs(s.lo), math.Abs(s.hi)) < 1e7 {
		return number(v, max(0, -d.power))
	}
	return power(v)
}

// power writes a number with a power of ten.
func power(v float64) string {
	if v == 0 {
		return "0"
	}
	return strings.Replace(strings.ReplaceAll(strconv.FormatFloat(v, 'g', 6, 64), "-", "−"), "e+", "e", 1)
}

// number writes a value for a person: a true minus sign, and thin spaces from
// five digits on.
func number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if zero := strings.Trim(s, "-0."); zero == "" {
		s = strings.TrimPrefix(s, "-")
	}
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "−", s[1:]
	}
	whole, rest, point := strings.Cut(s, ".")
	if len(whole) > 4 {
		var b strings.Builder
		for i, r := range whole {
			if i > 0 && (len(whole)-i)%3 == 0 {
				b.WriteRune('\u2009')
			}
			b.WriteRune(r)
		}
		whole = b.String()
	}
	if point {
		whole += "." + rest
	}
	return sign + whole
}

// plainNumber writes a value with as many decimals as it needs.
func plainNumber(v float64) string {
	if a := math.Abs(v); a >= 1e7 || a < 1e-4 {
		return power(v)
	}
	s := strconv.FormatFloat(v, 'f', -1, 64)
	decimals := 0
	if i := strings.IndexByte(s, '.'); i >= 0 {
		decimals = min(len(s)-i-1, 6)
	}
	return number(v, decimals)
}

// logTicks lists 1, 2 and 5 (or only 1) of every decade.
func (s scale) logTicks(all bool) []Tick {
	var out []Tick
	for p := int(math.Floor(math.Log10(s.lo))) - 1; p < 300 && len(out) < 64; p++ {
		for _, u := range []int{1, 2, 5} {
			if u > 1 && !all {
				continue
			}
			v := decimal{u, p}.value(1)
			if v > s.hi*(1+1e-9) {
				return out
			}
			if v >= s.lo*(1-1e-9) {
				label := power(v)
				if p >= -4 && p < 7 {
					label = number(v, max(0, -p))
				}
				out = append(out, Tick{v, label})
			}
		}
	}
	return out
}
