package report

import (
	"bytes"
	"context"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"dialwright/scenarios"
	"dialwright/scenarios/export"
	"dialwright/scenarios/figure"
	"dialwright/scenarios/file"
)

// void elements have no end tag.
var void = []string{"meta", "br", "link", "img", "hr", "input", "wbr"}

// Every tag that is opened is closed in order, and no id is used twice.
func TestPageIsValidHTML(t *testing.T) {
	page := pageOf(t, result(t))
	checkHTML(t, page)
	// A brace too many in the style sheet would swallow the rule after it.
	depth := 0
	for _, c := range elements(nodes(t, page), "style")[0].FirstChild.Data {
		switch c {
		case '{':
			depth++
		case '}':
			depth--
		}
		if depth < 0 {
			break
		}
	}
	if depth != 0 {
		t.Errorf("the style sheet's braces are off by %d", depth)
	}
}

func checkHTML(t *testing.T, page string) {
	t.Helper()
	if !strings.HasPrefix(page, "<!DOCTYPE html>") {
		t.Errorf("begins with %.40q", page)
	}
	z := html.NewTokenizer(strings.NewReader(page))
	var stack []string
	ids := map[string]bool{}
	for {
		switch z.Next() {
		case html.ErrorToken:
			if z.Err() != io.EOF {
				t.Fatal(z.Err())
			}
			if len(stack) > 0 {
				t.Errorf("never closed: %v", stack)
			}
			return
		case html.StartTagToken:
			tok := z.Token()
			seen := map[string]bool{}
			for _, a := range tok.Attr {
				if seen[a.Key] {
					t.Errorf("<%s> has %s twice", tok.Data, a.Key)
				}
				seen[a.Key] = true
				if a.Key == "id" {
					if ids[a.Val] || a.Val == "" {
						t.Errorf("id %q twice or empty", a.Val)
					}
					ids[a.Val] = true
				}
			}
			if !slices.Contains(void, tok.Data) {
				stack = append(stack, tok.Data)
			}
		case html.EndTagToken:
			tok := z.Token()
			if len(stack) == 0 || stack[len(stack)-1] != tok.Data {
				t.Fatalf("</%s> closes %v", tok.Data, stack)
			}
			stack = stack[:len(stack)-1]
		}
	}
}

func nodes(t *testing.T, page string) []*html.Node {
	t.Helper()
	root, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	return slices.Collect(root.Descendants())
}

func elements(all []*html.Node, name string) []*html.Node {
	var list []*html.Node
	for _, n := range all {
		if n.Type == html.ElementNode && n.Data == name {
			list = append(list, n)
		}
	}
	return list
}

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// Every picture says what it shows, and its numbers stand below it.
func TestEveryFigureHasATitleAnAlternativeAndATable(t *testing.T) {
	page := pageOf(t, result(t))
	all := nodes(t, page)
	pictures := elements(all, "svg")
	if len(pictures) < 10 {
		t.Errorf("%d pictures", len(pictures))
	}
	for _, svg := range pictures {
		if attribute(svg, "role") != "img" {
			t.Error("a picture without its role")
		}
		for _, name := range []string{"title", "desc"} {
			if x := elements(slices.Collect(svg.Descendants()), name); len(x) != 1 || x[0].FirstChild == nil {
				t.Errorf("a picture without %s", name)
			}
		}
	}
	for _, f := range elements(all, "figure") {
		inside := slices.Collect(f.Descendants())
		if len(elements(inside, "svg")) == 0 || len(elements(inside, "h2"))+len(elements(inside, "h3")) != 1 || len(elements(inside, "td")) == 0 {
			t.Errorf("figure %s lacks its picture, its title or its numbers", attribute(f, "id"))
		}
	}
	r := result(t).Report()
	for _, f := range r.Figures() {
		if _, pairs := f.Marks[0].(figure.Pairs); pairs {
			continue // its columns are named
		}
		if f.X.Label == "" && f.X.Categories == nil || f.Y.Label == "" && f.Y.Categories == nil {
			t.Errorf("%s has an axis without a name", f.Name)
		}
		for _, row := range f.Table.Rows {
			if len(row) != len(f.Table.Header) {
				t.Errorf("%s: %d cells under %d headings", f.Name, len(row), len(f.Table.Header))
			}
		}
	}
}

