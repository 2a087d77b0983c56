package workbench_test

import (
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/trial"
	"dialwright/scenarios/workbench"
)

// turns is a wheel event for each click as it comes, at its own time after ms on the page's
// clock; it returns when the page has heard them. The protocol is not waited for, which takes two frames an event; a key held in
// every other event keeps the browser from joining them.
func (d *desk) turns(at [2]float64, ms float64, clicks []encoder.Event) {
	d.Helper()
	origin := eval[float64](d, `(() => { heard = 0; return performance.timeOrigin; })()`)
	sent := make(chan error)
	for i, c := range clicks {
		p := input.DispatchMouseEventParams{
			Type: input.DispatchMouseEventTypeMouseWheel, X: at[0], Y: at[1],
			DeltaX: 1e-30, DeltaY: 100 * float64(c.Dir), // 0 would be left out, which is refused
			Modifiers: int64(i % 2), Timestamp: input.TimeSinceEpoch((origin + ms + float64(c.At)/1e6) / 1000),
		}
		go func() {
			_, err := chromedp.Call(d.ctx, input.DispatchMouseEvent, p)
			sent <- err
		}()
		if err := <-sent; err != nil {
			d.Fatal(err)
		}
	}
	d.until(fmt.Sprintf(`heard === %d`, len(clicks)))
}

