package report

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"dialwright/scenarios/figure"
)

// picture is what can be read back out of an SVG.
type picture struct {
	x, y  ruler
	marks []mark
}

// ruler is an axis: pixels from to stand for min to max.
type ruler struct{ min, max, from, to float64 }

func (r ruler) value(px float64) float64 {
	return r.min + (px-r.from)/(r.to-r.from)*(r.max-r.min)
}

// pixel is how much a pixel is worth.
func (r ruler) pixel() float64 { return math.Abs((r.max - r.min) / (r.to - r.from)) }

type mark struct {
	kind, name string
	paths      [][]point // corner by corner
	dots       []point
}

type point struct{ x, y float64 }

// read takes a picture apart.
func read(t *testing.T, f *figure.Figure, width float64) picture {
	t.Helper()
	var out bytes.Buffer
	if err := f.Inline(&out, width); err != nil {
		t.Fatal(err)
	}
	var p picture
	d := xml.NewDecoder(&out)
	depth, at := 0, -1
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		return v
	}
	for {
		tok, err := d.Token()
		if err != nil {
			return p
		}
		switch e := tok.(type) {
		case xml.StartElement:
			depth++
			a := map[string]string{}
			for _, x := range e.Attr {
				a[x.Name.Local] = x.Value
			}
			switch {
			case a["data-axis"] != "":
				r := ruler{number(a["data-min"]), number(a["data-max"]), number(a["data-from"]), number(a["data-to"])}
				if a["data-axis"] == "x" {
					p.x = r
				} else {
					p.y = r
				}
			case a["data-mark"] != "":
				p.marks, at = append(p.marks, mark{kind: a["data-mark"], name: a["data-name"]}), depth
			case at >= 0 && e.Name.Local == "path":
				m := &p.marks[len(p.marks)-1]
				m.paths = append(m.paths, corners(t, a["d"])...)
			case at >= 0 && e.Name.Local == "circle":
				m := &p.marks[len(p.marks)-1]
				m.dots = append(m.dots, point{number(a["cx"]), number(a["cy"])})
			}
		case xml.EndElement:
			if depth == at {
				at = -1
			}
			depth--
		}
	}
}

var pathToken = regexp.MustCompile(`[MmlhvzLHV]|-?[0-9.]+`)

// corners follows a path of straight lines.
func corners(t *testing.T, d string) [][]point {
	t.Helper()
	var all [][]point
	var command string
	var args []float64
	var at point
	for _, s := range pathToken.FindAllString(d, -1) {
		if v, err := strconv.ParseFloat(s, 64); err == nil {
			args = append(args, v)
		} else {
			command, args = s, nil
		}
		switch n := len(args); {
		case command == "M" && n == 2:
			at = point{args[0], args[1]}
			all = append(all, []point{at})
			command, args = "l", nil
			continue
		case command == "l" && n == 2:
			at = point{at.x + args[0], at.y + args[1]}
		case command == "h" && n == 1:
			at.x += args[0]
		case command == "v" && n == 1:
			at.y += args[0]
		case command == "z" || n < 2:
			continue
		default:
			t.Fatalf("path %.80q", d)
		}
		all[len(all)-1] = append(all[len(all)-1], at)
		args = nil
	}
	return all
}

