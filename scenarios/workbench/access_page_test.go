package workbench_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// controls are the roles of what is worked by hand (WAI-ARIA 1.2), and of what a reader
// must be told the name of.
var controls = []string{
	"button", "link", "textbox", "spinbutton", "slider", "checkbox", "radio", "combobox", "listbox", "searchbox", "DisclosureTriangle", "application", "image", "img",
	"progressbar", "region", "table", "navigation", "main",
}

func text(v *accessibility.Value) (s string) {
	if v != nil {
		_ = json.Unmarshal(v.Value, &s) // what is no text has none
	}
	return s
}

// unnamed says what of the page a screen reader cannot tell: controls without a name, what
// takes the focus and has no role, and headings out of order.
func (d *desk) unnamed() (faults []string, found int) {
	d.Helper()
	tree, err := chromedp.Call(d.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		d.Fatal(err)
	}
	level := 0
	for _, n := range tree.Nodes {
		if n.Ignored {
			continue
		}
		role, name, focusable := text(n.Role), text(n.Name), false
		for _, p := range n.Properties {
			if p.Value == nil {
				continue
			}
			v := string(p.Value.Value)
			if p.Name == accessibility.PropertyNameFocusable && v == "true" {
				focusable = true
			}
			if role == "heading" && p.Name == accessibility.PropertyNameLevel {
				at := int(v[0] - '0')
				if at > level+1 || at == 1 && level > 0 {
					faults = append(faults, fmt.Sprintf("heading %q of level %d after level %d", name, at, level))
				}
				level = at
			}
		}
		switch {
		case slices.Contains(controls, role) || role == "heading":
			found++
			if strings.TrimSpace(name) == "" {
				faults = append(faults, fmt.Sprintf("a %s has no name", role))
			}
		case focusable && role != "RootWebArea" && role != "option" && role != "MenuListOption":
			faults = append(faults, fmt.Sprintf("%q takes the focus and is a %s", name, role))
		}
	}
	if level == 0 {
		faults = append(faults, "there is no heading")
	}
	return faults, found
}

// reached goes through the page with the tab key, and says what of it is not reached, or
// in another order than it is read.
const reachable = `[...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")].filter((n) => n.tabIndex >= 0 && !n.disabled && n.getClientRects().length > 0 &&
	!(n.type === "radio" && n.name && n !== (document.querySelector("input[name=" + n.name + "]:checked") ?? document.querySelector("input[name=" + n.name + "]:enabled"))))`

func (d *desk) reached() (faults []string) {
	d.Helper()
	all := eval[int](d, `(() => {
		document.activeElement?.blur();
		getSelection().removeAllRanges();
		window.order = `+reachable+`;
		window.met = [];
		addEventListener("focusin", window.meet = (e) => met.push(order.indexOf(e.target)));
		document.querySelector(".skip").focus();
		return order.length;
	})()`)
	d.keys(strings.Repeat(kb.Tab, all-1))
	met := eval[[]int](d, `(removeEventListener("focusin", meet), met)`)
	for i, at := range met {
		if i < all && at != i {
			what := eval[[]string](d, fmt.Sprintf(`[%d, %d].map((i) => order[i]?.outerHTML.slice(0, 80) ?? "something else")`, i, at))
			return []string{fmt.Sprintf("stop %d of the tab key is %s, in the order of reading %s comes", i+1, what[1], what[0])}
		}
	}
	if len(met) < all {
		faults = append(faults, fmt.Sprintf("the tab key reaches %d of %d controls", len(met), all))
	}
	// Nor does the eye jump: nothing stands above what comes before it in its column, or
	// left of it in its row.
	return append(faults, eval[[]string](d, `(() => {
		const faults = [], box = (n) => n.getBoundingClientRect();
		for (let i = 1; i < order.length; i++) {
			const a = box(order[i - 1]), b = box(order[i]);
			if (b.bottom <= a.top && b.left < a.right && !order[i].closest("svg")) faults.push("above what comes before it: " + order[i].outerHTML.slice(0, 80));
			if (b.top < a.bottom && a.top < b.bottom && b.right <= a.left) faults.push("left of what comes before it: " + order[i].outerHTML.slice(0, 80));
		}
		return faults;
	})()`)...)
}

