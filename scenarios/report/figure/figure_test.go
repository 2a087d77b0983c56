package figure

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

var gallery = flag.String("gallery", "", "directory to write every sample figure to, to be looked at")

// TestEverySampleIsDrawn also writes the figures where -gallery says, as files
// and on one page for each width.
func TestEverySampleIsDrawn(t *testing.T) {
	for _, width := range []float64{340, 700} {
		var page bytes.Buffer
		fmt.Fprintf(&page, "<!DOCTYPE html><html lang=en><meta charset=utf-8><title>figures</title><style>body{margin:8px;font:14px sans-serif;color-scheme:light dark}@media(prefers-color-scheme:dark){body{background:#16181c;color:#e8e6e1}}figure{margin:0 0 24px}%s</style>", CSS())
		for _, f := range samples() {
			var in, own bytes.Buffer
			if err := f.Inline(&in, width); err != nil {
				t.Fatal(err)
			}
			if err := f.SVG(&own, width); err != nil {
				t.Fatal(err)
			}
			if in.Len() > 20_000 {
				t.Errorf("%s at %v: %d bytes", f.Name, width, in.Len())
			}
			fmt.Fprintf(&page, "<figure><figcaption><b>%s</b></figcaption>%s</figure>\n", f.Title, in.Bytes())
			if *gallery != "" {
				var picture bytes.Buffer
				if err := f.PNG(&picture, width); err != nil {
					t.Fatal(err)
				}
				os.WriteFile(filepath.Join(*gallery, fmt.Sprintf("%s-%v.png", f.Name, width)), picture.Bytes(), 0o644)
				os.WriteFile(filepath.Join(*gallery, fmt.Sprintf("%s-%v.svg", f.Name, width)), own.Bytes(), 0o644)
			}
		}
		t.Logf("%v: %d bytes", width, page.Len())
		if *gallery != "" {
			os.WriteFile(filepath.Join(*gallery, fmt.Sprintf("page-%v.html", width)), page.Bytes(), 0o644)
		}
	}
}
