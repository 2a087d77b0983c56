package report

import (
	"fmt"
	"math"
	"strings"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/sample"
)

// stories draws single dialings by the same person before and after: the number on
// the screen, the clicks, and what waits.
func (r *Report) stories() []*figure.Figure {
	var list []*figure.Figure
	for i := range r.Stories {
		list = append(list, r.Stories[i].figure(i))
	}
	return list
}

// mostRows is how many numbers of a dialing its table lists, evenly picked; the JSON has
// them all.
const mostRows = 30

func (s *StoryReport) figure(number int) *figure.Figure {
	f := &figure.Figure{
		Name: named("dialing", number, s.Kind, s.Task), Title: s.finding(),
		Caption: fmt.Sprintf("Trial %d. The number on the screen over time; the strokes at the foot are clicks. Shaded: pulses that wait in the firmware, and where the number would be with them.", s.Trial),
		X:       figure.Axis{Label: "time (s)", Zero: true}, Y: figure.Axis{Label: s.label()},
		Table: figure.Table{Header: []string{"", "time (s)", "number (" + s.Unit + ")"}},
	}
	half := max(s.Within, 0)
	lo, hi := s.Aim, s.Aim
	courses := []*CourseReport{&s.Before}
	if s.After != nil {
		courses = append(courses, s.After)
	}
	end := 0.0
	for _, c := range courses {
		for _, list := range [][]Reading{c.Shown, c.Waiting} {
			for _, x := range list {
				lo, hi, end = min(lo, x.Value), max(hi, x.Value), max(end, x.Time)
			}
		}
		if c.Time != nil {
			end = max(end, *c.Time)
		}
	}
	end = sample.Round(end * 1.03)
	f.X.Max = end
	room := max(hi-lo, 2*half) / 25
	f.Y.Min, f.Y.Max = sample.Round(min(lo, s.Aim-half)-room), sample.Round(max(hi, s.Aim+half)+room)
	if half == 0 {
		// A target without tolerance is one number: half a hundredth of the figure on
		// either side makes it seen.
		half = (hi - lo) / 200
	}
	f.Marks = append(f.Marks, figure.Band{Name: "target", Tone: figure.Green, From: s.Aim - half, To: s.Aim + half})
	if r := s.Wrap; r.Span > 0 && (lo < r.Low || hi >= r.Low+r.Span) { // it goes past where the ring wraps
		f.Y.Ticks = s.Wrap.ticks(lo, hi)
	}
	var told []string
	for i, c := range courses {
		name, tone := "before", beforeTone
		if i == 1 {
			name, tone = "after", afterTone
		}
		if len(courses) == 1 {
			name = "now"
		}
		if a, ok := c.backlog("waiting "+name, tone); ok {
			f.Marks = append(f.Marks, a)
		}
		f.Marks = append(f.Marks, c.line(name, tone, end), figure.Rug{Name: "clicks " + name, Tone: tone, At: c.Detents})
		every := (len(c.Shown) + mostRows - 1) / mostRows
		for i, x := range c.Shown {
			if i%every != 0 && i != len(c.Shown)-1 {
				continue
			}
			f.Table.Rows = append(f.Table.Rows, []string{name, plain(x.Time, 2), s.Wrap.text(x.Value)})
		}
		told = append(told, fmt.Sprintf("%s, the number stands on the target after %s s, with %d clicks in %d strokes, of which %d lost, and %d steps of overshoot",
			name, timeOr(c.Time, 1), len(c.Detents), c.Strokes, c.Lost, c.Overshoot))
	}
	f.Alt = upper(strings.Join(told, "; ") + ".")
	return f
}

// finding is what the dialing shows.
func (s *StoryReport) finding() string {
	t := fmt.Sprintf("%s dialing of %s, %s to %s", upper(s.article()), short(s.Task), s.Start, s.Target)
	if s.After == nil {
		return t + ": " + timeOr(s.Before.Time, 1) + " s"
	}
	return t + ": " + timeOr(s.After.Time, 1) + " s instead of " + timeOr(s.Before.Time, 1) + " s"
}

func (s *StoryReport) article() string {
	if strings.ContainsRune("aeiou", rune(s.Kind[0])) {
		return "an " + s.Kind
	}
	return "a " + s.Kind
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func (s *StoryReport) label() string {
	if s.Unit == "steps from the target" {
		return s.Unit
	}
	return "number (" + s.Unit + ")"
}

// line is the number on the screen, until the end of the figure.
func (c *CourseReport) line(name string, tone figure.Tone, end float64) figure.Line {
	l := figure.Line{Name: name, Tone: tone, Step: true}
	for _, x := range c.Shown {
		l.At = append(l.At, figure.XY{X: x.Time, Y: x.Value})
	}
	if c.Time != nil {
		end = min(end, max(*c.Time, l.At[len(l.At)-1].X))
	}
	l.At = append(l.At, figure.XY{X: end, Y: l.At[len(l.At)-1].Y})
	return l
}

// backlog is the surface between the number and what it would be with all that
// waits.
func (c *CourseReport) backlog(name string, tone figure.Tone) (figure.Area, bool) {
	a := figure.Area{Name: name, Tone: tone, Step: true}
	var i, j int
	waits := false
	for i < len(c.Shown) || j < len(c.Waiting) {
		at := math.Inf(1)
		if i < len(c.Shown) {
			at = c.Shown[i].Time
		}
		if j < len(c.Waiting) {
			at = min(at, c.Waiting[j].Time)
		}
		for i < len(c.Shown) && c.Shown[i].Time == at {
			i++
		}
		for j < len(c.Waiting) && c.Waiting[j].Time == at {
			j++
		}
		shown, waiting := c.Shown[i-1].Value, c.Waiting[j-1].Value
		a.Lower = append(a.Lower, figure.XY{X: at, Y: shown})
		a.Upper = append(a.Upper, figure.XY{X: at, Y: waiting})
		waits = waits || shown != waiting
	}
	return a, waits
}

// text writes a reading as the screen shows it.
func (r Wrap) text(v float64) string {
	if r.Span > 0 {
		v = sample.Round(math.Mod(math.Mod(v-r.Low, r.Span)+r.Span, r.Span) + r.Low)
	}
	s := plain(v, 3)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// ticks marks round numbers of a ring, as the screen shows them.
func (r Wrap) ticks(lo, hi float64) []figure.Tick {
	step := r.Span / 4
	for _, s := range []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45, 90, 180, 360, 500, 1000, 2000, 5000, 10000} {
		if (hi-lo)/s <= 6 {
			step = s
			break
		}
	}
	var list []figure.Tick
	for n := math.Ceil(lo / step); n*step <= hi && len(list) < 20; n++ {
		list = append(list, figure.Tick{At: sample.Round(n * step), Label: r.text(n * step)})
	}
	return list
}
