package figure

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"testing"

	"dialwright/testdata/golden"
)

func TestPNGIsThePictureOfTheSVG(t *testing.T) {
	f := &Figure{Title: "t", X: Axis{Min: 0, Max: 10}, Y: Axis{Min: 0, Max: 10}, Marks: []Mark{
		Bars{Tone: Blue, Bars: []Bar{{At: 2, Value: 8}, {At: 6, Value: 4}}},
		Line{Tone: Vermilion, At: []XY{{0, 9}, {10, 9}}},
	}}
	p := read(t, drawn(t, f.SVG, 400))
	m, err := png.Decode(bytes.NewReader(drawn(t, f.PNG, 400)))
	if err != nil {
		t.Fatal(err)
	}
	if b := m.Bounds(); float64(b.Dx()) != 2*p.w || float64(b.Dy()) != 2*p.h {
		t.Errorf("%v dots for %v × %v pixels", b, p.w, p.h)
	}
	at := func(x, y float64) color.NRGBA {
		return color.NRGBAModel.Convert(m.At(int(2*p.x.place(x)), int(2*p.y.place(y)))).(color.NRGBA)
	}
	for _, v := range []struct {
		x, y float64
		want string
	}{{2, 4, tones[Blue].light}, {6, 3, tones[Blue].light}, {6, 5, lightPage}, {2, 8.5, lightPage}} {
		if got := at(v.x, v.y); got != hex(v.want) {
			t.Errorf("at %v, %v: %v, not %s", v.x, v.y, got, v.want)
		}
	}
	// A vermilion dash somewhere at 9.
	found := false
	for x := 0.5; x < 9.5; x += 0.1 {
		found = found || at(x, 9) == hex(tones[Vermilion].light)
	}
	if !found {
		t.Error("the line is missing")
	}
}

func TestPNGIsDotForDotAsItWas(t *testing.T) {
	if testing.Short() {
		t.Skip("half a second of pictures")
	}
	// The sums of the dots, rather than of the files, whose compression may change
	// with Go. They hold on every processor.
	var sums bytes.Buffer
	for _, f := range append(samples(), hostile()) {
		m, err := png.Decode(bytes.NewReader(drawn(t, f.PNG, 340)))
		if err != nil {
			t.Fatalf("%s: %v", f.Name, err)
		}
		dots, ok := m.(*image.RGBA)
		if !ok {
			t.Fatalf("%s is %T", f.Name, m)
		}
		sum := sha256.Sum256(dots.Pix)
		fmt.Fprintf(&sums, "%x %v %s\n", sum[:8], m.Bounds().Max, f.Name)
	}
	golden.Check(t, "testdata/png.txt", sums.Bytes())
}