// find returns the only mark of a kind and name.
func (p picture) find(t *testing.T, kind, name string) mark {
	t.Helper()
	var found []mark
	for _, m := range p.marks {
		if m.kind == kind && m.name == name {
			found = append(found, m)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d marks %s %q", len(found), kind, name)
	}
	return found[0]
}

// The pictures show the numbers that the JSON has: read back from the SVG at both
// widths, curves, bars and dots stand where the JSON's values are.
func TestFiguresShowTheNumbersOfTheJSON(t *testing.T) {
	text, err := json.Marshal(result(t).Report())
	if err != nil {
		t.Fatal(err)
	}
	var r Report
	if err := json.Unmarshal(text, &r); err != nil {
		// The evidence and the values of a curve are of kinds that JSON does not name.
		t.Fatal(err)
	}
	for _, width := range []float64{wideFigure, narrowFigure} {
		for i, f := range r.times() {
			p := read(t, f, width)
			before, after := "before", "after"
			if !r.Tasks[i].Changed {
				before = "now"
			}
			var b, a []point
			for _, d := range r.Tasks[i].Done {
				if d.Share > shown {
					break
				}
				if d.Before != nil {
					b = append(b, point{*d.Before, 100 * d.Share})
				}
				if d.After != nil {
					a = append(a, point{*d.After, 100 * d.Share})
				}
			}
			p.on(t, f.Name, p.find(t, "line", before), b)
			if r.Tasks[i].Changed {
				p.on(t, f.Name, p.find(t, "line", after), a)
			}
		}
		for _, f := range r.links() {
			p := read(t, f, width)
			m := p.find(t, "bars", "")
			p.bar(t, f.Name+" hand and eye", m.paths, r.Explain.Ideal.Time.Value, 0)
			for i, l := range r.Explain.Links {
				p.bar(t, f.Name+" "+l.Link, m.paths, l.Time.Value, float64(i+1))
			}
		}
		for i, f := range r.stories() {
			p := read(t, f, width)
			s := r.Stories[i]
			check := func(name string, c *CourseReport) {
				var want []point
				for _, x := range c.Shown {
					want = append(want, point{x.Time, x.Value})
				}
				p.on(t, f.Name, p.find(t, "line", name), want)
				if n := len(p.find(t, "rug", "clicks "+name).paths); n != len(c.Detents) {
					t.Errorf("%s: %d strokes for %d clicks", f.Name, n, len(c.Detents))
				}
			}
			if s.After == nil {
				check("now", &s.Before)
				continue
			}
			check("before", &s.Before)
			check("after", s.After)
		}
		sizes := r.sizes()
		for _, task := range r.Tasks {
			if len(task.Sizes) == 0 {
				continue
			}
			f := sizes[0]
			sizes = sizes[1:]
			p := read(t, f, width)
			before := "before"
			if !task.Changed {
				before = "now"
			}
			for k, size := range task.Sizes {
				p.column(t, f.Name, p.find(t, "bars", before).paths, float64(k), 100*float64(size.Before)/float64(task.Before.Trials))
				if task.Changed {
					p.column(t, f.Name, p.find(t, "bars", "after").paths, float64(k), 100*float64(size.After)/float64(task.After.Trials))
				}
			}
		}
		lost := 0
		for _, f := range r.lost() {
			p := read(t, f, width)
			for _, k := range r.Knobs {
				if f.Title != "The "+k.Knob+" knob: clicks lost by speed" {
					continue
				}
				lost++
				ways := map[string]func(Rate) Count{"before": func(x Rate) Count { return x.Before }, "after": func(x Rate) Count { return x.After }}
				if !k.Changed {
					ways = map[string]func(Rate) Count{"now": ways["after"]}
				}
				for name, of := range ways {
					var want []point
					for _, x := range k.Rates {
						if c := of(x); c.Detents >= leastClicks {
							want = append(want, point{(x.From + x.To) / 2, 100 * float64(c.Lost) / float64(c.Detents)})
						}
					}
					p.on(t, f.Name, p.find(t, "line", name), want)
				}
			}
		}
		if lost == 0 || len(sizes) != 0 {
			t.Errorf("%d figures of lost clicks; %d of sizes for no task", lost, len(sizes))
		}
		n := 0
		for _, k := range r.Knobs {
			f := k.gains(0)
			if f == nil {
				continue
			}
			n++
			p := read(t, f, width)
			for _, g := range k.Gains {
				var want []point
				for _, x := range g.Points {
					if x.PerS > f.X.Max {
						break // this person hardly ever turns so fast
					}
					want = append(want, point{x.PerS, x.Gain})
				}
				p.on(t, f.Name, p.find(t, "line", g.Name), want)
			}
		}
		if n == 0 && !testing.Short() {
			t.Error("no gain curve was drawn")
		}
		for _, f := range r.fronts() {
			p := read(t, f, width)
			dots := p.find(t, "points", "tried").dots
			n := 0
			for _, x := range r.Search.Front {
				if fmt.Sprintf("The %s knob: time against overshoot", short(x.Knob)) != f.Title {
					continue
				}
				d := dots[n]
				if math.Abs(p.x.value(d.x)-x.TimeS) > 0.6*p.x.pixel() || math.Abs(p.y.value(d.y)-100*x.Overshoot) > 0.6*p.y.pixel() {
					t.Errorf("%s: %v, %v is drawn at %v, %v", f.Name, x.TimeS, 100*x.Overshoot, p.x.value(d.x), p.y.value(d.y))
				}
				n++
			}
			if n != len(dots) {
				t.Errorf("%s: %d dots for %d settings", f.Name, len(dots), n)
			}
		}
	}
}

// bar wants a bar in a row that ends at a value.
func (p picture) bar(t *testing.T, what string, paths [][]point, value, row float64) {
	t.Helper()
	for _, path := range paths {
		var left, right, top, bottom = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, c := range path {
			left, right = min(left, c.x), max(right, c.x)
			top, bottom = min(top, c.y), max(bottom, c.y)
		}
		if bottom-top < 4 || math.Abs(p.y.value((top+bottom)/2)-row) > 0.4 {
			continue
		}
		end := right
		if value < 0 {
			end = left
		}
		if math.Abs(p.x.value(end)-value) > 0.6*p.x.pixel() {
			t.Errorf("%s: the bar ends at %v, not at %v", what, p.x.value(end), value)
		}
		return
	}
	if math.Abs(value) > p.x.pixel() {
		t.Errorf("%s: no bar in row %v", what, row)
	}
}

// column wants an upright bar in a category that ends at a value.
func (p picture) column(t *testing.T, what string, paths [][]point, category, value float64) {
	t.Helper()
	for _, path := range paths {
		left, right, top := math.Inf(1), math.Inf(-1), math.Inf(1)
		for _, c := range path {
			left, right, top = min(left, c.x), max(right, c.x), min(top, c.y)
		}
		if math.Abs(p.x.value((left+right)/2)-category) < 0.5 {
			if math.Abs(p.y.value(top)-value) > 0.6*p.y.pixel() {
				t.Errorf("%s: the bar of category %v ends at %v, not at %v", what, category, p.y.value(top), value)
			}
			return
		}
	}
	if value > p.y.pixel() {
		t.Errorf("%s: no bar in category %v", what, category)
	}
}

// on wants every given value on the curve, to a pixel: a curve leaves out corners
// that nobody would see.
func (p picture) on(t *testing.T, what string, m mark, want []point) {
	t.Helper()
	px := func(v point) point {
		return point{p.x.from + (v.x-p.x.min)/p.x.pixel(), p.y.from - (v.y-p.y.min)/p.y.pixel()}
	}
	for _, w := range want {
		at, best := px(w), math.Inf(1)
		for _, path := range m.paths {
			for i := 1; i < len(path); i++ {
				a, b := path[i-1], path[i]
				dx, dy := b.x-a.x, b.y-a.y
				part := 0.0
				if l := dx*dx + dy*dy; l > 0 {
					part = min(max(((at.x-a.x)*dx+(at.y-a.y)*dy)/l, 0), 1)
				}
				best = min(best, math.Hypot(a.x+part*dx-at.x, a.y+part*dy-at.y))
			}
		}
		if best > 1 {
			t.Errorf("%s: %v is %.1f pixels off the curve", what, w, best)
		}
	}
}

// A figure's numbers do not depend on how wide it is drawn.
func TestBothWidthsShowTheSameMarks(t *testing.T) {
	r := result(t).Report()
	for _, f := range r.Figures() {
		a, b := read(t, f, wideFigure), read(t, f, narrowFigure)
		if len(a.marks) != len(b.marks) {
			t.Errorf("%s: %d and %d marks", f.Name, len(a.marks), len(b.marks))
		}
		for i := range a.marks {
			if a.marks[i].kind != b.marks[i].kind || strings.TrimSpace(a.marks[i].name) != strings.TrimSpace(b.marks[i].name) {
				t.Errorf("%s: mark %d is %s and %s", f.Name, i, a.marks[i].kind, b.marks[i].kind)
			}
		}
	}
}
