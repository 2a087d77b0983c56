package figure

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"

	"github.com/golang/freetype/raster"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// PNG writes the figure as a picture on white, laid out like SVG for a width in
// CSS pixels. It has two dots to each, so that it is sharp on a fine screen.
//
// Everything from the layout to the colour of a dot is reckoned in whole numbers,
// so that the bytes are the same on every processor. (The drawing libraries at
// hand round differently where a processor fuses products with sums.)
func (f *Figure) PNG(w io.Writer, width float64) error {
	m, err := f.lay(width, true).paint(f.Name)
	if err != nil {
		return err
	}
	return png.Encode(w, m)
}

// paint draws a scene, two dots to a CSS pixel.
func (s *scene) paint(name string) (image.Image, error) {
	m := image.NewRGBA(image.Rect(0, 0, int(s.w/px)*2, int(s.h/px)*2))
	for i := range m.Pix {
		m.Pix[i] = 0xff
	}
	b := &brush{raster.NewRasterizer(m.Rect.Dx(), m.Rect.Dy()), raster.NewRGBAPainter(m)}
	b.r.UseNonZeroWinding = true
	for i := range s.items {
		if err := s.items[i].paint(b); err != nil {
			return nil, fmt.Errorf("figure %s as PNG: %w", name, err)
		}
	}
	return m, nil
}

// brush paints shapes in one colour each.
type brush struct {
	r *raster.Rasterizer
	p *raster.RGBAPainter
}

// dots is a length in 64ths of a dot.
func (l length) dots() fixed.Int26_6 { return fixed.Int26_6(divide(int64(l)*128, int64(px))) }

func (s spot) dots() fixed.Point26_6 { return fixed.Point26_6{X: s.x.dots(), Y: s.y.dots()} }

// dry lays the shapes since the last time down in a colour.
func (b *brush) dry(c color.Color) {
	b.p.SetColor(c)
	b.r.Rasterize(b.p)
	b.r.Clear()
}

func (b *brush) polygon(at []fixed.Point26_6) {
	if len(at) < 3 {
		return
	}
	b.r.Start(at[0])
	for _, p := range at[1:] {
		b.r.Add1(p)
	}
	b.r.Add1(at[0])
}

// circle holds sixteen points of a circle, in 4096ths of its radius.
var circle = func() (out [16][2]int64) {
	for i := range out {
		sin, cos := math.Sincos(float64(i) * math.Pi / 8)
		out[i] = [2]int64{int64(math.Round(cos * 4096)), int64(math.Round(sin * 4096))}
	}
	return out
}()

func (b *brush) disc(at fixed.Point26_6, radius fixed.Int26_6) {
	var ring [len(circle)]fixed.Point26_6
	for i, c := range circle {
		ring[i] = fixed.Point26_6{X: at.X + fixed.Int26_6(divide(c[0]*int64(radius), 4096)), Y: at.Y + fixed.Int26_6(divide(c[1]*int64(radius), 4096))}
	}
	b.polygon(ring[:])
}

// stroke draws a run as wide as said; its corners are round, its ends flat. Its
// pieces run round the same way as discs, so that they do not cancel where they
// overlap.
func (b *brush) stroke(at []fixed.Point26_6, width fixed.Int26_6) {
	for i := 1; i < len(at); i++ {
		dx, dy := int64(at[i].X-at[i-1].X), int64(at[i].Y-at[i-1].Y)
		long := root(dx*dx + dy*dy)
		if long == 0 {
			continue
		}
		nx, ny := fixed.Int26_6(divide(-dy*int64(width), 2*long)), fixed.Int26_6(divide(dx*int64(width), 2*long))
		b.polygon([]fixed.Point26_6{{X: at[i-1].X - nx, Y: at[i-1].Y - ny}, {X: at[i].X - nx, Y: at[i].Y - ny}, {X: at[i].X + nx, Y: at[i].Y + ny}, {X: at[i-1].X + nx, Y: at[i-1].Y + ny}})
		if i > 1 && width > 128 {
			b.disc(at[i-1], width/2)
		}
	}
}

// root is the whole part of a square root.
func root(n int64) int64 {
	r := int64(math.Sqrt(float64(n)))
	for r*r > n {
		r--
	}
	for (r+1)*(r+1) <= n {
		r++
	}
	return r
}

// dashed cuts a run into dashes.
func dashed(at []fixed.Point26_6, dash []length) [][]fixed.Point26_6 {
	if len(dash) == 0 {
		return [][]fixed.Point26_6{at}
	}
	var out [][]fixed.Point26_6
	piece := []fixed.Point26_6{at[0]}
	k, left := 0, int64(dash[0].dots())
	for i := 1; i < len(at); i++ {
		dx, dy := int64(at[i].X-at[i-1].X), int64(at[i].Y-at[i-1].Y)
		long := root(dx*dx + dy*dy)
		for done := int64(0); done < long; {
			step := min(left, long-done)
			done += step
			left -= step
			now := fixed.Point26_6{X: at[i-1].X + fixed.Int26_6(divide(dx*done, long)), Y: at[i-1].Y + fixed.Int26_6(divide(dy*done, long))}
			if k%2 == 0 {
				piece = append(piece, now)
			}
			if left == 0 {
				if k%2 == 0 {
					out = append(out, piece)
				}
				k++
				left = int64(dash[k%len(dash)].dots())
				piece = []fixed.Point26_6{now}
			}
		}
	}
	if k%2 == 0 && len(piece) > 1 {
		out = append(out, piece)
	}
	return out
}

