package paired

import (
	"fmt"
	"math"
	"strings"

	"dialwright/encoder/draw"
)

// Pair is what two candidates made of the same trials of one task.
type Pair struct {
	A, B string // the candidates' names; a verdict speaks of A
	Task string // may be empty

	TimesA, TimesB []float64 // time to target in seconds, by trial; +Inf for a timeout
	Limit          float64   // seconds

	OvershotA, OvershotB []bool // by trial; both nil when nobody asked
}

// Verdict is what can be said about a pair.
type Verdict struct {
	A, B, Task string
	Time       Difference      // seconds
	Overshoot  ShareDifference // without trials when nobody asked
	Of         float64         // B's mean time, timeouts as the limit, s

	// The p values of the sign test, of the mean difference and of the overshoot
	// share, adjusted by Holm over the three, or over all of a [Family].
	SignsP, AverageP, OvershootP float64
}

// Outcome is A's time beside B's.
type Outcome int

const (
	NoDifference Outcome = iota // none was found, which does not show that there is none
	TooSmall                    // one was found that is not [Useful]
	Faster
	Slower
	Mixed // more trials are faster, their mean is slower, or the other way round
)

func (o Outcome) String() string {
	return [...]string{"no difference found", "no useful difference", "faster", "slower", "mixed"}[o]
}

// Judge compares a pair. It panics when samples differ in length.
func Judge(p Pair, from draw.Trial) Verdict {
	v := Verdict{A: p.A, B: p.B, Task: p.Task}
	v.Time = CompareTimes(p.TimesA, p.TimesB, p.Limit, from)
	v.Overshoot = CompareShares(p.OvershotA, p.OvershotB)
	for _, t := range Capped(p.TimesB, p.Limit) {
		v.Of += t / float64(len(p.TimesB))
	}
	one := []Verdict{v}
	Family(one)
	return one[0]
}

// Family makes verdicts that are read together stricter: it adjusts the p values
// of all their tests by one [Holm].
func Family(verdicts []Verdict) {
	var raw []float64
	for _, v := range verdicts {
		raw = append(raw, v.Time.Signs.P, v.Time.Average.P)
		if v.askedOvershoot() {
			raw = append(raw, v.Overshoot.P)
		}
	}
	adjusted := Holm(raw)
	for i := range verdicts {
		v := &verdicts[i]
		v.SignsP, v.AverageP, v.OvershootP = adjusted[0], adjusted[1], 1
		adjusted = adjusted[2:]
		if v.askedOvershoot() {
			v.OvershootP, adjusted = adjusted[0], adjusted[1:]
		}
	}
}

func (v Verdict) askedOvershoot() bool {
	s := v.Overshoot
	return s.Both+s.OnlyA+s.OnlyB+s.Neither > 0
}

// found says whether a p value counts as a difference found.
func found(p float64) bool { return below(p, 1-Level) }

// moreOften is −1 when A is found to be faster in more trials than slower, 1 the
// other way round, else 0.
func (v Verdict) moreOften() int {
	switch s := v.Time.Signs; {
	case !found(v.SignsP):
		return 0
	case s.Minus > s.Plus:
		return -1
	default:
		return 1
	}
}

// onAverage is the sign of the mean difference where one is found, else 0.
func (v Verdict) onAverage() int {
	if !found(v.AverageP) {
		return 0
	}
	return v.Time.Average.Mean.Sign()
}

// typically is the sign of the median difference where one is found, else 0.
func (v Verdict) typically() int {
	if s := v.Time.Median.Sign(); s == v.moreOften() {
		return s
	}
	return 0
}

// Outcome decides about time. A difference is found when the sign test or the
// mean's test finds one; when both do and disagree the outcome is mixed. One that is
// useful neither in the middle nor on average is too small.
func (v Verdict) Outcome() Outcome {
	often, mean := v.moreOften(), v.onAverage()
	switch {
	case (often != 0 || mean != 0) && !v.beyond() && !Useful(v.Time.Median.Value, v.Of) && !Useful(v.Time.Average.Mean.Value, v.Of):
		return TooSmall
	case often*mean < 0:
		return Mixed
	case often+mean < 0:
		return Faster
	case often+mean > 0:
		return Slower
	}
	return NoDifference
}

// OvershootSign is 1 when A is found to overshoot in more trials than B, −1 when
// in fewer, else 0.
func (v Verdict) OvershootSign() int {
	if !found(v.OvershootP) {
		return 0
	}
	return v.Overshoot.Difference.Sign()
}

// TimeP is the smaller of the two adjusted p values about time.
func (v Verdict) TimeP() float64 { return min(v.SignsP, v.AverageP) }

