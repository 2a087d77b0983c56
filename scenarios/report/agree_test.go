package report

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"dialwright/scenarios/figure"
)

// told is a number as it is printed, in tenths.
func told(t *testing.T, s string) int {
	t.Helper()
	s = strings.NewReplacer("−", "-", "+", "", " !", "", "\u00a0", " ").Replace(s)
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil {
		t.Fatalf("%q is no number", s)
	}
	return int(math.Round(v * 10))
}

// rounded is a number of the JSON in tenths: the one rounding of the report.
func rounded(x float64) int { return int(math.Round(x * 10)) }

// text is what a reader sees of a node.
func text(n *html.Node) string {
	var s strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			s.WriteString(c.Data)
		}
	}
	return strings.NewReplacer("\u00a0", " ", "\u2060", "").Replace(s.String())
}

// table returns the cells of the table whose caption begins with some words.
func table(t *testing.T, all []*html.Node, caption string) [][]string {
	t.Helper()
	for _, n := range elements(all, "table") {
		inside := slices.Collect(n.Descendants())
		c := elements(inside, "caption")
		if len(c) != 1 {
			t.Fatalf("a table without a caption: %.80s", text(n))
		}
		if !strings.HasPrefix(text(c[0]), caption) {
			continue
		}
		var rows [][]string
		for _, tr := range elements(inside, "tr") {
			var row []string
			for _, c := range slices.Collect(tr.Descendants()) {
				if c.Type == html.ElementNode && (c.Data == "td" || c.Data == "th") {
					row = append(row, text(c))
				}
			}
			rows = append(rows, row)
		}
		return rows
	}
	t.Fatalf("no table %q", caption)
	return nil
}

