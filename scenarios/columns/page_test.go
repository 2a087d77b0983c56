package columns_test

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/clipperhouse/displaywidth"
	"pgregory.net/rapid"

	"dialwright/scenarios/columns"
)

func ExamplePage_Print() {
	var p columns.Page
	p.Heading("How long it takes")
	p.Table([]string{"", "time, s"}, [][]string{{"plain", "8.6"}, {"ladder", "6.1"}})
	fmt.Println(p.Print(os.Stdout, columns.Width))
	// Output:
	// How long it takes
	//          time, s
	//  plain       8.6
	//  ladder      6.1
	// <nil>
}

func printed(t interface{ Fatal(...any) }, p *columns.Page, width int) string {
	var b strings.Builder
	if err := p.Print(&b, width); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func markdown(t *testing.T, p *columns.Page) string {
	var b strings.Builder
	if err := p.Markdown(&b); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Text of any width from 60 columns keeps to it, and says everything that it says on
// a wide one.
func TestAPageFitsEveryTerminal(t *testing.T) {
	word := rapid.StringMatching(`[a-zµ°–字]{1,12}`)
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(60, 140).Draw(t, "width")
		words := func(most int, label string) string {
			return strings.Join(rapid.SliceOfN(word, 1, most).Draw(t, label), " ")
		}
		var p columns.Page
		p.Heading(words(20, "heading"))
		p.Item(words(40, "item"))
		p.Bar(words(2, "bar"), 12.5, 1)
		header := make([]string, rapid.IntRange(1, 8).Draw(t, "columns"))
		rows := make([][]string, rapid.IntRange(1, 3).Draw(t, "rows"))
		for i := range header {
			header[i] = words(2, "head")
			for n := range rows {
				most := 2
				if i == 0 {
					most = 12
				}
				rows[n] = append(rows[n], words(most, "cell"))
			}
		}
		p.Table(header, rows)
		text := printed(t, &p, width)
		for l := range strings.Lines(text) {
			if n := displaywidth.String(strings.TrimRight(l, "\n")); n > width {
				t.Fatalf("%d columns of %d: %q\n%s", n, width, l, text)
			}
		}
		for _, r := range rows {
			for _, cell := range r[1:] {
				if !strings.Contains(text, cell) {
					t.Fatalf("%q is not shown:\n%s", cell, text)
				}
			}
			for w := range strings.FieldsSeq(r[0]) {
				if !strings.Contains(text, w) {
					t.Fatalf("%q is not shown:\n%s", w, text)
				}
			}
		}
	})
}

// What fits a terminal exactly stays one table; one letter more, and the last column
// stands below, beside the names of the rows.
func TestATableIsDividedWhereItMustBe(t *testing.T) {
	for _, x := range []struct {
		letters int
		headers int
	}{{20, 1}, {21, 2}} {
		var p columns.Page
		p.Table([]string{"", strings.Repeat("a", 30), strings.Repeat("b", x.letters)}, [][]string{{"row name", "1", "2"}})
		// A blank, 8 letters, two blanks, 30 letters, two blanks, 20 letters, with the first: 63.
		text := printed(t, &p, 63)
		if n := strings.Count(text, "row name"); n != x.headers {
			t.Errorf("%d letters: %d tables:\n%s", x.letters, n, text)
		}
	}
}

func TestNamesCannotBreakOutOfMarkdown(t *testing.T) {
	var p columns.Page
	p.Table([]string{"a|b"}, [][]string{{"<script>|\n# x"}})
	p.Item("`code` <b>")
	p.Table([]string{""}, [][]string{{`back\|slash`}})
	text := markdown(t, &p)
	if !strings.Contains(text, `back\\\|slash`) {
		t.Errorf("a backslash undoes the escape behind it: %s", text)
	}
	if s := strings.ReplaceAll(text, `\\`, ""); strings.Contains(s, "<") || strings.Contains(s, "\n#") || strings.Contains(strings.ReplaceAll(s, `\|`, ""), "a|b") {
		t.Errorf("%s", s)
	}
}

// table has a column of each kind.
func table(name string) columns.Table {
	return columns.Table{
		Columns: []columns.Column{{Head: "", Keys: []string{"name"}}, {Head: "time, s", Keys: []string{"time_s", "low_s"}}, {Hidden: true, Keys: []string{"trials", "at", "none"}}, {Head: "words"}},
		Rows:    slices.Values([][]columns.Cell{{{Text: name, Values: []any{name}}, {Text: "2.5 (2–)", Values: []any{2.5, math.Inf(1)}}, columns.Of(7, columns.Written("-1.50"), nil), {Text: "people only"}}}),
	}
}

// One description: people see what is not hidden, programs what has keys.
func TestATableIsDescribedOnce(t *testing.T) {
	x := table("plain")
	var csv strings.Builder
	if err := x.CSV(&csv); err != nil {
		t.Fatal(err)
	}
	if want := "name,time_s,low_s,trials,at,none\nplain,2.5,,7,-1.50,\n"; csv.String() != want {
		t.Errorf("CSV\n%swant\n%s", csv.String(), want)
	}
	object, err := json.Marshal(x)
	if want := `[{"name":"plain","time_s":2.5,"low_s":null,"trials":7,"at":-1.50,"none":null}]`; err != nil || string(object) != want {
		t.Errorf("JSON %s, %v, want %s", object, err, want)
	}
	var p columns.Page
	p.Show(x)
	for _, text := range []string{printed(t, &p, 80), markdown(t, &p)} {
		if !strings.Contains(text, "2.5 (2–)") || !strings.Contains(text, "people only") || strings.Contains(text, "-1.50") {
			t.Errorf("people see\n%s", text)
		}
	}
}

// A spreadsheet computes what begins with one of these, also as it is written in
// East Asian text, and after blanks. Numbers are not words: they keep their sign.
func TestNoNameIsAFormula(t *testing.T) {
	for _, name := range []string{"=1+1", "+1", "-1", "@SUM(A1)", "|calc", "＝1", "＋1", "－1", "＠A", " =1", "\t=1", "\r\n@x"} {
		x := table(name)
		var csv strings.Builder
		if err := x.CSV(&csv); err != nil {
			t.Fatal(err)
		}
		_, row, _ := strings.Cut(csv.String(), "\n")
		if !strings.HasPrefix(row, "'"+strings.TrimSpace(name)+",") || !strings.Contains(row, ",-1.50,") {
			t.Errorf("%q becomes %s", name, row)
		}
	}
}
