package workbench_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"dialwright/scenarios/workbench"
)

// After a sitting the page lays beside it who is fitted to it, and says what that person
// misses, as fit --dialed does of the file that it saves; after a short one it says why
// nobody is fitted, and simulates the chosen operator.
func TestThePageSaysHowWellItPredicts(t *testing.T) {
	d := newDesk(t)
	d.screen(800, "light")
	file, err := os.ReadFile(filepath.Join("..", "..", "testdata", "dialings.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	dialed := func(text string) {
		t.Helper()
		d.open("keep")
		written, err := json.Marshal(text)
		if err != nil {
			t.Fatal(err)
		}
		eval[any](d, `(async () => {
  const {open} = await import("./store.js"), {readDialings} = await import("./log.js");
  const store = await open(), d = readDialings(`+string(written)+`), {low, count, wrap, tolerance, unit} = d.tasks.heading;
  const setting = (name, profile) => ({name, profile: {...profile, settings: {"firmware.queue": "4"}}});
  await store.clear("dialings");
  await store.put("sitting", {
    task: "heading", use: {task: "heading", unit, first: low, step: 1, decimals: 0, low, count, wrap, tolerance_steps: tolerance},
    settings: {A: setting("plain", d.settings.A), B: setting("power", d.settings.B)}, frames: d.program.framesPerS, lag: d.program.lagMs, source: "wheel",
    plan: d.dialings.map(({pair, order, setting}) => ({pair, order, setting, dealt: 0})),
  });
  for (const [n, x] of d.dialings.entries()) await store.append("dialings", {...x, n});
})()`)
		d.open("dial")
	}
	dialed(string(file))
	d.until(`document.querySelector(".predicted table")`)
	a, err := workbench.Ask(t.Context(), &workbench.Request{
		Study: "fit", Flags: map[string]json.RawMessage{"dialed": json.RawMessage(`"dialings.jsonl"`)}, Files: map[string]string{"dialings.jsonl": string(file)},
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Dialed struct {
			Verdict     string
			Predictions []struct{ Measured, Predicted struct{ Value float64 } }
		}
	}
	if err := json.Unmarshal([]byte(a.JSON), &want); err != nil {
		t.Fatal(err)
	}
	if got := eval[string](d, `document.querySelector(".predicted p").textContent`); got != want.Dialed.Verdict {
		t.Errorf("the page says %q, fit --dialed says %q", got, want.Dialed.Verdict)
	}
	rows := eval[[][]string](d, `[...document.querySelectorAll(".predicted table")][0].tBodies[0].innerText.split("\n").map(r => r.split("\t"))`)
	for i, p := range want.Dialed.Predictions[:2] {
		for k, v := range []float64{p.Measured.Value, p.Predicted.Value} {
			if begins := fmt.Sprintf("%.1f (", v); !strings.HasPrefix(rows[i][1+k], begins) {
				t.Errorf("row %d: %q, want %s…", i, rows[i], begins)
			}
		}
	}
	if len(rows) != 6 {
		t.Errorf("%d rows, want times and overshoots with A, with B, and their differences", len(rows))
	}
	for _, width := range []int64{360, 1400} {
		d.screen(width, "dark")
		d.picture(fmt.Sprintf("predicted-%d", width))
		for _, fault := range eval[[]string](d, look) {
			t.Errorf("at %d: %s", width, fault)
		}
	}
	d.do(chromedp.Click(`.predicted > .row button`))
	d.until(`document.querySelector(".predicted").innerText.includes("simulate you from now on")`)
	eval[any](d, `(async () => {
  const store = await (await import("./store.js")).open();
  while ((await store.get("state"))?.operator !== "dialed-hand.yaml") await new Promise(r => setTimeout(r, 20));
})()`)

	lines := strings.SplitAfter(string(file), "\n")
	dialed(strings.Join(lines[:12], ""))
	d.until(`document.querySelector(".predicted table")`)
	if got := eval[string](d, `document.querySelector(".predicted p").textContent`); !strings.HasPrefix(got, "Nobody was fitted to you (too few dialings: 6 used, of 4 pairs") || !strings.Contains(got, "dialed-hand.yaml operator") {
		t.Errorf("after few dialings the page says %q", got)
	}
	d.noComplaints()
}