// The verdict, the tables, the figures and the JSON say the same: every number is read
// back from where it is printed or drawn, and every difference is worked out again.
func TestEveryNumberAgrees(t *testing.T) {
	raw, err := json.Marshal(result(t).Report())
	if err != nil {
		t.Fatal(err)
	}
	var r Report
	if err := json.Unmarshal(raw, &r); err != nil {
		t.Fatal(err)
	}
	page := nodes(t, pageOf(t, result(t)))
	same := func(what string, got, want int) {
		t.Helper()
		if got != want {
			t.Errorf("%s: %d tenths, want %d", what, got, want)
		}
	}

	// The panel is the mean of its tasks, and so is every knob.
	hours, before, after := 0.0, 0.0, 0.0
	for _, x := range r.Tasks {
		hours += x.PerHour
		before += x.PerHour * x.Before.Time.Mean
		after += x.PerHour * x.After.Time.Mean
	}
	if math.Abs(before/hours-r.Before.Time.Value) > 1e-5 || math.Abs(after/hours-r.After.Time.Value) > 1e-5 {
		t.Errorf("tasks make %v and %v s, the panel has %v and %v", before/hours, after/hours, r.Before.Time.Value, r.After.Time.Value)
	}
	if d := r.After.Time.Value - r.Before.Time.Value; math.Abs(d-r.Gain.Value) > 1e-5 {
		t.Errorf("the panel gains %v s, its difference is %v", r.Gain.Value, d)
	}

	// The finding and what is below it.
	h1 := text(elements(page, "h1")[0])
	if r.Verdict[0] != h1+"." {
		t.Errorf("the page is called %q, the verdict %q", h1, r.Verdict[0])
	}
	if m := regexp.MustCompile(`^(\d+) % (less|more) time.*: ([\d.]+) s instead of ([\d.]+) s`).FindStringSubmatch(h1); m != nil {
		a, b := told(t, m[3]), told(t, m[4])
		same("after", a, rounded(r.After.Time.Value))
		same("before", b, rounded(r.Before.Time.Value))
		if got, want := m[1], fmt.Sprintf("%.0f", math.Abs(100*(1-float64(a)/float64(b)))); got != want {
			t.Errorf("%s %% of %d and %d tenths, want %s", got, a, b, want)
		}
	}
	by := ""
	for _, p := range elements(page, "p") {
		if attribute(p, "class") == "by" {
			by = text(p)
		}
	}
	if m := regexp.MustCompile(`([+−]?[\d.]+) s per number \(([+−]?[\d.]+) to ([+−]?[\d.]+), .*Overshoot ([\d.]+) → ([\d.]+) %\. Lost clicks ([\d.]+) → ([\d.]+) %`).FindStringSubmatch(by); m != nil {
		same("the gain", told(t, m[1]), rounded(r.After.Time.Value)-rounded(r.Before.Time.Value))
		if told(t, m[2]) > told(t, m[1]) || told(t, m[3]) < told(t, m[1]) {
			t.Errorf("%s is not from %s to %s", m[1], m[2], m[3])
		}
		for i, x := range []float64{r.Before.Overshoot, r.After.Overshoot, r.Before.Lost, r.After.Lost} {
			same("a share below the finding", told(t, m[4+i]), rounded(100*x))
		}
	} else if r.changed() {
		t.Errorf("nothing to read in %q", by)
	}

	// Sentences: of two figures for one thing, both are some task's, knob's or dialing's,
	// and what is said to be the difference is.
	pairs := map[[2]int]bool{{rounded(r.After.Time.Value), rounded(r.Before.Time.Value)}: true}
	for _, x := range r.Tasks {
		pairs[[2]int{rounded(x.After.Time.Mean), rounded(x.Before.Time.Mean)}] = true
	}
	for _, s := range r.Stories {
		if s.After != nil && s.After.Time != nil && s.Before.Time != nil {
			pairs[[2]int{rounded(*s.After.Time), rounded(*s.Before.Time)}] = true
		}
	}
	var all strings.Builder
	for _, n := range slices.Concat(elements(page, "p"), elements(page, "h1"), elements(page, "h2"), elements(page, "h3")) {
		all.WriteString(text(n) + "\n")
	}
	found := 0
	for _, m := range regexp.MustCompile(`(?:takes ([\d.]+) s longer \()?([\d.]+) s instead of ([\d.]+) s`).FindAllStringSubmatch(all.String(), -1) {
		found++
		a, b := told(t, m[2]), told(t, m[3])
		if !pairs[[2]int{a, b}] {
			t.Errorf("%q is of nothing in the JSON", m[0])
		}
		if m[1] != "" {
			same(m[0], told(t, m[1]), a-b)
		}
	}
	if found < 2 && r.changed() {
		t.Errorf("only %d comparisons in sentences", found)
	}
	for _, m := range regexp.MustCompile(`(\S+) gains most, ([\d.]+) s`).FindAllStringSubmatch(all.String(), -1) {
		ok := false
		for _, x := range r.Tasks {
			ok = ok || strings.EqualFold(x.Task, m[1]) && told(t, m[2]) == rounded(x.Before.Time.Mean)-rounded(x.After.Time.Mean) && x.Task == r.Main
		}
		if !ok {
			t.Errorf("%q is not so", m[0])
		}
	}

	// What to set.
	set := table(t, page, "What to set")[1:]
	if len(set) != len(r.Knobs) {
		t.Fatalf("%d rows for %d knobs", len(set), len(r.Knobs))
	}
	for i, k := range r.Knobs {
		for c, v := range map[int][2]float64{2: {k.Before.Time.Value, k.After.Time.Value}, 3: {100 * k.Before.Overshoot, 100 * k.After.Overshoot}} {
			cell := strings.Split(set[i][c], " → ")
			same(k.Knob, told(t, cell[0]), rounded(v[0]))
			if k.Changed {
				same(k.Knob, told(t, cell[1]), rounded(v[1]))
			}
		}
	}

	// The pairs, as they are drawn, labelled and listed.
	f := r.pairs()[0]
	list := table(t, page, f.Title)[1:]
	for i, x := range r.Tasks {
		want := []float64{x.Before.Time.Mean, x.After.Time.Mean, 100 * x.Before.Overshoot.Share, 100 * x.After.Overshoot.Share}
		row := list[i]
		same(x.Task, told(t, row[2]), rounded(want[0]))
		same(x.Task, told(t, row[5]), rounded(want[2]))
		if !x.Changed {
			continue
		}
		same(x.Task, told(t, row[3]), rounded(want[1]))
		same(x.Task+", difference", told(t, row[4]), told(t, row[3])-told(t, row[2]))
		same(x.Task, told(t, row[6]), rounded(want[3]))
		same(x.Task+", points", told(t, row[7]), told(t, row[6])-told(t, row[5]))
	}
	for _, width := range []float64{wideFigure, narrowFigure} {
		dots := readPairs(t, f, width)
		for i, x := range r.Tasks {
			for c, v := range [][2]float64{{x.Before.Time.Mean, x.After.Time.Mean}, {100 * x.Before.Overshoot.Share, 100 * x.After.Overshoot.Share}} {
				shown := map[string]float64{"before": v[0], "after": v[1]}
				if !x.Changed {
					shown = map[string]float64{"same": v[1]}
				}
				for dot, want := range shown {
					d := dots[c][i][dot]
					if math.Abs(d.value-want) > 0.06+0.7*d.pixel {
						t.Errorf("%s, %s at %v: drawn at %v, is %v", x.Task, dot, width, d.value, want)
					}
					if d.label != "" {
						same(x.Task+", label of "+dot, told(t, d.label), rounded(want))
					}
				}
			}
		}
	}

	// Each change by itself begins where the knob stands now.
	for _, c := range r.Changes {
		for _, k := range r.Knobs {
			if c.Alone != nil && k.Knob == c.Knob && (c.Alone.Before.Time != k.Before.Time || c.Alone.Before.Overshoot != k.Before.Overshoot) {
				t.Errorf("%s begins at %v, the knob at %v", c.Key, c.Alone.Before, k.Before)
			}
		}
		if c.Alone != nil && math.Abs(c.Alone.After.Time.Value-c.Alone.Before.Time.Value-c.Alone.Gain.Value) > 1e-5 {
			t.Errorf("%s gains %v", c.Key, c.Alone.Gain.Value)
		}
	}

	// Where the time goes adds up to what a number takes, on the same people.
	sum := r.Explain.Ideal.Time.Value
	for _, l := range r.Explain.Links {
		sum += l.Time.Value
	}
	if math.Abs(sum-r.Explain.Real.Time.Value) > 1e-4 || math.Abs(sum-r.Before.Time.Value) > 1e-4 {
		t.Errorf("hand, eye and links make %v s, a number takes %v", sum, r.Before.Time.Value)
	}
}

