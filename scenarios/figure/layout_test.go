package figure

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// checkTexts measures every text with the font's own widths.
func checkTexts(t rapid.TB, what string, p *picture) {
	t.Helper()
	for i, a := range p.texts {
		if a.x0 < 0 || a.y0 < 0 || a.x1 > p.w || a.y1 > p.h {
			t.Errorf("%s: %q reaches out of %v × %v: %.1f %.1f – %.1f %.1f", what, a.text, p.w, p.h, a.x0, a.y0, a.x1, a.y1)
		}
		for _, b := range p.texts[:i] {
			if a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1 {
				t.Errorf("%s: %q and %q overlap", what, a.text, b.text)
			}
		}
	}
}

func TestNoTextIsClippedOrMeetsAnother(t *testing.T) {
	for _, f := range append(samples(), hostile()) {
		for width := 320.0; width < 1200; width += 37 {
			checkTexts(t, fmt.Sprintf("%s at %v", f.Name, width), read(t, drawn(t, f.Inline, width)))
			checkTexts(t, fmt.Sprintf("%s alone at %v", f.Name, width), read(t, drawn(t, f.SVG, width)))
		}
	}
}

func TestNoTextOfAnyFigureIsClippedOrMeetsAnother(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := anyFigure(r)
		width := rapid.Float64Range(320, 1400).Draw(r, "width")
		draw := f.Inline
		if rapid.Bool().Draw(r, "own") {
			draw = f.SVG
		}
		checkTexts(r, fmt.Sprintf("%+v", f), read(r, drawn(r, draw, width)))
	})
}