// Headings go down one level at a time, every table says what it is of, and every
// entry of the contents leads somewhere.
func TestThePageHasAnOutline(t *testing.T) {
	all := nodes(t, pageOf(t, result(t)))
	level := 0
	ids := map[string]bool{}
	for _, n := range all {
		if n.Type != html.ElementNode {
			continue
		}
		ids[attribute(n, "id")] = true
		if regexp.MustCompile(`^h[1-6]$`).MatchString(n.Data) {
			is := int(n.Data[1] - '0')
			if is > level+1 {
				t.Errorf("h%d after h%d: %s", is, level, text(n))
			}
			level = is
		}
		if n.Data == "table" && len(elements(slices.Collect(n.Descendants()), "caption")) != 1 {
			t.Errorf("a table without a caption: %.60s", text(n))
		}
	}
	links := 0
	for _, n := range elements(all, "a") {
		links++
		if to := strings.TrimPrefix(attribute(n, "href"), "#"); to == "" || !ids[to] {
			t.Errorf("%q leads nowhere", text(n))
		}
	}
	if n := len(elements(all, "h1")); n != 1 || links < 10 {
		t.Errorf("%d titles, %d entries of contents", n, links)
	}
}

// Reading the page asks nobody for anything.
func TestPageNeedsNothingElse(t *testing.T) {
	checkAlone(t, pageOf(t, result(t)))
}

func checkAlone(t *testing.T, page string) {
	t.Helper()
	for _, n := range nodes(t, page) {
		if n.Type != html.ElementNode {
			continue
		}
		if slices.Contains([]string{"script", "link", "iframe", "object", "embed", "base", "img", "image", "use", "form", "foreignobject"}, n.Data) {
			t.Errorf("<%s>", n.Data)
		}
		for _, a := range n.Attr {
			if a.Key == "href" && strings.HasPrefix(a.Val, "#") {
				continue // a place on the page
			}
			if slices.Contains([]string{"src", "href", "srcset", "action", "style", "data", "poster"}, a.Key) || strings.HasPrefix(a.Key, "on") {
				t.Errorf("<%s %s=%.60q>", n.Data, a.Key, a.Val)
			}
			if a.Key != "xmlns" && strings.Contains(a.Val, "://") {
				t.Errorf("<%s %s=%.60q>", n.Data, a.Key, a.Val)
			}
		}
		if n.Data == "style" {
			for _, bad := range []string{"url(", "@import", "@font-face", "expression("} {
				if strings.Contains(n.FirstChild.Data, bad) {
					t.Errorf("the style sheet has %s", bad)
				}
			}
		}
	}
}

// hostile are names as somebody could put them into a file.
var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `</title></style></svg><script>`, "\x1b[31m{{.}} ]]>&amp;' onload='", `../../../etc/passwd`, `<!--`,
}

