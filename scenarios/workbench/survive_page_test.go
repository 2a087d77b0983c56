package workbench_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/inspector"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// program is dialwright serve as a process of its own.
type program struct {
	*exec.Cmd
	host, link string
}

// started starts dialwright serve on a port; 0 is any.
func started(t *testing.T, built, port string) *program {
	t.Helper()
	ctx, end := context.WithCancel(context.Background())
	p := &program{Cmd: exec.CommandContext(ctx, built, "serve", "--no-open", "--port", port, "--dir", t.TempDir())}
	p.Stderr = os.Stderr
	out, err := p.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		end()
		_ = p.Wait() // it was killed
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	m := regexp.MustCompile(`http://([^/]+)/open/\S+`).FindStringSubmatch(line)
	if err != nil || m == nil {
		t.Fatalf("serve prints %q: %v", line, err)
	}
	p.link, p.host = m[0], m[1]
	return p
}

// kill ends the program as a power cut would, without a word.
func (p *program) kill(t *testing.T) {
	t.Helper()
	if err := p.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = p.Wait() // it was killed
}

// keys presses keys one after the other.
func (d *desk) keys(keys string) {
	d.Helper()
	d.do(chromedp.KeyEvent(keys))
}

func (d *desk) enter() { d.Helper(); d.keys(kb.Enter) }

// sit sets a sitting up, before it is begun: a knob that is dragged, or turned by the
// arrow keys, and nothing set on either side.
func (d *desk) sit(pairs int) {
	d.Helper()
	d.open("keep") // where nothing is yet to be written
	eval[any](d, fmt.Sprintf(`(async () => {
		const s = await (await import("./store.js")).open();
		await s.put("state", {task: "heading", knob: {source: "drag", learned: null, turned: null}, dial: {a: "plain", b: "plain", frames: 0, lag: 0, pairs: %d}});
	})()`, pairs))
}

const shownToDial = `document.querySelector(".target b") && document.querySelector(".number").textContent`

// toTarget turns the number that is shown to its target by the arrow keys, and returns
// by how many clicks.
func (d *desk) toTarget() int {
	d.Helper()
	d.until(shownToDial)
	way := eval[int](d, `(() => {
		const [from, to] = [".number", ".target b"].map((s) => Number(document.querySelector(s).textContent));
		return ((to - from) % 360 + 540) % 360 - 180;
	})()`)
	d.keys(strings.Repeat(kb.ArrowLeft, max(0, -way)) + strings.Repeat(kb.ArrowRight, max(0, way)))
	d.until(`document.querySelector(".number").textContent === document.querySelector(".target b").textContent`)
	return max(way, -way)
}

// dialByKeys dials the next number by the arrow keys, and says that it is right.
func (d *desk) dialByKeys() {
	d.Helper()
	done := d.dialed()
	d.enter()
	d.toTarget()
	d.enter()
	d.until(fmt.Sprintf(`(await (await import("./store.js")).open().then((s) => s.all("dialings"))).length > %d`, done))
}

// dialed is how many dialings are kept.
func (d *desk) dialed() int {
	d.Helper()
	return len(outcomes(d))
}

// outcomes are how the kept dialings ended.
func outcomes(d *desk) []string {
	d.Helper()
	return eval[[]string](d, `(async () => (await (await import("./store.js")).open().then((s) => s.all("dialings"))).map((x) => x.outcome))()`)
}

// The program is killed while a number is dialed: the dialing goes on, nothing is lost,
// the page says what happened when it needs the program, and goes on when it is back,
// though it has another key then.
func TestTheProgramIsKilledInADialing(t *testing.T) {
	d := newDesk(t)
	built := filepath.Join(t.TempDir(), "dialwright")
	if text, err := exec.CommandContext(t.Context(), "go", "build", "-o", built, "dialwright/cmd/dialwright").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	first := started(t, built, "0")
	d.at = first.host
	d.screen(800, "light")
	d.visit(first.link) // which tells the browser the key
	d.sit(1)
	d.open("dial")
	d.press("Begin")
	d.until(`document.querySelector(".ask")?.textContent.includes("For practice, 1 of 4")`)
	d.dialByKeys()
	d.enter()
	d.until(shownToDial)
	d.keys(strings.Repeat(kb.ArrowRight, 3))
	first.kill(t)
	d.keys(strings.Repeat(kb.ArrowRight, 3))
	d.keys(kb.Escape)
	d.until(`document.querySelector(".ask")?.textContent.includes("Given up")`)
	for d.dialed() < 6 {
		d.dialByKeys()
	}
	if got := outcomes(d); !slices.Equal(got, []string{"right", "gave-up", "right", "right", "right", "right"}) {
		t.Errorf("what is kept: %v", got)
	}
	if got := eval[[]int](d, `(async () => (await (await import("./store.js")).open().then((s) => s.all("dialings"))).map((x) => x.events.length))()`); got[1] != 6 {
		t.Errorf("of the dialing in which the program was killed %d clicks are kept, want 3 before and 3 after", got[1])
	}
	d.until(`document.querySelector("#trouble-engine")?.textContent.includes("does not answer")`)
	d.picture("gone")
	if got := eval[int](d, `document.querySelectorAll("table tbody tr").length`); got < 4 {
		t.Errorf("the page shows %d rows of what was dialed", got)
	}

	_, port, _ := strings.Cut(first.host, ":")
	second := started(t, built, port)
	d.until(`document.querySelector("#trouble-engine")?.textContent.includes("open the link")`)
	d.picture("unknown")
	// Whoever has opened the new link has told the browser the new key.
	tab, shut := chromedp.NewContext(d.ctx)
	t.Cleanup(shut)
	if err := chromedp.Do(tab, chromedp.Navigate(second.link)); err != nil {
		t.Fatal(err)
	}
	d.until(`!document.querySelector("#trouble-engine") && document.querySelector(".predicted table")`)
	d.noComplaints()
}