// A simulated hand dials numbers on the page by the wheel, 40 under CI=true and 8 else: a
// wheel event for each click, at the times of the hand. The page's times and overshoots
// are what its log of the clicks gives on the engine's path, and what the simulation
// measured of the same hand, to the steps of a browser's time stamps (0.1 ms); the
// difference of the settings is what compare says.
func TestASimulatedHandDialsOnThePage(t *testing.T) {
	d := newDesk(t)
	// The page's clock stands while a number is dialed; the clicks have times of their own.
	if _, err := chromedp.Call(d.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
		Source: `(() => { let ms = 1000; performance.now = () => ms; window.clock = (to) => { ms = to; }; window.heard = 0; addEventListener("wheel", () => { heard++; }, true); })()`,
	}); err != nil {
		t.Fatal(err)
	}
	pairs := 4
	if os.Getenv("CI") == "true" {
		pairs = 20
	}
	task, lag := scenarios.VerticalSpeed(), 50
	d.screen(800, "light")
	d.open("dial")
	eval[any](d, fmt.Sprintf(`(async () => {
		const s = await (await import("./store.js")).open();
		await s.put("state", {task: %q, knob: {source: "wheel", learned: {sign: 1, unit: 100}, turned: null}, dial: {a: "plain", b: "power", frames: 0, lag: %d, pairs: %d}});
	})()`, task.Name, lag, pairs))
	d.open("dial")
	d.until(settled["dial"]) // the button moves when the answer comes
	d.press("Begin")
	d.asksNext(0)

	rigText := eval[string](d, fmt.Sprintf(`import("./dial.js").then((m) => m.pageRig({frames: 0, lag: %d}))`, lag))
	rig, err := (&file.Loader{In: strings.NewReader(rigText)}).Rig("-")
	if err != nil {
		t.Fatal(err)
	}
	person := scenarios.Practised()
	benches := map[string]*trial.Bench{}
	var clicks []encoder.Event
	profiles := scenarios.Profiles()
	for setting, name := range map[string]string{"A": "plain", "B": "power"} {
		p := &profiles[slices.IndexFunc(profiles, func(p scenarios.Profile) bool { return p.Name == name })]
		b, err := trial.NewBench(trial.Cell{Task: task, Rings: 1, Inner: &rig.Rig, Profile: p, Operator: &person})
		if err != nil {
			t.Fatal(err)
		}
		b.Path = func(_ int, e encoder.Event) {
			if e.Kind == encoder.Stepped { // a report that comes
				clicks = append(clicks, e)
			}
		}
		benches[setting] = b
	}
	sitting := eval[struct {
		Plan []struct {
			Pair    int
			Setting string
			Dealt   int
		}
		Use struct{ Dialings [][2]int64 }
	}](d, `import("./store.js").then((m) => m.open()).then((s) => s.get("sitting"))`)
	box := eval[[2]float64](d, `(() => { const b = document.querySelector(".pad").getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2]; })()`)
	ms := 1000.0
	var expected []*trial.Result // of the pairs; nil where a stamp's rounding made a step
	turned, apart := 0, 0
	for n, item := range sitting.Plan {
		d.asksNext(n)
		d.enter()
		d.until(shownToDial)
		if item.Pair == 0 { // practice is learned from, and not measured
			d.keys(kb.Escape)
			continue
		}
		clicks = clicks[:0]
		r := benches[item.Setting].Run(1, item.Dealt)
		expected = append(expected, &r)
		if from := sitting.Use.Dialings[item.Dealt]; from != [2]int64{r.Start, r.Target} {
			t.Fatalf("dialing %d is from and to %v, in the simulation %d, %d", n, from, r.Start, r.Target)
		}
		d.turns(box, ms, clicks)
		turned += len(clicks)
		began := ms
		confirm := func(at int64) {
			ms = began + float64(at)/1e6
			eval[any](d, fmt.Sprintf(`clock(%f)`, ms))
			d.enter()
		}
		confirm(r.Confirmed)
		// A time stamp is rounded to 0.1 ms: now and then an acceleration makes a step
		// more or less of it, and the number is not right yet. The hand turns on, slowly.
		d.until(fmt.Sprintf(`%s > %d || document.querySelector(".ask").textContent.includes("dial on")`, kept, n))
		if eval[int](d, kept) > n {
			continue
		}
		expected[len(expected)-1] = nil
		apart++
		off := eval[int](d, `(() => { const [from, to] = [".number", ".target b"].map((s) => Number(document.querySelector(s).textContent.replace("−", "-"))); return (to - from) / 100; })()`)
		clicks = clicks[:0]
		for k := range max(off, -off) {
			clicks = append(clicks, encoder.Event{At: r.Confirmed + int64(k+1)*1e9, Dir: int8(cmp.Compare(off, 0))})
		}
		d.turns(box, began, clicks)
		confirm(r.Confirmed + int64(len(clicks)+1)*1e9)
	}
	if apart > pairs/5 {
		t.Errorf("%d of %d dialings went another way than the simulation", apart, 2*pairs)
	}
	d.until(`document.querySelector(".every")`)
	table := eval[[][]string](d, `[...document.querySelectorAll(".every tbody tr")].map((r) => [...r.children].map((c) => c.textContent))`)
	if len(table) != 2*pairs {
		t.Fatalf("the page lists %d dialings of %d", len(table), 2*pairs)
	}

	// What it saves, on the engine's path.
	text := eval[string](d, `(async () => {
		const s = await (await import("./store.js")).open();
		return (await import("./dial.js")).logOf(await s.get("sitting"), await s.all("dialings"));
	})()`)
	log, err := (&file.Loader{In: strings.NewReader(text)}).Dialings("-")
	if err != nil {
		t.Fatal(err)
	}
	sum := map[string]float64{}
	over := map[string]int{}
	row := 0
	written := func(i int64) string {
		return strings.Replace(strings.TrimSuffix(task.Format(i), " "+task.Unit), "-", "−", 1)
	}
	for i := range log.All {
		x := &log.All[i]
		if x.Pair == 0 {
			continue
		}
		setup, err := log.Path(x)
		if err != nil {
			t.Fatal(err)
		}
		path, err := encoder.NewPath(setup)
		if err != nil {
			t.Fatal(err)
		}
		path.Start(draw.NewTrial(1, "page", 0), x.Start)
		for _, c := range x.Clicks {
			for range max(c.Clicks, -c.Clicks) {
				path.Detent(int64(c.At), int8(cmp.Compare(c.Clicks, 0)))
			}
		}
		path.Finish()
		course := trial.NewCourse(setup.Scale, x.Start, x.Target)
		for _, c := range path.Changes() {
			course.To(c.At, c.Value, log.Tasks[x.Task].Tolerance, log.Tasks[x.Task].Tolerance)
		}
		at, there := course.Reached()
		if want := []string{fmt.Sprint(x.Pair), x.Setting, written(x.Start), written(x.Target), fmt.Sprintf("%.2f", float64(at)/1e9), fmt.Sprint(course.Past), "right"}; !there || !slices.Equal(table[row], want) {
			t.Errorf("dialing %d: the page says %q, its log of the clicks gives %q", row+1, table[row], want)
		}
		if r := expected[row]; r != nil {
			if off := at - r.TimeToTarget; off < -200_000 || off > 200_000 || course.Past != r.Overshoot {
				t.Errorf("dialing %d: %d ns and %d steps past on the page, %d ns and %d steps in the simulation", row+1, at, course.Past, r.TimeToTarget, r.Overshoot)
			}
		}
		sum[x.Setting] += float64(at) / 1e9
		if course.Past > 0 {
			over[x.Setting]++
		}
		row++
	}

	// compare, for this rig and this person.
	panel := fmt.Sprintf(`{"kind": "panel", "version": 1, "name": "this page", "knobs": [{"name": "knob", "rings": 1, "rig": "page-rig.yaml", "tasks": [{"task": %q, "per_hour": 1}]}]}`, task.Name)
	flags := map[string]json.RawMessage{"panel": json.RawMessage(`"page-panel.yaml"`), "operator": json.RawMessage(`["practised"]`), "trials": json.RawMessage(fmt.Sprint(pairs)), "seed": json.RawMessage("1")}
	a, err := workbench.Ask(t.Context(), &workbench.Request{Study: "compare", Args: []string{"plain", "power"}, Flags: flags, Files: map[string]string{"page-rig.yaml": rigText, "page-panel.yaml": panel}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var result struct {
		Profiles []struct {
			Tasks []struct {
				Overshoot struct{ Share, Low, High float64 }
				Against   *struct {
					Time float64 `json:"time_s"`
					Low  float64
					High float64
				} `json:"against_first"`
			}
		}
	}
	if err := json.Unmarshal([]byte(a.JSON), &result); err != nil {
		t.Fatal(err)
	}
	less := (sum["B"] - sum["A"]) / float64(pairs)
	x := result.Profiles[1].Tasks[0].Against
	t.Logf("%d dialings, %d clicks: plain %.3f s, power %.3f s; difference %.3f s, compare says %.3f (%.3f to %.3f); overshot %d and %d", 2*pairs, turned, sum["A"]/float64(pairs), sum["B"]/float64(pairs), less, x.Time, x.Low, x.High, over["A"], over["B"])
	if less < x.Low || less > x.High {
		t.Errorf("on the page power takes %.3f s more than plain, compare says %.3f to %.3f", less, x.Low, x.High)
	}
	for i, setting := range []string{"A", "B"} {
		o := result.Profiles[i].Tasks[0].Overshoot
		if share := float64(over[setting]) / float64(pairs); share < o.Low || share > o.High {
			t.Errorf("on the page %s overshoots %.2f of the time, compare says %.2f to %.2f", setting, share, o.Low, o.High)
		}
	}
	if said := eval[string](d, `document.querySelector(".place > .by").textContent`); !strings.Contains(said, fmt.Sprintf("saves %.1f\u00a0s", max(less, -less))) {
		t.Errorf("the page says %q where the mean difference is %.3f s", said, less)
	}
	d.noComplaints()
}

// kept is how many dialings the page has kept.
const kept = `(await (await import("./store.js")).open().then((s) => s.all("dialings"))).length`

// asksNext waits until the page asks for dialing n, from 0.
func (d *desk) asksNext(n int) {
	d.Helper()
	d.until(fmt.Sprintf(kept+` === %d && document.querySelector(".ask")?.textContent.includes("Enter shows the number")`, n))
}
