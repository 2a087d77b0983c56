package workbench_test

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"dialwright/scenarios/workbench"
	"dialwright/testdata/chromium"
)

// desk is the page in a browser, before the native engine, as a test sees it.
type desk struct {
	*testing.T
	ctx    context.Context
	at     string // address of the server
	mux    http.Handler
	server *http.Server

	mu      sync.Mutex
	wrong   []string                                                        // what the page complained of in its console
	instead func(w http.ResponseWriter, r *http.Request, study string) bool // answers in the engine's place where it says so
}

// newDesk opens a browser, and serves the page to it.
func newDesk(t *testing.T) *desk {
	t.Helper()
	ctx := chromium.Open(t)
	t.Parallel() // a browser mostly waits for its next frame
	mux := http.NewServeMux()
	d := &desk{T: t, ctx: ctx, mux: mux}
	mux.HandleFunc("GET /engine.json", func(w http.ResponseWriter, _ *http.Request) {
		_, _ = io.WriteString(w, `{"via":"http","version":"test"}`)
	})
	mux.HandleFunc("POST /ask", func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil {
			return
		}
		var asked struct{ Study string }
		_ = json.Unmarshal(body, &asked) // the engine says what is wrong with it
		d.mu.Lock()
		instead := d.instead
		d.mu.Unlock()
		if instead != nil && instead(w, r, asked.Study) {
			return
		}
		workbench.Tell(r.Context(), body, func(line []byte) {
			_, _ = w.Write(append(line, '\n'))
			_ = http.NewResponseController(w).Flush()
		})
	})
	files := workbench.Page()
	mux.HandleFunc("GET /", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'")
		name := cmp.Or(strings.TrimPrefix(r.URL.Path, "/"), "index.html")
		if text, ok := files[name]; ok {
			http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(text))
		} else {
			http.NotFound(w, r)
		}
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

func (d *desk) to(place string) {
	d.Helper()
	d.visit("about:blank")
	d.visit("http://" + d.at + "/#" + place)
}

// open goes to a place, and waits until it stands.
func (d *desk) open(place string) {
	d.Helper()
	d.to(place)
	d.until(`document.documentElement?.dataset.ready === "yes"`) // a new document has no root for a moment
}

// visit opens a link, again where the tab was still busy with the page before.
func (d *desk) visit(link string) {
	d.Helper()
	for {
		err := chromedp.Do(d.ctx, chromedp.Navigate(link))
		if err == nil {
			return
		}
		if !strings.Contains(err.Error(), "ERR_ABORTED") || d.ctx.Err() != nil {
			d.Fatal(err)
		}
	}
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
	d.do(chromium.Screen("screen", width, scheme))
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
` + chromium.Contrast + `  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let t = walk.nextNode(); t; t = walk.nextNode()) {
    const n = t.parentElement;
    if (!t.data.trim() || !shown(n) || n.closest("option, noscript, .fig")) continue; // the report's figures are looked at with it
    const style = getComputedStyle(n), back = behind(n), ink = parse(n instanceof SVGElement ? style.fill : style.color);
    for (let p = n; p; p = p.parentElement) ink[3] *= getComputedStyle(p).opacity; // back is the page's here
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
// nothing hangs out of it: with nothing in it, while a study runs, where one is refused,
// and when the program is gone.
func TestEveryPlaceIsReadableOnEveryScreen(t *testing.T) {
	d := newDesk(t)
	screens := func(what string) {
		t.Helper()
		for _, width := range []int64{360, 800, 1400} {
			for _, scheme := range []string{"light", "dark"} {
				// What hangs out is the width's, and what does not stand out the scheme's.
				if os.Getenv("PICTURES") == "" && (width == 800) != (scheme == "dark") {
					continue
				}
				d.screen(width, scheme)
				d.picture(fmt.Sprintf("%s-%d-%s", what, width, scheme))
				eval[any](d, `document.querySelectorAll("details").forEach(x => x.open = true)`)
				for _, fault := range eval[[]string](d, look) {
					t.Errorf("%s at %d, %s: %s", what, width, scheme, fault)
				}
				eval[any](d, `document.querySelectorAll("details").forEach(x => x.open = false)`)
			}
		}
		d.screen(800, "light")
	}
	d.screen(800, "light")
	for _, place := range places {
		d.open(place)
		d.until(settled[place])
		screens(place)
	}
	// Something recorded, and places asked for what takes a while.
	eval[any](d, `(async () => {
		const {Recording} = await import("./recording.js"), r = new Recording({device: "browser, keyboard", controls: ["key1", "key2"]});
		const turn = (from, apart, name, way, n) => {
			r.mark(from, name);
			for (let i = 1; i <= n; i++) for (const [kind, ms] of [["press", 0], ["release", 0.4 * apart]]) r.hear({ms: from + i * apart + ms, kind, way});
		};
		turn(0, 400, "slow turn", 1, 24);
		turn(11000, 60, "fast turn clockwise 1", 1, 20);
		turn(14000, 60, "fast turn counter-clockwise 1", -1, 19);
		await (await import("./store.js")).open().then((s) => s.put("recording", r.keep()));
	})()`)
	ask := map[string]func(){
		"knob": func() {
			d.press("Say how many were turned")
			eval[any](d, `document.querySelectorAll("form.counts input").forEach((f) => { f.value = "24"; })`)
			d.press("Work it out")
		},
		"dial": func() { // the button moves when an answer comes, so not by the mouse
			d.until(`document.querySelector("button.main")`)
			eval[any](d, `document.querySelector("button.main").click()`)
		}, "shape": func() { d.press("Find the best by itself") }, "path": func() {}, "keep": func() { d.press("Report") },
	}
	for _, state := range []struct {
		name, until string
		instead     func(w http.ResponseWriter, r *http.Request)
	}{
		{"busy", `document.querySelector(".busy progress") && document.querySelector(".busy").textContent.includes("so far")`, func(w http.ResponseWriter, r *http.Request) {
			_, _ = io.WriteString(w, `{"progress":{"done":3,"of":10,"what":"3 of 10 so far"}}`+"\n")
			_ = http.NewResponseController(w).Flush()
			<-r.Context().Done()
		}},
		{"refused", `document.querySelector(".warn[role=alert]")`, func(w http.ResponseWriter, r *http.Request) {
			_, _ = io.WriteString(w, `{"faults":["my-own-panel-of-the-left-hand-side.yaml:12:7: knobs[0].tasks[1].per_hour: -4 was found; a number of 0 or more would do","my-rig.yaml:3:1: firmware.`+strings.Repeat("debounce", 12)+`: not a key; debounce would do"]}`+"\n")
		}},
		{"gone", `document.querySelector("#trouble-engine")`, func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }},
	} {
		d.answer(func(w http.ResponseWriter, r *http.Request, study string) bool {
			if study == "desk" {
				return false
			}
			state.instead(w, r)
			return true
		})
		for _, place := range places {
			d.to(place)
			ask[place]()
			d.until(state.until)
			screens(place + "-" + state.name)
		}
	}
	d.noComplaints()
}

// answer lets something else answer in the engine's place.
func (d *desk) answer(instead func(http.ResponseWriter, *http.Request, string) bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.instead = instead
}