// Sentence says the verdict in one plain sentence, without a full stop. Times in
// brackets are 95 % intervals; where no difference is found they are A's time
// minus B's.
func (v Verdict) Sentence() string {
	if v.Time.Trials == 0 {
		return fmt.Sprintf("no trials to compare %s with %s%s", v.A, v.B, v.on())
	}
	var s string
	switch outcome := v.Outcome(); {
	case outcome == NoDifference:
		s = v.undecided()
	case outcome == TooSmall:
		m := v.Time.Average.Mean
		s = fmt.Sprintf("no useful difference between %s and %s%s (%s)", v.A, v.B, v.on(), within(m, 0))
	case outcome == Mixed:
		m := v.Time.Average.Mean
		s = fmt.Sprintf("%s is %s than %s in more trials%s (%s), but %s on average (%s)", v.A, speed(v.moreOften()), v.B, v.on(),
			v.counts(v.moreOften()), amount(m, v.onAverage()), within(m, v.onAverage()))
	case v.typically() != 0:
		sign, m := v.typically(), v.Time.Median
		how := amount(m, sign)
		if v.beyond() {
			how = "at least " + how
		}
		s = fmt.Sprintf("%s is %s than %s%s (%s)", v.A, how, v.B, v.on(), within(m, sign))
	case v.onAverage() != 0:
		sign, m := v.onAverage(), v.Time.Average.Mean
		s = fmt.Sprintf("%s is %s than %s on average%s (%s; %s)", v.A, amount(m, sign), v.B, v.on(), within(m, sign), v.counts(sign))
	default:
		sign := v.moreOften()
		s = fmt.Sprintf("%s is more often %s than %s%s (%s)", v.A, speed(sign), v.B, v.on(), v.counts(sign))
	}
	return s + v.overshoots() + v.timeouts()
}

func (v Verdict) on() string {
	if v.Task == "" {
		return ""
	}
	return " on " + v.Task
}

// undecided tells why no difference in time was found.
func (v Verdict) undecided() string {
	s := fmt.Sprintf("no difference found between %s and %s%s ", v.A, v.B, v.on())
	switch t := v.Time; {
	case t.Signs.Zero == t.Trials && t.TimeoutsBoth == 0:
		return s + fmt.Sprintf("(the same time in all %d trials)", t.Trials)
	case math.IsInf(t.Median.Low, 0) && math.IsInf(t.Median.High, 0):
		return s + "(too many timeouts to tell)"
	case t.Median.Sign() != 0:
		return s + fmt.Sprintf("(%s, which may be chance)", within(t.Median, 0))
	default:
		return s + "(" + within(t.Median, 0) + ")"
	}
}

// beyond says whether timeouts leave the size of the median difference open.
func (v Verdict) beyond() bool { return math.IsInf(v.Time.Least, 0) || math.IsInf(v.Time.Most, 0) }

// counts says in how many trials A was faster and slower, the given sign first.
func (v Verdict) counts(sign int) string {
	s := v.Time.Signs
	if sign < 0 {
		return fmt.Sprintf("faster in %d, slower in %d, the same in %d trials", s.Minus, s.Plus, s.Zero)
	}
	return fmt.Sprintf("slower in %d, faster in %d, the same in %d trials", s.Plus, s.Minus, s.Zero)
}

func (v Verdict) overshoots() string {
	if !v.askedOvershoot() {
		return ""
	}
	d, sign, outcome := v.Overshoot.Difference, v.OvershootSign(), v.Outcome()
	if sign == 0 {
		if outcome <= TooSmall {
			return ""
		}
		return "; no difference found in overshoot"
	}
	if sign < 0 {
		d = d.Negated()
	}
	d = Estimate{100 * d.Value, 100 * d.Low, 100 * d.High}
	digits := digits(d, 0)
	how := fmt.Sprintf("%s points %s often (%s to %s)", number(d.Value, digits), [...]string{"less", "", "more"}[sign+1],
		number(d.Low, digits), number(d.High, digits))
	switch {
	case outcome <= TooSmall:
		return fmt.Sprintf(", but %s overshoots %s", v.A, how)
	case outcome == Faster && sign < 0, outcome == Slower && sign > 0:
		return ", and overshoots " + how
	default:
		return ", but overshoots " + how
	}
}

func (v Verdict) timeouts() string {
	t := v.Time
	if t.TimeoutsA+t.TimeoutsB == 0 {
		return ""
	}
	return fmt.Sprintf("; of %d trials %d timed out with %s, %d with %s", t.Trials, t.TimeoutsA, v.A, t.TimeoutsB, v.B)
}

func speed(sign int) string { return [...]string{"faster", "", "slower"}[sign+1] }

// amount writes a difference in seconds as "1.8 s faster".
func amount(e Estimate, sign int) string {
	n := number(math.Abs(e.Value), digits(e, 1))
	if strings.Trim(n, "0.") == "" {
		n = "less than " + number(0.001, 3)
	}
	return n + " s " + speed(sign)
}

// within writes an interval in seconds, turned round for A being faster.
func within(e Estimate, sign int) string {
	if sign < 0 {
		e = e.Negated()
	}
	digits := digits(e, 1)
	low, high := number(e.Low, digits), number(e.High, digits)
	switch {
	case math.IsInf(e.High, 0):
		return low + " s or more"
	case math.IsInf(e.Low, 0):
		return high + " s or less"
	}
	return low + " to " + high + " s"
}

// digits returns how many digits after the point tell the ends of an interval
// apart, and from 0 where 0 lies outside: at least the given number, at most 3.
func digits(e Estimate, least int) int {
	for d := least; d < 3; d++ {
		unit := math.Pow10(-d)
		vanishes := func(x float64) bool { return x != 0 && math.Abs(x) < unit/2 }
		apart := e.High-e.Low >= unit || e.High == e.Low && math.Abs(math.Remainder(e.Low, unit)) < 1e-9
		if apart && (e.Sign() == 0 || !vanishes(e.Value) && !vanishes(e.Low) && !vanishes(e.High)) {
			return d
		}
	}
	return 3
}

// number writes x with a true minus sign and no negative 0.
func number(x float64, digits int) string {
	s := fmt.Sprintf("%.*f", digits, math.Abs(x))
	if x < 0 && strings.Trim(s, "0.") != "" {
		return "−" + s
	}
	return s
}