// paint draws an item as the style sheet says.
func (it *item) paint(b *brush) error {
	switch it.kind {
	case path:
		runs := make([][]fixed.Point26_6, len(it.at))
		for i, r := range it.at {
			for _, s := range r {
				runs[i] = append(runs[i], s.dots())
			}
			if it.closed {
				runs[i] = append(runs[i], r[0].dots())
			}
		}
		it.ink(b, runs)
	case disc:
		if it.style == hollow {
			b.disc(spot{it.x, it.y}.dots(), (it.r + px).dots())
			b.dry(it.colour())
			b.disc(spot{it.x, it.y}.dots(), (it.r - 6).dots())
			b.dry(hex(lightPage))
			return nil
		}
		b.disc(spot{it.x, it.y}.dots(), it.r.dots())
		b.dry(it.colour())
	case text:
		return it.print(b)
	}
	return nil
}

// ink fills or strokes the runs of a path.
func (it *item) ink(b *brush, runs [][]fixed.Point26_6) {
	filled := func(c color.Color) {
		for _, r := range runs {
			b.polygon(r)
		}
		b.dry(c)
	}
	var dash []length
	width := px
	edge := it.colour()
	switch it.style {
	case fill, soft, board:
		filled(it.colour())
		return
	case edged:
		filled(it.colour())
		edge, width = hex(tones[it.tone].light), 12
	case hollow:
		filled(hex(lightPage))
		width = 16
	case stroke:
		width, dash = 2*px, tones[it.tone].dash
	case thin:
		width = 12
	case hair:
		width = 6
	}
	for _, r := range runs {
		for _, piece := range dashed(r, dash) {
			b.stroke(piece, width.dots())
		}
	}
	b.dry(edge)
}

// print draws a text.
func (it *item) print(b *brush) error {
	face, size := it.style.typeface()
	x := it.x
	switch w := face.exact(it.text, size); it.anchor {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	outline, err := face.outline(it.text, size, spot{x, it.y}.dots())
	if err != nil {
		return err
	}
	if it.style == words {
		// A rim in the colour of the page, so that lines behind a text do not run
		// into it.
		for _, d := range circle {
			for _, o := range outline {
				for i := range o.Args {
					o.Args[i].X += fixed.Int26_6(divide(d[0]*192, 4096))
					o.Args[i].Y += fixed.Int26_6(divide(d[1]*192, 4096))
				}
				b.segment(o)
			}
		}
		b.dry(hex(lightPage))
	}
	for _, o := range outline {
		b.segment(o)
	}
	b.dry(it.colour())
	return nil
}

func (b *brush) segment(s sfnt.Segment) {
	switch s.Op {
	case sfnt.SegmentOpMoveTo:
		b.r.Start(s.Args[0])
	case sfnt.SegmentOpLineTo:
		b.r.Add1(s.Args[0])
	case sfnt.SegmentOpQuadTo:
		b.r.Add2(s.Args[0], s.Args[1])
	case sfnt.SegmentOpCubeTo:
		b.r.Add3(s.Args[0], s.Args[1], s.Args[2])
	}
}

// outline is the shape of a text that begins at a place.
func (t *typeface) outline(s string, size length, at fixed.Point26_6) ([]sfnt.Segment, error) {
	var out []sfnt.Segment
	var buf sfnt.Buffer
	ppem := size.dots()
	sum := int64(0)
	for _, r := range s {
		i, err := t.file.GlyphIndex(&buf, r)
		if err != nil {
			return nil, err
		}
		segments, err := t.file.LoadGlyph(&buf, i, ppem, nil)
		if err != nil {
			return nil, fmt.Errorf("letter %q: %w", r, err)
		}
		dx := at.X + fixed.Int26_6(divide(sum*int64(ppem), t.units))
		for _, g := range segments {
			for k := range g.Args {
				g.Args[k].X += dx
				g.Args[k].Y += at.Y
			}
			out = append(out, g)
		}
		sum += t.sum(string(r))
	}
	return out, nil
}

// colour is the item's on a white page.
func (it *item) colour() color.Color {
	t := tones[it.tone]
	switch it.style {
	case grid:
		return hex(lightGrid)
	case axis, quiet:
		return hex(tones[Quiet].lightText)
	case heading, headline:
		return hex(tones[Ink].lightText)
	case letter:
		return hex(lightPage)
	case words, board:
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
	if _, err := fmt.Sscanf(s, "#%02x%02x%02x", &c.R, &c.G, &c.B); err != nil {
		panic(err) // the colours are part of the program
	}
	return c
}