// Every place, with all its details open, can be told by a screen reader, and worked by
// the keyboard in the order in which it is read. Nothing moves where somebody asked that
// nothing move.
func TestEveryPlaceIsToldAndReached(t *testing.T) {
	d := newDesk(t)
	d.screen(800, "light")
	look := func(what string) {
		t.Helper()
		eval[any](d, `document.querySelectorAll("details").forEach((x) => { x.open = true; })`)
		faults, found := d.unnamed()
		for _, fault := range append(faults, d.reached()...) {
			t.Errorf("%s: %s", what, fault)
		}
		for _, moving := range eval[[]string](d, `[...document.querySelectorAll("*")].filter((n) => { const s = getComputedStyle(n); return s.animationName !== "none" || s.transitionDuration !== "0s"; }).map((n) => n.outerHTML.slice(0, 80))`) {
			t.Errorf("%s: though nothing should, this moves: %s", what, moving)
		}
		t.Logf("%s: %d controls, headings and pictures", what, found)
	}
	for _, place := range places {
		d.open(place)
		d.until(settled[place])
		look(place)
	}
	d.open("knob")
	eval[any](d, `document.querySelector("#source-keys").click()`)
	d.press("Begin")
	d.asks("Turn it clockwise")
	look("knob, learning")

	d.sit(1)
	d.open("dial")
	d.press("Begin")
	for range 6 {
		d.until(`document.querySelector(".ask")?.textContent.includes("Enter shows the number")`)
		d.enter()
		d.until(shownToDial)
		if d.dialed() == 0 {
			d.toTarget()
			d.enter()
			d.until(`(await (await import("./store.js")).open().then((s) => s.all("dialings"))).length > 0`)
			continue
		}
		done := d.dialed()
		d.keys(kb.Escape)
		d.until(fmt.Sprintf(`(await (await import("./store.js")).open().then((s) => s.all("dialings"))).length > %d`, done))
	}
	d.until(`document.querySelector(".every")`)
	d.picture("results")
	look("dial, its results")
	d.noComplaints()
}

// tabTo presses the tab key until something has the focus.
func (d *desk) tabTo(what string) {
	d.Helper()
	for range 80 {
		if eval[bool](d, `document.activeElement.matches("a, button, select, summary") && document.activeElement.textContent.includes(`+fmt.Sprintf("%q", what)+`)`) {
			return
		}
		d.keys(kb.Tab)
	}
	d.fail("the tab key does not reach " + what)
}

// A pair is dialed by nothing but keys, from the address of the page to what was found.
// A screen reader hears of each number: which it is, where it stands when it stands still,
// and what comes next; and not of every click.
func TestAPairIsDialedByKeysAlone(t *testing.T) {
	d := newDesk(t)
	d.screen(800, "light")
	d.sit(1)
	d.open("knob")
	eval[any](d, `(() => {
		window.told = [];
		new MutationObserver((all) => { for (const m of all) {
			const n = m.target.nodeType === 1 ? m.target : m.target.parentElement;
			if (n?.closest("[aria-live]:not([aria-live=off]), [role=alert], [role=status], output") && n.textContent) told.push(n.textContent);
		} }).observe(document.body, {subtree: true, childList: true, characterData: true});
	})()`)
	d.tabTo("Dial")
	d.enter()
	d.until(settled["dial"] + ` || document.querySelector(".place > .by").textContent.includes("placebo")`)
	d.tabTo("Knob and path")
	d.enter()
	d.tabTo("HID reports") // among what is offered
	d.keys("key")          // finds the keyboard
	d.until(`document.activeElement.selectedOptions[0].textContent === "keyboard"`)
	d.tabTo("Begin")
	d.enter()
	d.until(`document.querySelector(".ask")?.textContent.includes("clockwise")`)
	d.keys(strings.Repeat(kb.ArrowRight, 5) + kb.Enter)
	d.until(`document.querySelector(".ask").textContent.includes("counter-clockwise")`)
	d.keys(strings.Repeat(kb.ArrowLeft, 5) + kb.Enter)
	clicks, told := 0, 0
	for n := range 6 {
		d.asksNext(n)
		d.until(fmt.Sprintf(`document.querySelector("#said").textContent.includes("%d of")`, n+1))
		before := eval[int](d, `told.length`)
		d.enter()
		d.until(`document.querySelector("#said").textContent.startsWith("Dial ")`)
		clicks += d.toTarget()
		d.picture("dialing")
		d.until(`document.querySelector("#said").textContent === document.querySelector(".number").textContent`)
		told += eval[int](d, `told.length`) - before
		d.enter()
	}
	d.until(`document.querySelector(".every")`)
	t.Logf("%d clicks, %d times told: %q", clicks, told, eval[[]string](d, `told`))
	if 10*told > clicks { // a hand that falters is told a number more
		t.Errorf("a screen reader is told %d times of 6 numbers: %q", told, eval[[]string](d, `told`))
	}
	if got := outcomes(d); !slices.Equal(got, []string{"right", "right", "right", "right", "right", "right"}) {
		t.Errorf("the dialings end %q", got)
	}
	d.tabTo("Dial again")
	d.enter()
	d.tabTo("Begin")
	d.noComplaints()
}
