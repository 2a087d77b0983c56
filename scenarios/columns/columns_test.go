package columns_test

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"dialwright/scenarios/columns"
)

func ExamplePrinter_Table() {
	p := columns.New(os.Stdout, false)
	p.Table([]string{"", "time, s"}, [][]string{{"plain", "8.6"}, {"ladder", "6.1"}})
	fmt.Println(p.Err())
	// Output:
	// time, s
	//  plain       8.6
	//  ladder      6.1
	// <nil>
}

func TestNoLineIsWiderThanATerminal(t *testing.T) {
	s := "  " + strings.Repeat("seven hundred°  words ", 100)
	for line := range strings.Lines(columns.Wrap(s)) {
		line = strings.TrimRight(line, "\n")
		if n := len([]rune(line)); n > columns.Width || !strings.HasPrefix(line, "  ") {
			t.Errorf("%d columns: %q", n, line)
		}
	}
}

func TestNamesCannotBreakOutOfMarkdown(t *testing.T) {
	var b bytes.Buffer
	p := columns.New(&b, true)
	p.Table([]string{"a|b"}, [][]string{{"<script>|\n# x"}})
	p.Item("`code` <b>")
	p.Table([]string{""}, [][]string{{`back\|slash`}})
	if s := b.String(); !strings.Contains(s, `back\\\|slash`) {
		t.Errorf("a backslash undoes the escape behind it: %s", s)
	}
	if s := strings.ReplaceAll(b.String(), `\\`, ""); strings.Contains(s, "<") || strings.Contains(s, "\n#") || strings.Contains(strings.ReplaceAll(s, `\|`, ""), "a|b") {
		t.Errorf("%s", s)
	}
}
