package report

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"github.com/chromedp/chromedp"

	"dialwright/testdata/chromium"
)

// looked is what a script in the browser finds.
type looked struct {
	Width  int      // of everything, CSS pixels
	Faults []string // in words
	Faint  []string // labels of figures that do not stand out
	Texts  int      // how many texts were looked at
}

// look measures boxes and colours. Everything that is shown must lie within the
// page, every label of a figure within its picture and clear of the others, and
// every text must stand out from what is behind it by 4.5 to 1 (WCAG 2.1, 1.4.3).
const look = `(() => {
  const faults = [], faint = [], root = document.documentElement;
  const say = (what, n) => { if (faults.length < 20) faults.push(what + ': ' + (n.textContent || '').trim().slice(0, 60)); };
  const shown = n => n.getClientRects().length > 0;
  for (const n of document.querySelectorAll('body *')) {
    if (!shown(n) || n.closest('.scroll')) continue;
    const b = n.getBoundingClientRect();
    if (b.right > root.clientWidth + 0.5 || b.left < -0.5) say('beyond the page, ' + n.tagName, n);
  }
  for (const svg of document.querySelectorAll('svg')) {
    if (!shown(svg)) continue;
    const frame = svg.getBoundingClientRect(), boxes = [];
    if (Math.abs(frame.width - svg.viewBox.baseVal.width) > 0.5) say('drawn at ' + frame.width + ' for ' + svg.viewBox.baseVal.width, svg);
    for (const t of svg.querySelectorAll('text')) {
      const b = t.getBoundingClientRect();
      if (b.left < frame.left - 0.5 || b.right > frame.right + 0.5 || b.top < frame.top - 0.5 || b.bottom > frame.bottom + 0.5) say('cut off', t);
      for (const o of boxes) if (b.left < o.right - 1 && o.left < b.right - 1 && b.top + 3 < o.bottom - 3 && o.top + 3 < b.bottom - 3) say('on another label', t);
      boxes.push(b);
    }
  }
` + chromium.Contrast + `  let texts = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let t = walk.nextNode(); t; t = walk.nextNode()) {
    const n = t.parentElement;
    if (!t.data.trim() || !shown(n) || n.closest('title,desc,style')) continue;
    texts++;
    const style = getComputedStyle(n);
    let page = behind(n), ink = parse(n instanceof SVGElement ? style.fill : style.color);
    if (n.classList.contains('i')) page = parse(getComputedStyle(n.parentElement.querySelector('path.b')).fill); // upon a stretch
    const r = ratio(over(ink, page), page);
    if (r < 4.5 && n instanceof SVGElement) faint.push(r.toFixed(2) + ': ' + t.data.trim());
    else if (r < 4.5) say('contrast ' + r.toFixed(2), n);
  }
  return {Width: root.scrollWidth, Faults: faults, Faint: faint, Texts: texts};
})()`

// On a phone, a small and a large screen, light and dark, nothing hangs out of the
// page, no label is cut off or lies on another one, and all text can be read; with
// its tables open too.
func TestPageIsReadableOnEveryScreen(t *testing.T) {
	ctx := chromium.Open(t)
	file := filepath.Join(t.TempDir(), "report.html")
	// Labels are as wide in any font: once in ours, once in what is installed here.
	var fonts strings.Builder
	for weight, ttf := range map[string][]byte{"normal": liberationsansregular.TTF, "bold": liberationsansbold.TTF} {
		fmt.Fprintf(&fonts, "<style>@font-face{font-family:'Liberation Sans';font-weight:%s;src:url(data:font/ttf;base64,%s)}</style>", weight, base64.StdEncoding.EncodeToString(ttf))
	}
	page := pageOf(t, result(t))
	installed := filepath.Join(t.TempDir(), "installed.html")
	for path, text := range map[string]string{file: strings.Replace(page, "</head>", fonts.String()+"</head>", 1), installed: page} {
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, x := range []struct {
		name         string
		width        int64
		kind, scheme string
		open         bool
	}{
		{"phone", 360, "screen", "light", false}, {"phone, tables open", 360, "screen", "light", true}, {"phone, dark", 360, "screen", "dark", false},
		{"small screen", 800, "screen", "light", false}, {"small screen, dark, tables open", 800, "screen", "dark", true},
		{"large screen", 1400, "screen", "light", false}, {"large screen, dark", 1400, "screen", "dark", false},
		{"phone, other fonts", 360, "screen", "light", true}, {"small screen, other fonts", 800, "screen", "light", true}, {"paper, other fonts", 680, "print", "light", true},
		{"A4 without its margins", 680, "print", "light", false}, {"paper from a dark screen", 702, "print", "dark", false},
	} {
		script, path := look, file
		if strings.Contains(x.name, "other fonts") {
			path = installed
		}
		if x.open {
			script = "document.querySelectorAll('details').forEach(d => d.open = true)," + look
		}
		if err := chromedp.Do(ctx, chromium.Screen(x.kind, x.width, x.scheme), chromedp.Navigate("file://"+path)); err != nil {
			t.Fatal(err)
		}
		found, err := chromedp.Run(ctx, chromedp.Evaluate[looked](script))
		if err != nil {
			t.Fatal(err)
		}
		if int64(found.Width) > x.width {
			t.Errorf("%s: %d pixels wide", x.name, found.Width)
		}
		if found.Texts < 100 {
			t.Errorf("%s: only %d texts were found", x.name, found.Texts)
		}
		for _, f := range found.Faint {
			t.Errorf("%s: contrast %s", x.name, f)
		}
		for _, f := range found.Faults {
			t.Errorf("%s: %s", x.name, f)
		}
	}
}
