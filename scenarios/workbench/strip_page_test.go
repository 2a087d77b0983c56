package workbench_test

import (
	"slices"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// A million clicks cost the strip no more than some thousand: what it reads of a recording
// is counted at every zoom. What it shows of each column is what is in it.
func TestAMillionClicksAreShown(t *testing.T) {
	d := newDesk(t)
	d.screen(1400, "light")
	d.open("keep")
	type work struct {
		Length, Clicks, Wrong, Most int
		Width                       int
		FrameMS, DrawMS, OpenMS     float64
	}
	of := func(clicks string) work {
		return eval[work](d, `(async () => {
			const {Recording} = await import("./recording.js"), {Strip} = await import("./strip.js"), {open} = await import("./store.js");
			const r = new Recording({device: "browser, keyboard", controls: ["key1", "key2"]});
			let ms = 0;
			for (let i = 0; i < `+clicks+`; i++) {
				const way = i % 1000 < 800 ? 1 : -1;
				if (i % 5000 === 0) r.mark(ms, "turn " + i / 5000);
				ms += 20 + i * 7919 % 61 + (i % 300 === 0 ? 900 : 0);
				r.hear({ms, kind: "press", way});
				r.hear({ms: ms + 15, kind: "release", way});
			}
			const strip = new Strip("clicks");
			document.querySelector(".place").append(strip.canvas);
			strip.show(r, 0, r.end);
			const all = r.times, width = strip.canvas.clientWidth;
			let reads = 0, most = 0, wrong = 0;
			for (const span of [r.end * 1.02, r.end / 3, r.end / 1000, 6000, 500]) for (const from of [0, r.end / 7, r.end / 2, r.end - span / 2]) {
				reads = 0;
				r.times = new Proxy(all, {get(list, key) { reads++; return list[key]; }});
				strip.show(r, Math.max(0, from), span);
				r.times = all;
				most = Math.max(most, reads);
				if (r.clicks > 1e5 && from) continue; // counting them one by one takes its time
				const {clicks, down} = strip.columns(width), want = [0, 1].map(() => new Array(width).fill(0)), held = [0, 1].map(() => new Array(width).fill(0)), since = [];
				const edge = (x) => strip.from + x * (span / width);
				const column = (ms) => {
					const x = Math.floor((ms - strip.from) / (span / width));
					return ms < edge(x) ? x - 1 : ms >= edge(x + 1) ? x + 1 : x;
				};
				for (let i = 0; i < r.length; i++) {
					const e = r.at(i), x = column(e.ms), lane = e.n > 0 ? 0 : 1;
					if (e.kind === "press") { since[lane] = x; if (x >= 0 && x < width) want[lane][x]++; }
					if (e.kind === "release") for (let c = Math.max(0, since[lane]); c <= Math.min(x, width - 1); c++) held[lane][c] = 1;
				}
				for (const lane of [0, 1]) for (let x = 0; x < width; x++) if (Math.abs(clicks[lane][x] - want[lane][x]) + Math.abs(down[lane][x] - held[lane][x]) > 0) wrong++;
			}
			const frames = [], draws = [];
			await new Promise((done) => {
				const frame = (at) => {
					frames.push(at);
					const before = performance.now();
					strip.show(r, r.end / 2 * frames.length / 120, r.end / 2);
					draws.push(performance.now() - before);
					if (frames.length < 120) requestAnimationFrame(frame); else done();
				};
				requestAnimationFrame(frame);
			});
			const middle = (list) => list.sort((a, b) => a - b)[list.length >> 1];
			const store = await open();
			await store.put("recording", r.keep());
			const before = performance.now();
			Recording.of(await store.get("recording"));
			return {Length: r.length, Clicks: r.clicks, Wrong: wrong, Most: most, Width: width, FrameMS: middle(frames.slice(1).map((f, i) => f - frames[i])), DrawMS: middle(draws), OpenMS: performance.now() - before};
		})()`)
	}
	small, large := of("3000"), of("1000000")
	t.Logf("%d clicks: at most %d reads a picture of %d columns, %.1f ms; %d clicks: %d reads, %.1f ms, a frame every %.1f ms, read from the storage in %.0f ms",
		small.Clicks, small.Most, small.Width, small.DrawMS, large.Clicks, large.Most, large.DrawMS, large.FrameMS, large.OpenMS)
	if small.Wrong > 0 || large.Wrong > 0 {
		t.Errorf("%d and %d columns show something else than what is in them", small.Wrong, large.Wrong)
	}
	if large.Most > 30*large.Width {
		t.Errorf("a picture of %d columns reads %d times of a million clicks", large.Width, large.Most)
	}
	d.open("knob")
	d.until(`document.querySelector(".live").textContent.startsWith("1000000 clicks")`)
	d.noComplaints()
}

// A click is on the screen in the next frame: of the real keys that are pressed, most
// change the number in the first frame after them.
func TestAClickIsShownInTheNextFrame(t *testing.T) {
	d := newDesk(t)
	if _, err := chromedp.Call(d.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `(() => {
		let frame = 0, began, waiting = [];
		const count = (at) => { frame++; began = at; stamps.push(at); requestAnimationFrame(count); };
		window.stamps = [];
		window.late = []; // [frames, ms] from a key to the frame in which the number changed
		window.watch = () => new MutationObserver(() => {
			for (const w of waiting) late.push([frame - w.frame, began - w.ms]);
			waiting = [];
		}).observe(document.querySelector(".number"), {childList: true, characterData: true, subtree: true});
		requestAnimationFrame(count);
		addEventListener("keydown", (e) => { if (e.key.startsWith("Arrow")) waiting.push({frame, ms: e.timeStamp}); }, true);
	})()`}); err != nil {
		t.Fatal(err)
	}
	d.screen(800, "light")
	d.sit(1)
	d.open("dial")
	d.press("Begin")
	d.asksNext(0)
	d.enter()
	d.until(shownToDial)
	eval[any](d, `watch()`)
	const clicks = 60
	for range clicks {
		d.keys(kb.ArrowRight)
	}
	d.until(`late.length === 60`)
	late := eval[[][2]float64](d, `late`)
	period := eval[float64](d, `(() => { const s = stamps.slice(1).map((x, i) => x - stamps[i]).sort((a, b) => a - b); return s[s.length >> 1]; })()`)
	slices.SortFunc(late, func(a, b [2]float64) int { return int(1000 * (a[1] - b[1])) })
	ms := late[clicks/2][1]
	slices.SortFunc(late, func(a, b [2]float64) int { return int(a[0] - b[0]) })
	t.Logf("median from a key to the frame in which the number changes: %.0f frames, %.1f ms, which is %.2f frames of %.1f ms; most %.0f frames", late[clicks/2][0], ms, ms/period, period, late[clicks-1][0])
	if late[clicks/2][0] > 1 {
		t.Errorf("half of the clicks change the number %.0f frames later or more", late[clicks/2][0])
	}
	d.noComplaints()
}
