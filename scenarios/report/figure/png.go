package figure

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"math"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// PNG writes the figure as a picture on white, laid out like SVG for a width in
// CSS pixels. It has two dots to each, so that it is sharp on a fine screen.
func (f *Figure) PNG(w io.Writer, width float64) error {
	s := f.lay(width, true)
	c := vgimg.NewWith(vgimg.UseWH(s.w.points(), s.h.points()), vgimg.UseDPI(144), vgimg.UseBackgroundColor(color.White))
	for i := range s.items {
		if err := s.items[i].paint(c, s.h); err != nil {
			return fmt.Errorf("figure %s as PNG: %w", f.Name, err)
		}
	}
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// points takes a CSS pixel for a point; the picture's dots follow from its
// resolution.
func (l length) points() vg.Length { return vg.Length(l) / vg.Length(px) }

var faces = sync.OnceValues(func() ([2]*opentype.Font, error) {
	r, err := opentype.Parse(liberationsansregular.TTF)
	b, err2 := opentype.Parse(liberationsansbold.TTF)
	return [2]*opentype.Font{r, b}, errors.Join(err, err2)
})

func (it *item) paint(c *vgimg.Canvas, height length) error {
	at := func(x, y length) vg.Point { return vg.Point{X: x.points(), Y: (height - y).points()} }
	var p vg.Path
	switch it.kind {
	case path:
		for _, r := range it.at {
			for i, s := range r {
				if i == 0 {
					p.Move(at(s.x, s.y))
				} else {
					p.Line(at(s.x, s.y))
				}
			}
			if it.closed {
				p.Close()
			}
		}
		it.ink(c, p)
	case disc:
		p.Move(at(it.x+it.r, it.y))
		p.Arc(at(it.x, it.y), it.r.points(), 0, 2*math.Pi)
		p.Close()
		it.ink(c, p)
	case text:
		fonts, err := faces()
		if err != nil {
			return err
		}
		face, size := font.Face{Font: font.Font{Size: textSize.points()}, Face: fonts[0]}, regular().exact(it.text, textSize)
		if it.style == heading {
			face, size = font.Face{Font: font.Font{Size: titleSize.points()}, Face: fonts[1]}, bold().exact(it.text, titleSize)
		}
		x := it.x
		switch it.anchor {
		case middle:
			x -= size / 2
		case end:
			x -= size
		}
		if it.style == words {
			// A rim in the colour of the page, so that lines behind a text do not
			// run into it.
			c.SetColor(hex(lightPage))
			for _, d := range [8]spot{{-13, 0}, {13, 0}, {0, -13}, {0, 13}, {-9, -9}, {9, -9}, {-9, 9}, {9, 9}} {
				c.FillString(face, at(x+d.x, it.y+d.y), it.text)
			}
		}
		c.SetColor(it.colour())
		c.FillString(face, at(x, it.y), it.text)
	}
	return nil
}

// ink strokes or fills a path as the style sheet says.
func (it *item) ink(c *vgimg.Canvas, p vg.Path) {
	c.SetColor(it.colour())
	c.SetLineDash(nil, 0)
	switch it.style {
	case fill, soft:
		c.Fill(p)
		return
	case edged:
		c.Fill(p)
		c.SetColor(hex(tones[it.tone].light))
		c.SetLineWidth(1.2)
	case hollow:
		c.SetColor(color.White)
		c.Fill(p)
		c.SetColor(it.colour())
		c.SetLineWidth(1.6)
	case stroke:
		c.SetLineWidth(2)
		var d []vg.Length
		for _, l := range tones[it.tone].dash {
			d = append(d, l.points())
		}
		c.SetLineDash(d, 0)
	case thin:
		c.SetLineWidth(1.2)
	case hair:
		c.SetLineWidth(0.6)
	default:
		c.SetLineWidth(1)
	}
	c.Stroke(p)
}

// colour is the item's on a white page.
func (it *item) colour() color.Color {
	t := tones[it.tone]
	switch it.style {
	case grid:
		return hex(lightGrid)
	case axis, quiet:
		return hex(tones[Quiet].lightText)
	case heading:
		return hex(tones[Ink].lightText)
	case letter:
		return hex(lightPage)
	case words:
		return hex(t.lightText)
	case soft, edged:
		c := hex(t.light)
		return color.NRGBA{c.R, c.G, c.B, 51}
	}
	return hex(t.light)
}

// hex reads a colour as the style sheet has it.
func hex(s string) color.NRGBA {
	c := color.NRGBA{A: 255}
	fmt.Sscanf(s, "#%02x%02x%02x", &c.R, &c.G, &c.B)
	return c
}
