package workbench_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"dialwright/scenarios/workbench"
)

// desk is the page in a browser, before the native engine, as a test sees it.
type desk struct {
	*testing.T
	ctx    context.Context
	at     string // address of the server
	mux    http.Handler
	server *http.Server

	mu      sync.Mutex
	wrong   []string                  // what the page complained of in its console
	instead func(http.ResponseWriter) // answers studies; nil: they are done
}

// newDesk opens a browser, and serves the page to it.
func newDesk(t *testing.T) *desk {
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
	ctx, late := context.Background(), context.CancelFunc(func() {})
	patience := time.Hour // a busy machine may take its time: only the limit of the run counts
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
	mux := http.NewServeMux()
	mux.HandleFunc("GET /engine.json", func(w http.ResponseWriter, _ *http.Request) {
		_, _ = io.WriteString(w, `{"via":"http","version":"test"}`)
	})
	d := &desk{T: t, ctx: ctx, mux: mux}
	mux.HandleFunc("POST /ask", func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			return
		}
		d.mu.Lock()
		instead := d.instead
		d.mu.Unlock()
		if instead != nil && !bytes.Contains(body, []byte(`"study":"desk"`)) {
			instead(w)
			<-r.Context().Done()
			return
		}
		workbench.Tell(r.Context(), body, func(line []byte) {
			_, _ = w.Write(append(line, '\n'))
			_ = http.NewResponseController(w).Flush()
		})
	})
	files := http.FileServerFS(os.DirFS("page"))
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		files.ServeHTTP(w, r)
	})
	d.serve("127.0.0.1:0")
	t.Cleanup(func() { _ = d.server.Close() })
	if err := chromedp.Listen(ctx, func(e any) {
		d.mu.Lock()
		defer d.mu.Unlock()
		switch e := e.(type) {
		case *runtime.EventExceptionThrown:
			d.wrong = append(d.wrong, e.ExceptionDetails.Text+" "+describe(e.ExceptionDetails))
		}
	}); err != nil {
		t.Fatal(err)
	}
	return d
}

func describe(e *runtime.ExceptionDetails) string {
	if e.Exception == nil {
		return ""
	}
	return e.Exception.Description
}

// serve begins to serve, on a new port or again on an old one.
func (d *desk) serve(at string) {
	d.Helper()
	listener, err := net.Listen("tcp", at)
	if err != nil {
		d.Fatal(err)
	}
	d.at = listener.Addr().String()
	d.server = &http.Server{Handler: d.mux, ReadHeaderTimeout: time.Minute}
	go func() { _ = d.server.Serve(listener) }()
}

// open goes to a place, and waits until it stands.
func (d *desk) open(place string) {
	d.Helper()
	d.do(chromedp.Navigate("about:blank"), chromedp.Navigate("http://"+d.at+"/#"+place))
	d.until(`document.documentElement.dataset.ready === "yes"`)
}

func (d *desk) do(steps ...chromedp.Action[chromedp.Void]) {
	d.Helper()
	if err := chromedp.Do(d.ctx, steps...); err != nil {
		d.Fatal(err)
	}
}

// eval runs a script, whose promise it awaits, and takes its JSON.
func eval[T any](d *desk, script string) T {
	d.Helper()
	text, err := chromedp.Run(d.ctx, chromedp.Evaluate[string](`(async () => JSON.stringify((await (`+script+`)) ?? null))()`, chromedp.EvalAwaitPromise))
	if err != nil {
		d.Fatalf("%s: %v", script, err)
	}
	var value T
	if err := json.Unmarshal([]byte(text), &value); err != nil {
		d.Fatalf("%s: %v in %s", script, err, text)
	}
	return value
}

// until waits for something to become true on the page. A busy machine may take its
// time: only the limit of the run counts.
func (d *desk) until(what string) {
	d.Helper()
	for !eval[bool](d, `!!(`+what+`)`) {
		if end, limited := d.Deadline(); limited && time.Until(end) < 10*time.Second {
			d.fail("never: " + what)
		}
		select {
		case <-d.ctx.Done():
			d.Fatal("never: " + what)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func (d *desk) fail(what string) {
	d.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	d.Fatalf("%s\n%s\nthe page: %s", what, strings.Join(d.wrong, "\n"), eval[string](d, `document.body.innerText.slice(0, 3000)`))
}

// noComplaints fails where a script of the page failed.
func (d *desk) noComplaints() {
	d.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, w := range d.wrong {
		d.Error(w)
	}
}

func (d *desk) screen(width int64, scheme string) {
	d.Helper()
	d.do(chromedp.EmulateViewport(width, 900))
	if _, err := chromedp.Call(d.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Media: "screen", Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: "reduce"}},
	}); err != nil {
		d.Fatal(err)
	}
}

// picture keeps a picture of the page where somebody wants to look: PICTURES=FOLDER.
func (d *desk) picture(name string) {
	d.Helper()
	folder := os.Getenv("PICTURES")
	if folder == "" {
		return
	}
	png, err := chromedp.Run(d.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		d.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, name+".png"), png, 0o666); err != nil {
		d.Fatal(err)
	}
}

