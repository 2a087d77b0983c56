package workbench_test

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios/workbench"
)

// losing is a rig that loses quick clicks between count and pulse: each pulse takes
// 80 ms, and none may wait.
func losing() *encoder.Rig {
	r := encoder.Default()
	r.Name = "losing"
	r.Firmware.Output, r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = encoder.Keys, 40*time.Millisecond, 40*time.Millisecond, 0
	r.USB.Poll = time.Millisecond
	return &r
}

// heard is a press or a release as it leaves a rig.
type heard struct {
	ms    float64
	way   int8
	press bool
}

// turned is what leaves a rig of so many clicks in one direction, so many ms apart, and
// how many of the clicks are lost.
func turned(t *testing.T, rig *encoder.Rig, clicks int, way int8, apart time.Duration) (list []heard, lost int) {
	t.Helper()
	path, err := encoder.NewPath(encoder.Setup{Rig: rig})
	if err != nil {
		t.Fatal(err)
	}
	path.Trace = func(e encoder.Event) {
		if e.Kind == encoder.Delivery || e.Kind == encoder.Released {
			list = append(list, heard{float64(e.At) / 1e6, way, e.Kind == encoder.Delivery})
		}
	}
	path.Start(draw.NewTrial(1, "losing", clicks), 0)
	for n := range clicks {
		path.Detent(int64(n+1)*int64(apart), way)
	}
	path.Finish()
	a := path.Account()
	slices.SortStableFunc(list, func(a, b heard) int { return int(math.Copysign(1, a.ms-b.ms)) })
	return list, a.Detents - a.Delivered
}

// ear is a way in which a page hears a knob.
type ear struct {
	kind   string
	before string                                     // a script that stands in for what the browser has
	send   func(d *desk, at float64, events ...heard) // at is what the page's clock says at 0 ms
}

// keys are real key events, with times of their own.
func keys() *ear {
	e := &ear{kind: "keys"}
	e.send = func(d *desk, at float64, events ...heard) {
		d.Helper()
		origin := eval[float64](d, `performance.timeOrigin`)
		for _, x := range events {
			p := input.DispatchKeyEventParams{Type: input.DispatchKeyEventTypeKeyUp, Code: "F8", Key: "F8", WindowsVirtualKeyCode: 119}
			if x.press {
				p.Type = input.DispatchKeyEventTypeRawKeyDown
			}
			if x.way < 0 {
				p.Code, p.Key, p.WindowsVirtualKeyCode = "F7", "F7", 118
			}
			p.Timestamp = input.TimeSinceEpoch((origin + at + x.ms) / 1000)
			if _, err := chromedp.Call(d.ctx, input.DispatchKeyEvent, p); err != nil {
				d.Fatal(err)
			}
		}
	}
	return e
}

// reports are HID reports of a board with a bit for each way, of a device that stands in
// at the browser's interface.
func reports() *ear {
	e := &ear{kind: "hid", before: `(() => {
		const device = Object.assign(new EventTarget(), {vendorId: 0x1209, productId: 1, productName: "a knob", opened: false,
			collections: [{inputReports: [{reportId: 2, items: [{reportSize: 1, reportCount: 16, logicalMinimum: 0, logicalMaximum: 1, isAbsolute: true}]}], children: []}],
			async open() { this.opened = true; }});
		let allowed = false;
		const hid = Object.assign(new EventTarget(), {
			getDevices: async () => allowed ? [device] : [],
			requestDevice: async () => {
				if (!navigator.userActivation.isActive) throw new DOMException("a click must ask", "SecurityError");
				allowed = true;
				return [device];
			}});
		Object.defineProperty(navigator, "hid", {value: hid});
		window.report = (ms, ...bytes) => {
			const event = new Event("inputreport");
			Object.defineProperty(event, "timeStamp", {value: ms});
			device.dispatchEvent(Object.assign(event, {device, reportId: 2, data: new DataView(Uint8Array.from(bytes).buffer)}));
		};
		window.unplug = () => hid.dispatchEvent(Object.assign(new Event("disconnect"), {device}));
	})()`}
	e.send = func(d *desk, at float64, events ...heard) {
		d.Helper()
		var calls []string
		for _, x := range events {
			bits := 0
			if x.press && x.way > 0 {
				bits = 1 << 3
			} else if x.press {
				bits = 1 << 4
			}
			calls = append(calls, fmt.Sprintf("report(%.3f, 0, %d)", at+x.ms, bits))
		}
		eval[any](d, `(() => {`+strings.Join(calls, ";")+`})()`)
	}
	return e
}