// dot is a marker of a pair, read back from a picture.
type dot struct {
	value, pixel float64
	label        string
}

// readPairs reads the columns of a figure of pairs, row by row.
func readPairs(t *testing.T, f *figure.Figure, width float64) [][]map[string]dot {
	t.Helper()
	var out strings.Builder
	if err := f.Inline(&out, width); err != nil {
		t.Fatal(err)
	}
	var columns [][]map[string]dot
	var axis ruler
	var name string
	d := xml.NewDecoder(strings.NewReader(out.String()))
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	put := func(change func(*dot)) {
		column := columns[len(columns)-1]
		x := column[len(column)-1][name]
		change(&x)
		column[len(column)-1][name] = x
	}
	inText := false
	for {
		tok, err := d.Token()
		if err != nil {
			return columns
		}
		switch e := tok.(type) {
		case xml.StartElement:
			a := map[string]string{}
			for _, x := range e.Attr {
				a[x.Name.Local] = x.Value
			}
			inText = e.Name.Local == "text"
			switch {
			case a["data-mark"] == "pairs":
				axis = ruler{number(a["data-min"]), number(a["data-max"]), number(a["data-from"]), number(a["data-to"])}
				columns, name = append(columns, nil), ""
			case a["data-row"] != "":
				columns[len(columns)-1] = append(columns[len(columns)-1], map[string]dot{})
				name = ""
			case a["data-dot"] != "":
				name = a["data-dot"]
			case name != "" && e.Name.Local == "path":
				low, high := math.Inf(1), math.Inf(-1)
				for _, run := range corners(t, a["d"]) {
					for _, c := range run {
						low, high = min(low, c.x), max(high, c.x)
					}
				}
				put(func(x *dot) { x.value, x.pixel = axis.value((low+high)/2), axis.pixel() })
			case name != "" && e.Name.Local == "circle":
				put(func(x *dot) { x.value, x.pixel = axis.value(number(a["cx"])), axis.pixel() })
			}
		case xml.CharData:
			if s := strings.TrimSpace(string(e)); inText && name != "" && s != "" {
				put(func(x *dot) { x.label = s })
			}
		case xml.EndElement:
			if e.Name.Local == "text" {
				inText = false
			}
		}
	}
}