// look measures boxes and colours: everything that is shown lies within the page, and
// every text stands out from what is behind it by 4.5 to 1 (WCAG 2.1, 1.4.3).
const look = `(() => {
  const faults = [], root = document.documentElement;
  const say = (what, n) => { if (faults.length < 20) faults.push(what + ": " + (n.textContent || n.tagName).trim().slice(0, 60)); };
  const shown = n => n.getClientRects().length > 0 && !n.closest(".unseen, .skip");
  for (const n of document.querySelectorAll("body *")) {
    if (!shown(n) || n.closest(".scroll, svg")) continue;
    const b = n.getBoundingClientRect();
    if (b.right > root.clientWidth + 0.5 || b.left < -0.5) say("beyond the page, " + n.tagName, n);
  }
  const parse = c => { const m = c.match(/[\d.]+/g).map(Number); return m.length > 3 ? m : [...m, 1]; };
  const over = (a, b) => [0, 1, 2].map(i => a[i] * a[3] + b[i] * (1 - a[3])).concat(1);
  const lum = c => { const f = c.slice(0, 3).map(v => (v /= 255) <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4); return 0.2126 * f[0] + 0.7152 * f[1] + 0.0722 * f[2]; };
  const ratio = (a, b) => { const [x, y] = [lum(a), lum(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
  const behind = n => {
    const layers = [];
    for (let p = n; p && p.nodeType === 1; p = p.parentElement) layers.push(parse(getComputedStyle(p).backgroundColor));
    return layers.reverse().reduce((a, b) => over(b, a), [255, 255, 255, 1]);
  };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let t = walk.nextNode(); t; t = walk.nextNode()) {
    const n = t.parentElement;
    if (!t.data.trim() || !shown(n) || n.closest("option, noscript, .old, .fig")) continue; // the report's figures are looked at with it
    const style = getComputedStyle(n), back = behind(n), ink = parse(n instanceof SVGElement ? style.fill : style.color);
    const r = ratio(over(ink, back), back);
    if (r < 4.5) say("contrast " + r.toFixed(2), n);
  }
  if (root.scrollWidth > root.clientWidth) faults.push("the page is " + root.scrollWidth + " wide for " + root.clientWidth);
  return faults;
})()`

var places = []string{"knob", "dial", "shape", "path", "keep"}

// settled is when a place has its answer.
var settled = map[string]string{
	"knob": `document.querySelector("h1")`, "dial": `document.querySelector(".place > .by").textContent.includes("pairs can show")`,
	"shape": `document.querySelector(".shape td") && !document.querySelector(".old")`, "path": `document.querySelector(".turn svg")`, "keep": `document.querySelector(".offer")`,
}

// On a phone, a small and a large screen, light and dark, every place can be read and
// nothing hangs out of it.
func TestEveryPlaceIsReadableOnEveryScreen(t *testing.T) {
	d := newDesk(t)
	for _, place := range places {
		d.screen(800, "light")
		d.open(place)
		d.until(settled[place])
		for _, width := range []int64{360, 800, 1400} {
			for _, scheme := range []string{"light", "dark"} {
				d.readable(place, width, scheme)
			}
		}
	}
	d.noComplaints()
}

// readable looks at what is shown on a screen.
func (d *desk) readable(name string, width int64, scheme string) {
	d.Helper()
	d.screen(width, scheme)
	d.picture(fmt.Sprintf("%s-%d-%s", name, width, scheme))
	eval[any](d, `document.querySelectorAll("details").forEach(x => x.open = true)`)
	for _, fault := range eval[[]string](d, look) {
		d.Errorf("%s at %d, %s: %s", name, width, scheme, fault)
	}
	eval[any](d, `document.querySelectorAll("details").forEach(x => x.open = false)`)
}

// So can a place that waits for its answer, or gets none.
func TestPlacesThatWaitOrFailAreReadable(t *testing.T) {
	d := newDesk(t)
	for state, x := range map[string]struct {
		answer func(http.ResponseWriter)
		stands string
	}{
		"busy": {func(w http.ResponseWriter) {
			_, _ = io.WriteString(w, `{"progress":{"done":3,"of":10}}`+"\n")
			_ = http.NewResponseController(w).Flush()
		}, `document.querySelector(".busy, .old, .place > .by")`},
		"refused": {func(w http.ResponseWriter) {
			_, _ = io.WriteString(w, `{"faults":["my-rig.yaml:3:5: firmware.pulse: -1ms; 0 or more would do, and this line is long enough to go round on a phone","my-rig.yaml:9:1: knob: missing"]}`+"\n")
			_ = http.NewResponseController(w).Flush()
		}, `document.querySelector(".place [role=alert]:not([hidden])")`},
		"gone": {func(http.ResponseWriter) { panic(http.ErrAbortHandler) }, `document.querySelector("#trouble-engine")`},
	} {
		for _, place := range []string{"dial", "shape", "path"} {
			d.mu.Lock()
			d.instead = x.answer
			d.mu.Unlock()
			d.screen(800, "light")
			d.do(chromedp.Navigate("about:blank"), chromedp.Navigate("http://"+d.at+"/#"+place))
			d.until(x.stands)
			pictures := os.Getenv("PICTURES") != ""
			for _, width := range []int64{360, 800, 1400} {
				for _, scheme := range []string{"light", "dark"} {
					if pictures || width != 800 && (scheme == "dark") == (width == 1400) {
						d.readable(place+"-"+state, width, scheme)
					}
				}
			}
		}
	}
	d.noComplaints()
}
