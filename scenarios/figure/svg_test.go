package figure

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestCurvesReadBackWithinAFifthOfAPixel(t *testing.T) {
	for _, f := range samples() {
		for _, width := range widths {
			p := read(t, drawn(t, f.Inline, width))
			for _, m := range f.Marks {
				l, ok := m.(Line)
				if !ok {
					continue
				}
				checkCurve(t, p, l)
			}
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(2, 400).Draw(r, "points")
		l := Line{Name: "walk", Step: rapid.Bool().Draw(r, "step")}
		x, y, rough := 0.0, 0.0, rapid.Float64Range(0, 20).Draw(r, "rough")
		for range n {
			l.At = append(l.At, XY{x, y})
			x += rapid.Float64Range(0, 2).Draw(r, "dx")
			y += rapid.Float64Range(-rough, rough).Draw(r, "dy")
		}
		f := &Figure{Marks: []Mark{l}}
		checkCurve(r, read(r, drawn(r, f.Inline, rapid.Float64Range(320, 1400).Draw(r, "width"))), l)
	})
}

// checkCurve holds every point of a line, and the corners of its steps, against
// the curve that was drawn.
func checkCurve(t rapid.TB, p *picture, l Line) {
	t.Helper()
	g := p.mark(t, "line", l.Name)
	if len(g.paths) == 0 {
		t.Fatalf("%s: nothing drawn", l.Name)
	}
	worst := 0.0
	for i, v := range l.At {
		if v.X < p.x.min || v.X > p.x.max {
			continue
		}
		at := XY{p.x.place(v.X), p.y.place(v.Y)}
		worst = max(worst, beside(at, g.paths[0].runs))
		if l.Step && i > 0 {
			worst = max(worst, beside(XY{at.X, p.y.place(l.At[i-1].Y)}, g.paths[0].runs))
		}
	}
	if worst > 0.2 {
		t.Errorf("%s: a point lies %.2f pixels beside its curve", l.Name, worst)
	}
}

func TestBarsReadBackAsTheirNumbers(t *testing.T) {
	f := costs()
	bars := f.Marks[0].(Bars)
	for _, width := range widths {
		p := read(t, drawn(t, f.SVG, width))
		g := p.mark(t, "bars", "")
		pixel := math.Abs(p.x.value(1) - p.x.value(0))
		for i, b := range bars.Bars {
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, at := range g.paths[i].runs[0] {
				lo, hi = min(lo, p.x.value(at.X)), max(hi, p.x.value(at.X))
			}
			if math.Abs(lo-min(0, b.Value)) > 0.06*pixel || math.Abs(hi-max(0, b.Value)) > 0.06*pixel {
				t.Errorf("bar %d of %v reads %.3f to %.3f, is %.3f", i, width, lo, hi, b.Value)
			}
		}
	}
}

func TestLogarithmicAxesReadBack(t *testing.T) {
	l := Line{Name: "l", At: curve(0.01, 900, 500, func(x float64) float64 { return 3 / x })}
	f := &Figure{X: Axis{Log: true}, Y: Axis{Log: true}, Marks: []Mark{l}}
	p := read(t, drawn(t, f.SVG, 500))
	if !p.x.log || !p.y.log {
		t.Fatal("axes are not said to be logarithmic")
	}
	checkCurve(t, p, l)
	for _, g := range p.groups {
		if g.attrs["data-axis"] == "x" && len(g.text) < 4 {
			t.Errorf("ticks %q", g.text)
		}
	}
}

func TestHostileNamesAreText(t *testing.T) {
	f := hostile()
	for _, width := range widths {
		svg := drawn(t, f.SVG, width)
		p := read(t, svg)
		if p.tags["script"] > 0 || p.tags["svg"] != 1 {
			t.Errorf("tags %v", p.tags)
		}
		if len(svg) > 30_000 {
			t.Errorf("%d bytes", len(svg))
		}
		if !strings.HasPrefix(p.title, "</text></svg><script>alert") || !strings.HasSuffix(p.title, "…") {
			t.Errorf("title %q", p.title)
		}
		if strings.ContainsAny(string(svg), "\x00\x1b\u202e\uffff") {
			t.Error("control characters in the SVG")
		}
	}
	for _, own := range []bool{true, false} {
		for _, line := range strings.Split(f.Text(60, own), "\n") {
			if strings.ContainsAny(line, "\x00\x1b\r\u202e") || cells(line) > 60 {
				t.Errorf("line %q", line)
			}
		}
	}
}

func TestEveryFigureSaysInWordsWhatItShows(t *testing.T) {
	for _, f := range samples() {
		p := read(t, drawn(t, f.Inline, 340))
		if p.title != f.Title || p.desc != f.Alt {
			t.Errorf("title %q, description %q", p.title, p.desc)
		}
	}
}

func TestEveryClassIsInTheStyleSheet(t *testing.T) {
	css := CSS()
	for _, f := range samples() {
		for class := range read(t, drawn(t, f.SVG, 480)).classes {
			if !strings.Contains(css, "."+class) {
				t.Errorf("class %q is not", class)
			}
		}
	}
}

// luminance and contrast are those of WCAG 2.1, sections 1.4.3 and 1.4.11.
func luminance(colour string) float64 {
	c := hex(colour)
	part := func(v uint8) float64 {
		s := float64(v) / 255
		if s <= 0.03928 {
			return s / 12.92
		}
		return math.Pow((s+0.055)/1.055, 2.4)
	}
	return 0.2126*part(c.R) + 0.7152*part(c.G) + 0.0722*part(c.B)
}

func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func TestColoursStandOutOnBothPages(t *testing.T) {
	for i, c := range tones {
		for _, v := range []struct {
			what, colour, page string
			least              float64
		}{
			{"text", c.lightText, lightPage, 4.5}, {"text", c.darkText, darkPage, 4.5},
			{"line", c.light, lightPage, 3}, {"line", c.dark, darkPage, 3},
		} {
			if got := contrast(v.colour, v.page); got < v.least {
				t.Errorf("tone %d: %s %s on %s has contrast %.2f, not %v", i, v.what, v.colour, v.page, got, v.least)
			}
		}
	}
}

func TestTonesDifferInMoreThanColour(t *testing.T) {
	for i, a := range tones {
		for _, b := range tones[:i] {
			if a.marker == b.marker {
				t.Errorf("two tones with the same marker")
			}
			if a.light == b.light || a.dark == b.dark {
				t.Errorf("two tones of the same colour")
			}
		}
	}
}