// press presses the button with a name.
func (d *desk) press(name string) {
	d.Helper()
	found := fmt.Sprintf(`[...document.querySelectorAll("button")].find((b) => b.textContent === %q && b.getClientRects().length && !b.disabled)`, name)
	d.until(found)
	box := eval[[2]float64](d, `(() => { const b = `+found+`; b.scrollIntoView({block: "center"}); const r = b.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()`)
	d.do(chromedp.MouseClickXY(box[0], box[1]))
}

// asks waits until the page asks for something.
func (d *desk) asks(what string) {
	d.Helper()
	d.until(fmt.Sprintf(`document.querySelector(".lead .ask")?.textContent.includes(%q)`, what))
}

// A rig that loses a known share of quick clicks: the page finds it within 3 points, and
// names the link at which the rig loses them, which is the one that fit names.
func TestTheKnobPlaceFindsWhatIsLost(t *testing.T) {
	for _, e := range []*ear{keys(), reports()} {
		t.Run(e.kind, func(t *testing.T) {
			d := newDesk(t)
			if e.before != "" {
				if _, err := chromedp.Call(d.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: e.before}); err != nil {
					t.Fatal(err)
				}
			}
			d.screen(800, "light")
			d.open("knob")
			eval[any](d, fmt.Sprintf(`document.querySelector("#source-%s").click()`, e.kind))
			d.press("Begin")
			at := eval[float64](d, `performance.now()`)
			play := func(clicks int, way int8, apart time.Duration) (lost int) {
				t.Helper()
				events, lost := turned(t, losing(), clicks, way, apart)
				e.send(d, at, events...)
				at += float64(clicks+4) * apart.Seconds() * 1000
				return lost
			}
			d.asks("Turn it clockwise")
			play(5, +1, 200*time.Millisecond)
			d.press("That was it")
			d.asks("counter-clockwise")
			play(5, -1, 200*time.Millisecond)
			d.press("That was it")
			d.asks("slowly")
			at = max(at, eval[float64](d, `performance.now()`))
			const whole, quick = 24, 4 // clicks of a turn, quick turns
			if play(whole, +1, 400*time.Millisecond) > 0 {
				t.Fatal("a slow turn loses clicks")
			}
			lost := 0
			for n := range quick {
				name, way := "Done, one more flick", int8(1-2*(n%2))
				if n == 0 {
					name = "Done, now flick"
				}
				d.press(name)
				d.asks("as fast as you do")
				lost += play(whole, way, 55*time.Millisecond)
			}
			d.press("Done, that is all")
			d.until(`document.querySelector("form.counts input")`)
			eval[any](d, fmt.Sprintf(`document.querySelectorAll("form.counts input").forEach((f) => { f.value = "%d"; })`, whole))
			d.press("Work it out")
			d.until(`document.querySelector("#answer").textContent.includes("lost")  && document.querySelector(".found table")`)
			answer, by := eval[string](d, `document.querySelector("#answer").textContent`), eval[string](d, `document.querySelector("p.by").textContent`)
			d.picture("found-" + e.kind)

			share := 100 * float64(lost) / (whole * quick)
			m := regexp.MustCompile(`^([0-9.]+).% of your quick clicks are lost`).FindStringSubmatch(answer)
			if m == nil {
				t.Fatalf("the page says %q", answer)
			}
			if said, err := strconv.ParseFloat(m[1], 64); err != nil || math.Abs(said-share) > 3 {
				t.Errorf("the page says %q where %.1f %% are lost", answer, share)
			}
			if !strings.Contains(by, "pulses and queue") {
				t.Errorf("the page says %q where pulses that take 80 ms lose the clicks", by)
			}
			csv := eval[string](d, `(async () => { const {Recording} = await import("/recording.js"); const {open} = await import("/store.js"); return Recording.of(await (await open()).get("recording")).csv(); })()`)
			if link := named(t, csv, whole); !strings.Contains(by, link) {
				t.Errorf("the page says %q where fit names %s", by, link)
			}
			d.noComplaints()
		})
	}
}

