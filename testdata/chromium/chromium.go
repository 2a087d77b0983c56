// Package chromium lets tests look at pages as people see them, in a Chromium without
// a window.
package chromium

import (
	"context"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// Open opens a browser for a test, which is skipped where there is none or no time.
func Open(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("looking at the page in a browser takes seconds")
	}
	found := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			found = path
			break
		}
	}
	if found == "" {
		t.Skip("no Chromium is installed here")
	}
	// A busy machine may take its time: only the limit of the whole test run counts.
	ctx, late := context.Background(), context.CancelFunc(func() {})
	patience := time.Hour
	if end, limited := t.Deadline(); limited {
		ctx, late = context.WithDeadline(ctx, end.Add(-5*time.Second))
		patience = time.Until(end)
	}
	t.Cleanup(late)
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(found), chromedp.WSURLReadTimeout(patience))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox) // it refuses root otherwise
	}
	ctx, stop := chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(stop)
	ctx, shut := chromedp.NewContext(ctx)
	t.Cleanup(shut)
	return ctx
}

// Screen makes the page as wide as a screen, in CSS pixels, light or dark; media is
// screen or print. Nothing moves.
func Screen(media string, width int64, scheme string) chromedp.Action[chromedp.Void] {
	return func(ctx context.Context, at *chromedp.Target) (chromedp.Void, error) {
		if _, err := chromedp.EmulateViewport(width, 900)(ctx, at); err != nil {
			return chromedp.Void{}, err
		}
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Media: media, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
		})
		return chromedp.Void{}, err
	}
}

// Contrast is what a script needs to say how far a text stands out from what is behind
// it (WCAG 2.1, 1.4.3): ratio(over(ink, back), back), which should be 4.5, where ink is
// a parsed colour and back what lies behind an element.
const Contrast = `
  const parse = c => { const m = c.match(/[\d.]+/g).map(Number); return m.length > 3 ? m : [...m, 1]; };
  const over = (a, b) => [0, 1, 2].map(i => a[i] * a[3] + b[i] * (1 - a[3])).concat(1);
  const lum = c => { const f = c.slice(0, 3).map(v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * f[0] + 0.7152 * f[1] + 0.0722 * f[2]; };
  const ratio = (a, b) => { const [x, y] = [lum(a), lum(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
  const behind = n => {
    const layers = [];
    for (let p = n; p && p.nodeType === 1; p = p.parentElement) layers.push(parse(getComputedStyle(p).backgroundColor));
    return layers.reverse().reduce((a, b) => over(b, a), [255, 255, 255, 1]);
  };
`
