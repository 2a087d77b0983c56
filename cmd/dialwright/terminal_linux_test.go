package main

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/clipperhouse/displaywidth"
	"golang.org/x/sys/unix"

	"dialwright/testdata/golden"
)

// On a terminal of 60 columns every screen keeps within them; so does help, which
// breaks between words.
func TestScreensFitASmallTerminal(t *testing.T) {
	for name, args := range map[string][]string{
		"compare": {"compare", "--trials", "60"}, "compare-detail": {"compare", "--trials", "20", "--detail", "--task", "heading"},
		"explain": {"explain", "--trials", "20"}, "overshoot": {"overshoot", "--profile", "power", "--trials", "100"},
		"follow": {"follow", "--turn", "4 in 100ms"}, "list": {"list", "profiles"}, "evidence": {"evidence", "B1", "--trials", "20"},
		"help": {"--help"}, "help-compare": {"compare", "--help"}, "help-explain": {"help", "explain"}, "help-capture": {"capture", "--help"},
	} {
		tty, other := terminal(t)
		if err := unix.IoctlSetWinsize(int(tty.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Row: 24, Col: 60}); err != nil {
			t.Skip(err)
		}
		shown := make(chan []byte)
		go func() {
			b, _ := io.ReadAll(other) // ends with an error, for nobody writes any more
			shown <- b
		}()
		var errs strings.Builder
		code := run(t.Context(), args, strings.NewReader(""), tty, &errs)
		tty.Close()
		got := bytes.ReplaceAll(<-shown, []byte("\r\n"), []byte("\n"))
		if code != exitDone {
			t.Fatalf("%s: exit code %d: %s", name, code, errs.String())
		}
		for line := range strings.Lines(string(got)) {
			if n := displaywidth.String(strings.TrimSuffix(line, "\n")); n > 60 {
				t.Errorf("%s: %d columns: %s", name, n, line)
			}
		}
		golden.Check(t, "testdata/narrow/"+name+".txt", got)
	}
}