// A gamepad's buttons are looked at frame by frame: presses that last are heard, and the
// two ways are told apart.
func TestAGamepadIsHeard(t *testing.T) {
	d := newDesk(t)
	if _, err := chromedp.Call(d.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `(() => {
		const buttons = [{pressed: true}, {pressed: false}, {pressed: false}]; // the first is a switch that is on
		navigator.getGamepads = () => [null, {index: 1, buttons}];
		const frames = () => new Promise((heard) => requestAnimationFrame(() => requestAnimationFrame(heard)));
		window.pad = async (button, n) => {
			await frames();
			for (let i = 0; i < n; i++) {
				for (const is of [true, false]) {
					buttons[button].pressed = is;
					await frames();
				}
			}
		};
	})()`}); err != nil {
		t.Fatal(err)
	}
	d.screen(800, "light")
	d.open("knob")
	eval[any](d, `document.querySelector("#source-gamepad").click()`)
	d.press("Begin")
	d.asks("Turn it clockwise")
	eval[any](d, `pad(2, 5)`)
	d.press("That was it")
	d.asks("counter-clockwise")
	eval[any](d, `pad(1, 5)`)
	d.press("That was it")
	d.asks("slowly")
	eval[any](d, `pad(2, 12)`)
	d.press("Done, now flick")
	d.asks("as fast as you do")
	eval[any](d, `pad(1, 7)`)
	d.press("Done, that is all")
	d.until(`document.querySelector("form.counts")?.textContent.includes("7 heard")`)
	if got := eval[string](d, `document.querySelector("form.counts").textContent`); !strings.Contains(got, "slow turn12 heard") {
		t.Errorf("the page heard: %s", got)
	}
	d.noComplaints()
}

// named is the link before a program that loses most, as fit says of the same turns of so
// many clicks: it is asked as a command would.
func named(t *testing.T, csv string, whole int) string {
	t.Helper()
	var said []string
	var first, last float64
	seen, turn := 0, -1
	add := func() {
		if turn >= 0 {
			said = append(said, fmt.Sprintf("turned %d in %.2fs shown %d", whole, last-first, seen))
		}
		seen, first = 0, math.Inf(1)
		turn++
	}
	for line := range strings.Lines(csv) {
		f := strings.Split(strings.TrimSpace(line), ",")
		at, err := strconv.ParseFloat(f[0], 64)
		switch {
		case err != nil:
		case f[2] == "mark":
			add()
		case f[2] == "press" || strings.ContainsAny(f[2], "+-"):
			seen++
			first, last = min(first, at), at
		}
	}
	add()
	body, err := json.Marshal(map[string]any{"study": "fit", "args": []string{"knob.csv"}, "flags": map[string]any{"count": said}, "files": map[string]string{"knob.csv": csv}})
	if err != nil {
		t.Fatal(err)
	}
	var result struct {
		Counts struct {
			Links []struct {
				Link string
				Most float64 `json:"loses_most_probability"`
			}
		}
	}
	workbench.Tell(t.Context(), body, func(line []byte) {
		var told struct {
			Answer *struct{ JSON string }
			Faults []string
		}
		if err := json.Unmarshal(line, &told); err != nil || told.Faults != nil {
			t.Fatalf("%v %s", err, line)
		}
		if told.Answer == nil {
			return
		}
		if err := json.Unmarshal([]byte(told.Answer.JSON), &result); err != nil {
			t.Fatal(err)
		}
	})
	best, most := "", -1.0
	for _, l := range result.Counts.Links {
		if slices.Contains([]string{"contact and scan", "pulses and queue", "USB poll"}, l.Link) && l.Most > most {
			best, most = l.Link, l.Most
		}
	}
	return best
}