// A page that is loaded anew, and one whose process dies, offer what was dialed again.
// Of the dialing that was going on nothing counts.
func TestAReloadAndACrashLoseNothing(t *testing.T) {
	d := newDesk(t)
	d.screen(800, "light")
	d.sit(1)
	d.open("dial")
	d.press("Begin")
	d.until(`document.querySelector(".ask")?.textContent.includes("For practice, 1 of 4")`)
	d.dialByKeys()
	d.dialByKeys()
	d.enter()
	d.until(shownToDial)
	d.keys(strings.Repeat(kb.ArrowRight, 2))
	d.open("dial") // which goes elsewhere and comes back
	goOn := func(want ...string) {
		t.Helper()
		d.until(`[...document.querySelectorAll("button")].some((b) => b.textContent.startsWith("Go on with dialing"))`)
		got := outcomes(d)
		counted := slices.DeleteFunc(slices.Clone(got), func(o string) bool { return o == "away" })
		if !slices.Equal(counted, want) {
			t.Errorf("there are %v, want %v", got, want)
		}
		// A browser may write down that one was away, or not; if it does, that one comes again.
		d.press(fmt.Sprintf("Go on with dialing %d of %d", len(got)+1, 6+len(got)-len(counted)))
		d.until(`document.querySelector(".ask")?.textContent.includes("Enter shows the number")`)
	}
	goOn("right", "right")
	d.dialByKeys()
	d.enter()
	d.until(shownToDial)
	d.keys(strings.Repeat(kb.ArrowRight, 2))

	crashed := make(chan struct{})
	if err := chromedp.Listen(d.ctx, func(e any) {
		if _, ok := e.(*inspector.EventTargetCrashed); ok {
			close(crashed)
		}
	}); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(d.ctx)
	defer stop()
	go func() { _, _ = chromedp.Call(ctx, page.Crash, cdp.Empty{}) }() // it is never answered
	select {
	case <-crashed:
	case <-d.ctx.Done():
		t.Fatal("the page does not crash")
	}
	tab, shut := chromedp.NewContext(d.ctx)
	t.Cleanup(shut)
	d.ctx = tab
	d.screen(800, "light")
	d.open("dial")
	goOn("right", "right", "right")
	for !eval[bool](d, `!!document.querySelector(".every")`) {
		d.dialByKeys()
	}
	if got := slices.DeleteFunc(outcomes(d), func(o string) bool { return o == "away" }); !slices.Equal(got, []string{"right", "right", "right", "right", "right", "right"}) {
		t.Errorf("in the end there are %v", got)
	}
	d.until(`document.querySelector("h1").textContent.includes("No difference") || document.querySelector("h1").textContent.includes("quicker")`)
	d.noComplaints()
}

// Two windows of a browser do not dial one sitting: the second one says so, and what is
// dialed in the first stays.
func TestOneWindowAtATimeDials(t *testing.T) {
	d := newDesk(t)
	d.screen(800, "light")
	d.sit(1)
	d.open("dial")
	d.press("Begin")
	d.until(`document.querySelector(".ask")?.textContent.includes("For practice, 1 of 4")`)
	d.dialByKeys()

	tab, shut := chromedp.NewContext(d.ctx)
	t.Cleanup(shut)
	second := &desk{T: t, ctx: tab, at: d.at}
	for _, way := range []string{"Go on with dialing 2 of 6", "Begin anew"} {
		second.open("dial")
		second.press(way)
		second.until(`document.querySelector(".work .warn")?.textContent.includes("Another window")`)
	}
	if got := outcomes(d); !slices.Equal(got, []string{"right"}) {
		t.Errorf("there are %v, want what was dialed in the first window", got)
	}
	d.press("Stop for now")
	second.open("dial")
	second.press("Go on with dialing 2 of 6")
	second.until(`document.querySelector(".ask")?.textContent.includes("For practice, 2 of 4")`)
	d.noComplaints()
}