func TestHostileNamesAppearAsText(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	s := smallStudy()
	s.Panel.Name, s.Panel.Title = hostile[0], hostile[1]
	s.Trials = 30
	knob := &s.Panel.Knobs[0]
	knob.Name = hostile[2]
	knob.Inner.Adjustable = scenarios.Adjustable{}
	knob.Inner.Name = hostile[3] + strings.Repeat("long ", 2000)
	task := *knob.Tasks[0].Task
	task.Name, task.Title, task.Unit = hostile[4]+hostile[1]+strings.Repeat("x", 10_000), hostile[5], hostile[0]
	knob.Tasks[0].Task = &task
	p, o := *s.Profile, *s.Operator
	p.Name, o.Name = hostile[1]+hostile[3], hostile[5]
	s.Profile, s.Operator = &p, &o
	r, err := Run(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := r.HTML(&out, Origin{Command: hostile[0], Version: hostile[1], Date: hostile[2], Inputs: []file.Input{{Name: hostile[3], SHA256: hostile[0]}}}); err != nil {
		t.Fatal(err)
	}
	page := out.String()
	checkHTML(t, page)
	checkAlone(t, page)
	if n := len(page); n > 600_000 {
		t.Errorf("%d bytes", n)
	}
	var text strings.Builder
	for _, n := range nodes(t, page) {
		if n.Type == html.TextNode {
			text.WriteString(n.Data + "\n")
		}
	}
	for _, name := range []string{hostile[0], hostile[1], hostile[2], hostile[5]} {
		if !strings.Contains(text.String(), name) {
			t.Errorf("%q does not appear as text", name)
		}
	}
	for _, unicode := range []bool{true, false} {
		var plain bytes.Buffer
		if err := r.Text(&plain, origin, unicode); err != nil {
			t.Fatal(err)
		}
		if regexp.MustCompile(`[\x00-\x09\x0b-\x1f\x7f]`).Match(plain.Bytes()) {
			t.Error("text that controls the terminal")
		}
	}
	dir := t.TempDir()
	if err := r.Files(t.Context(), filepath.Join(dir), false); err != nil {
		t.Fatal(err)
	}
	checkFiles(t, dir)
}

// Every figure is written as XML and as a picture, under a name that no file
// decides over.
func TestFiguresAreFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	r := result(t)
	dir := t.TempDir()
	if err := r.Files(t.Context(), dir, false); err != nil {
		t.Fatal(err)
	}
	x := r.Report()
	if n := checkFiles(t, dir); n != 2*len(x.Figures())+1 { // and share.png
		t.Errorf("%d files for %d figures", n, len(x.Figures()))
	}
	if err := r.Files(t.Context(), dir, false); err == nil {
		t.Error("files are replaced without force")
	}
	if err := r.Files(t.Context(), dir, true); err != nil {
		t.Error(err)
	}
}

func checkFiles(t *testing.T, dir string) int {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if !regexp.MustCompile(`^[a-z0-9-]{1,100}\.(svg|png)$`).MatchString(f.Name()) {
			t.Errorf("a file called %q", f.Name())
		}
		bytesOf, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(f.Name(), ".svg") {
			d := xml.NewDecoder(bytes.NewReader(bytesOf))
			for err == nil {
				_, err = d.Token()
			}
			if err != io.EOF {
				t.Errorf("%s: %v", f.Name(), err)
			}
		} else if !bytes.HasPrefix(bytesOf, []byte("\x89PNG")) {
			t.Errorf("%s is no picture", f.Name())
		}
	}
	return len(files)
}

// The card of each knob says what is recommended for it.
func TestCardsSayWhatIsRecommended(t *testing.T) {
	r := result(t)
	c, err := r.card()
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range r.Dialings {
		i := slices.IndexFunc(c.Knobs, func(k export.KnobCard) bool {
			return strings.HasPrefix(k.Name, d.Use.Knob.Name) && slices.ContainsFunc(k.Tasks, func(t export.TaskCard) bool { return t.Name == d.Use.Task.Name })
		})
		if i < 0 {
			t.Fatalf("no card for %s", d.Use.Task.Name)
		}
		for _, x := range d.After.Profile.Settings {
			if !slices.ContainsFunc(c.Knobs[i].Set, func(s string) bool { return strings.HasSuffix(s, ": "+x.Key+" "+x.Value) }) {
				t.Errorf("the card of %s does not set %s %s", d.Use.Knob.Name, x.Key, x.Value)
			}
		}
	}
	if len(c.Cautions) != len(scenarios.Cautions) || len(c.Digest) != 64 {
		t.Error("the card lacks its cautions or its digest")
	}
}
