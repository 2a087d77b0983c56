package figure

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"strconv"
	"strings"

	"pgregory.net/rapid"
)

// picture is what a reader finds in an SVG: its texts, and its marks as curves
// in the units of the axes.
type picture struct {
	w, h    float64
	title   string
	desc    string
	texts   []readText
	groups  []readGroup
	x, y    readAxis
	classes map[string]bool
	tags    map[string]int
}

type readText struct {
	x0, y0, x1, y1 float64
	text           string
}

type readGroup struct {
	attrs map[string]string
	paths []readPath
	text  []string
}

type readPath struct {
	class string
	runs  [][]XY // in pixels
}

// readAxis inverts the places of an axis.
type readAxis struct {
	min, max, from, to float64
	log                bool
}

func (a readAxis) value(px float64) float64 {
	p := (px - a.from) / (a.to - a.from)
	if a.log {
		return a.min * math.Pow(a.max/a.min, p)
	}
	return a.min + p*(a.max-a.min)
}

func (a readAxis) place(v float64) float64 {
	p := (v - a.min) / (a.max - a.min)
	if a.log {
		p = math.Log(v/a.min) / math.Log(a.max/a.min)
	}
	return a.from + p*(a.to-a.from)
}

func readFloat(t rapid.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// read parses an SVG strictly as XML.
func read(t rapid.TB, svg []byte) *picture {
	t.Helper()
	p := &picture{classes: map[string]bool{}, tags: map[string]int{}}
	d := xml.NewDecoder(bytes.NewReader(svg))
	var stack []int // of indices into groups
	for {
		token, err := d.Token()
		if err == io.EOF {
			return p
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			a := map[string]string{}
			for _, v := range e.Attr {
				a[v.Name.Local] = v.Value
			}
			p.tags[e.Name.Local]++
			for c := range strings.FieldsSeq(a["class"]) {
				p.classes[c] = true
			}
			body := func() string {
				var s string
				if err := d.DecodeElement(&s, &e); err != nil {
					t.Fatal(err)
				}
				return s
			}
			switch e.Name.Local {
			case "svg":
				p.w, p.h = readFloat(t, a["width"]), readFloat(t, a["height"])
			case "title":
				p.title = body()
			case "desc":
				p.desc = body()
			case "g":
				stack = append(stack, len(p.groups))
				p.groups = append(p.groups, readGroup{attrs: a})
				axis := readAxis{}
				if a["data-axis"] != "" {
					axis = readAxis{readFloat(t, a["data-min"]), readFloat(t, a["data-max"]), readFloat(t, a["data-from"]), readFloat(t, a["data-to"]), a["data-scale"] == "log"}
				}
				switch a["data-axis"] {
				case "x":
					p.x = axis
				case "y":
					p.y = axis
				}
			case "path":
				if len(stack) > 0 {
					g := &p.groups[stack[len(stack)-1]]
					g.paths = append(g.paths, readPath{a["class"], readRuns(t, a["d"])})
				}
			case "text":
				x, y := readFloat(t, a["x"]), readFloat(t, a["y"])
				s := body()
				face, size := regular(), 12.0
				if strings.Contains(a["class"], "h") {
					face, size = bold(), 15.0
				}
				w := float64(face.sum(s)) / float64(face.units) * size
				for c := range strings.FieldsSeq(a["class"]) {
					switch c {
					case "m":
						x -= w / 2
					case "e":
						x -= w
					}
				}
				p.texts = append(p.texts, readText{x, y - 0.73*size, x + w, y + 0.22*size, s})
				if len(stack) > 0 {
					g := &p.groups[stack[len(stack)-1]]
					g.text = append(g.text, s)
				}
			}
		case xml.EndElement:
			if e.Name.Local == "g" {
				stack = stack[:len(stack)-1]
			}
		}
	}
}

// readRuns follows the path commands that figures use.
func readRuns(t rapid.TB, d string) [][]XY {
	t.Helper()
	var out [][]XY
	var at XY
	command := byte(0)
	number := func() float64 {
		d = strings.TrimLeft(d, " ")
		n := 0
		for n < len(d) && (d[n] >= '0' && d[n] <= '9' || d[n] == '.' || d[n] == '-' && n == 0) {
			n++
		}
		v := readFloat(t, d[:n])
		d = d[n:]
		return v
	}
	for d = strings.TrimLeft(d, " "); d != ""; d = strings.TrimLeft(d, " ") {
		if strings.IndexByte("Mlhvz", d[0]) >= 0 {
			command, d = d[0], d[1:]
			if command == 'z' {
				last := out[len(out)-1]
				out[len(out)-1] = append(last, last[0])
				continue
			}
		}
		switch command {
		case 'M':
			at = XY{number(), 0}
			at.Y = number()
			out = append(out, nil)
		case 'l':
			at.X += number()
			at.Y += number()
		case 'h':
			at.X += number()
		case 'v':
			at.Y += number()
		default:
			t.Fatalf("path goes on with %.20q", d)
		}
		out[len(out)-1] = append(out[len(out)-1], at)
	}
	return out
}

// mark finds the group of a mark by its kind and name.
func (p *picture) mark(t rapid.TB, kind, name string) readGroup {
	t.Helper()
	for _, g := range p.groups {
		if g.attrs["data-mark"] == kind && g.attrs["data-name"] == name {
			return g
		}
	}
	t.Fatalf("no %s named %q", kind, name)
	return readGroup{}
}

// beside is the distance of a place from a curve, in pixels.
func beside(at XY, runs [][]XY) float64 {
	best := math.Inf(1)
	for _, r := range runs {
		best = min(best, math.Hypot(at.X-r[0].X, at.Y-r[0].Y))
		for i := 1; i < len(r); i++ {
			dx, dy := r[i].X-r[i-1].X, r[i].Y-r[i-1].Y
			along := 0.0
			if long := dx*dx + dy*dy; long > 0 {
				along = min(max(((at.X-r[i-1].X)*dx+(at.Y-r[i-1].Y)*dy)/long, 0), 1)
			}
			best = min(best, math.Hypot(at.X-r[i-1].X-along*dx, at.Y-r[i-1].Y-along*dy))
		}
	}
	return best
}