// anyFigure makes up a figure of any marks.
func anyFigure(r *rapid.T) *Figure {
	name := func(what string) string {
		return rapid.OneOf(rapid.SampledFrom([]string{"", "before", "after", "com radio, 8.33 kHz channels", "waits in the queue", "−12.5 s"}),
			rapid.StringMatching(`[a-zA-Zéß ]{0,60}`), rapid.String()).Draw(r, what)
	}
	value := func(what string) float64 {
		return rapid.OneOf(rapid.Float64Range(-10, 10), rapid.Float64Range(-1e7, 1e7), rapid.Float64Range(0, 1e-4), rapid.Float64()).Draw(r, what)
	}
	curve := func() []XY {
		var out []XY
		for range rapid.IntRange(0, 12).Draw(r, "points") {
			out = append(out, XY{value("x"), value("y")})
		}
		return out
	}
	axis := func() Axis {
		a := Axis{Label: name("label"), Log: rapid.Bool().Draw(r, "log"), Whole: rapid.Bool().Draw(r, "whole"), Zero: rapid.Bool().Draw(r, "zero")}
		if rapid.Bool().Draw(r, "ends") {
			a.Min, a.Max = value("min"), value("max")
		}
		if rapid.IntRange(0, 3).Draw(r, "ticks") == 0 {
			for range rapid.IntRange(0, 8).Draw(r, "n") {
				a.Ticks = append(a.Ticks, Tick{value("tick"), name("tick")})
			}
		}
		return a
	}
	f := &Figure{Title: name("title"), Caption: name("caption"), X: axis(), Y: axis()}
	rows := rapid.IntRange(0, 7).Draw(r, "rows")
	switch rapid.IntRange(0, 2).Draw(r, "categories") {
	case 0:
		for range rows {
			f.X.Categories = append(f.X.Categories, name("column"))
		}
	case 1:
		for range rows {
			f.Y.Categories = append(f.Y.Categories, name("row"))
		}
	}
	if rapid.IntRange(0, 8).Draw(r, "pairs") == 0 {
		m := Pairs{Before: name("before"), After: name("after"), Same: name("same")}
		for range rows {
			m.Rows = append(m.Rows, PairRow{name("row"), number(math.Abs(value("note")), 0)})
		}
		for range rapid.IntRange(0, 2).Draw(r, "columns") {
			c := PairColumn{Label: name("column"), Limit: math.Abs(value("limit")), Bound: name("bound")}
			for range rows {
				c.Pairs = append(c.Pairs, Pair{math.Abs(value("before")), math.Abs(value("after")), number(value("text"), 1), number(value("text"), 1), rapid.Bool().Draw(r, "same")})
			}
			m.Columns = append(m.Columns, c)
		}
		f.Marks = append(f.Marks, m)
	}
	for range rapid.IntRange(0, 6).Draw(r, "marks") {
		t := Tone(rapid.IntRange(0, 7).Draw(r, "tone"))
		switch rapid.IntRange(0, 7).Draw(r, "kind") {
		case 0:
			f.Marks = append(f.Marks, Line{name("line"), t, curve(), rapid.Bool().Draw(r, "step"), rapid.Bool().Draw(r, "markers")})
		case 1:
			f.Marks = append(f.Marks, Area{name("area"), t, curve(), curve(), rapid.Bool().Draw(r, "step")})
		case 2:
			f.Marks = append(f.Marks, Band{name("band"), t, value("from"), value("to"), rapid.Bool().Draw(r, "x")})
		case 3:
			b := Bars{Name: name("bars"), Tone: t}
			for i := range rows {
				v := value("value")
				b.Bars = append(b.Bars, Bar{float64(i), 0, v, v - 1, v + 1, name("text")})
			}
			f.Marks = append(f.Marks, b)
		case 4:
			f.Marks = append(f.Marks, Histogram{name("histogram"), t, []float64{0, 1, 2}, []float64{value("share"), 2}})
		case 5:
			f.Marks = append(f.Marks, Rug{name("rug"), t, []float64{value("at"), value("at")}})
		case 6:
			p := Points{Name: name("points"), Tone: t}
			for _, v := range curve() {
				p.At = append(p.At, Point{v.X, v.Y, v.Y - 1, v.Y + 1, name("point"), rapid.Bool().Draw(r, "chosen")})
			}
			f.Marks = append(f.Marks, p)
		case 7:
			s := Spans{Name: name("spans"), Tone: t}
			for i := range rows {
				from := value("from")
				s.Spans = append(s.Spans, Span{i, from, from + max(0, value("long")), name("letter")})
			}
			f.Marks = append(f.Marks, s)
		}
	}
	return f
}

// The line of a limit stops where the number of a pair stands.
func TestALimitsLineCrossesNoNumber(t *testing.T) {
	crossed := 0
	for after := 8.0; after < 19; after += 0.25 {
		c := PairColumn{Label: "dialings that overshoot (%)", Limit: 10, Bound: "cap 10 %", Pairs: []Pair{
			{18.8, after, "18.8", fmt.Sprintf("%.1f !", after), false},
			{after, after, "", fmt.Sprintf("%.1f", after), true},
		}}
		f := Figure{Name: "pairs", Marks: []Mark{Pairs{Before: "before", After: "after", Rows: []PairRow{{"nav", "4/h"}, {"com", "4/h"}}, Columns: []PairColumn{c}}}}
		for _, width := range []float64{340, 860} {
			p := read(t, drawn(t, f.SVG, width))
			pieces := 0
			for _, g := range p.groups {
				for _, line := range g.paths {
					for _, run := range line.runs {
						a, b := run[0], run[len(run)-1]
						if line.class != "t" || a.X != b.X {
							continue
						}
						pieces++
						for _, x := range p.texts {
							if x.x0 < a.X && a.X < x.x1 && x.y0+2 < b.Y && a.Y < x.y1-2 {
								t.Errorf("width %g: the line from %g to %g crosses %q", width, a.Y, b.Y, x.text)
							}
						}
					}
				}
			}
			crossed += pieces - 1
		}
	}
	if crossed < 4 {
		t.Errorf("%d numbers stood on the line", crossed)
	}
}
