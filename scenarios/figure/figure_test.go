package figure

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dialwright/testdata/golden"
)

var gallery = flag.String("gallery", "", "directory to write every sample figure to, to be looked at")

var widths = []float64{320, 340, 480, 700, 1100}

// TestGalleryIsDrawn writes every sample figure where -gallery says, as files
// and on one page for each of two widths.
func TestGalleryIsDrawn(t *testing.T) {
	if *gallery == "" {
		t.Skip("no -gallery DIR")
	}
	write := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(*gallery, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, width := range []float64{340, 700} {
		var page bytes.Buffer
		fmt.Fprintf(&page, "<!DOCTYPE html><html lang=en><meta charset=utf-8><title>figures</title><style>body{margin:8px;font:14px sans-serif;color-scheme:light dark}@media screen and (prefers-color-scheme:dark){body{background:#16181c;color:#e8e6e1}}figure{margin:0 0 24px}%s</style>", CSS())
		for _, f := range append(samples(), hostile()) {
			fmt.Fprintf(&page, "<figure><figcaption><b>%s</b></figcaption>%s</figure>\n", escape.Replace(clean(f.Title)), drawn(t, f.Inline, width))
			write(fmt.Sprintf("%s-%v.svg", f.Name, width), drawn(t, f.SVG, width))
			write(fmt.Sprintf("%s-%v.png", f.Name, width), drawn(t, f.PNG, width))
			write(fmt.Sprintf("%s-%v.txt", f.Name, width), []byte(f.Text(int(width)/8, true)+f.Text(int(width)/8, false)))
		}
		write(fmt.Sprintf("page-%v.html", width), page.Bytes())
	}
}

// hostile is a figure whose every name was written by somebody who means harm.
func hostile() *Figure {
	evil := `</text></svg><script>alert("1")</script>` + "\x00\x1b[31m\u202e\uffff\xff\r\n" + strings.Repeat("long name ", 1000)
	return &Figure{
		Name: "hostile", Title: evil, Caption: evil, Alt: evil,
		X: Axis{Label: evil, Ticks: []Tick{{0, evil}, {1, evil}, {2, "2"}}}, Y: Axis{Label: evil, Ticks: []Tick{{0, evil}, {3, ""}}},
		Marks: []Mark{
			Line{Name: evil, At: []XY{{0, 1}, {2, 3}}}, Line{Name: "b" + evil, Tone: Blue, At: []XY{{0, 0}, {math.NaN(), 2}, {2, math.Inf(1)}, {2, 2.9}}},
			Band{Name: evil, From: 1, To: 1.5}, Points{Name: evil, At: []Point{{X: 1, Y: 2, Label: evil, Chosen: true}}},
		},
	}
}

func drawn(t rapid.TB, draw func(io.Writer, float64) error, width float64) []byte {
	var b bytes.Buffer
	if err := draw(&b, width); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSVGIsByteForByteAsItWas(t *testing.T) {
	golden.Check(t, "testdata/trial.svg", drawn(t, traces().SVG, 480))
	golden.Check(t, "testdata/gain.svg", drawn(t, gainCurves().Inline, 700))
}

func TestTextIsByteForByteAsItWas(t *testing.T) {
	golden.Check(t, "testdata/trial.txt", []byte(traces().Text(80, true)))
	golden.Check(t, "testdata/trial.ascii.txt", []byte(traces().Text(60, false)))
}

func TestTwelveFiguresInTwoWidthsAreSmall(t *testing.T) {
	for _, f := range samples() {
		for _, width := range widths {
			if n := len(drawn(t, f.Inline, width)); n > 20_000 {
				t.Errorf("%s at %v: %d bytes", f.Name, width, n)
			}
		}
	}
	// Ten thousand points of a smooth curve.
	var walk []XY
	for i := range 10_000 {
		walk = append(walk, XY{float64(i), math.Sin(float64(i) / 300)})
	}
	f := Figure{Marks: []Mark{Line{At: walk}}}
	if n := len(drawn(t, f.Inline, 700)); n > 5_000 {
		t.Errorf("ten thousand points: %d bytes", n)
	}
}
