package columns_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"dialwright/scenarios/columns"
)

func TestNothingThatSpeaksToATerminalPasses(t *testing.T) {
	for _, c := range []struct{ in, gate, line string }{
		{"plain, größer\n", "plain, größer\n", `plain, größer\u000a`},
		{"\x1b]0;owned\a", `\u001b]0;owned\u0007`, `\u001b]0;owned\u0007`},
		{"a\rb\tc", "a\\u000db\tc", `a\u000db\u0009c`},
		{"C1 \u009b31m", `C1 \u009b31m`, `C1 \u009b31m`},
		{"right\u202eleft", `right\u202eleft`, `right\u202eleft`},
		{"cut \xff\xc3", `cut \xff\xc3`, `cut \xff\xc3`},
		{strings.Repeat("x", 300), strings.Repeat("x", 300), strings.Repeat("x", 100) + "…" + strings.Repeat("x", 100)},
	} {
		var b bytes.Buffer
		n, err := columns.Gate(&b).Write([]byte(c.in))
		if n != len(c.in) || err != nil || b.String() != c.gate {
			t.Errorf("%q passes as %q (%d, %v)", c.in, b.String(), n, err)
		}
		if got := columns.Line(c.in); got != c.line {
			t.Errorf("%q is shown as %q", c.in, got)
		}
	}
}

// Whatever comes, what passes is UTF-8 and silent, and JSON keeps its meaning.
func TestGateLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b bytes.Buffer
		fmt.Fprintf(columns.Gate(&b), "%s", rapid.SliceOf(rapid.Byte()).Draw(t, "bytes"))
		loud := func(r rune) bool { return columns.Speaks(r) && r != '\n' && r != '\t' }
		if !utf8.Valid(b.Bytes()) || bytes.IndexFunc(b.Bytes(), loud) >= 0 {
			t.Fatalf("%q", b.String())
		}
		b.Reset()
		was := rapid.String().Draw(t, "text")
		if err := json.NewEncoder(columns.Gate(&b)).Encode(was); err != nil {
			t.Fatal(err)
		}
		var is string
		if err := json.Unmarshal(b.Bytes(), &is); err != nil || is != was {
			t.Fatalf("%q became %q: %v", was, is, err)
		}
	})
}
