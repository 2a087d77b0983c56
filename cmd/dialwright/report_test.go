package main

import (
	"io"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// The first of the variables that is set says whether a terminal has more than
// ASCII (POSIX, 8.2).
func TestLocaleDecidesOverASCII(t *testing.T) {
	for _, x := range []struct {
		all, ctype, lang string
		unicode          bool
	}{
		{"", "", "", false}, {"", "", "de_DE.UTF-8", true}, {"", "", "C.utf8", true}, {"C", "", "de_DE.UTF-8", false},
		{"", "POSIX", "de_DE.UTF-8", false}, {"en_GB.UTF-8", "C", "C", true}, {"", "", "de_DE.ISO-8859-1", false},
	} {
		t.Setenv("LC_ALL", x.all)
		t.Setenv("LC_CTYPE", x.ctype)
		t.Setenv("LANG", x.lang)
		if got := unicodeLocale(); got != x.unicode {
			t.Errorf("%+v: %v", x, got)
		}
	}
}

// What a report prints to be typed again is taken by a shell as it was meant, and
// names nothing that decides no number.
func TestCommandLineCanBeTypedAgain(t *testing.T) {
	words := []string{"it's a rig.yaml", "$(echo no)", "power", "a\"b\\c", "-", "ü*"}
	c := newReport(streams{t.Context(), strings.NewReader(""), io.Discard, io.Discard})
	args := []string{"--workers", "3", "--output", "x.html", "--date", "--seed", "7"}
	for _, w := range words {
		args = append(args, "--task", w)
	}
	if err := c.ParseFlags(args); err != nil {
		t.Fatal(err)
	}
	line := commandLine(c)
	if !strings.HasPrefix(line, "report --seed 7 --task ") || strings.Contains(line, "workers") || strings.Contains(line, "x.html") || strings.Contains(line, "date") {
		t.Errorf("%s", line)
	}
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell to ask")
	}
	cmd := exec.Command(sh, "-c", `printf '%s\n' `+strings.TrimPrefix(line, "report --seed 7 "))
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if want := "--task\n" + strings.Join(words, "\n--task\n") + "\n"; string(out) != want {
		t.Errorf("the shell takes %s as\n%s", line, out)
	}
}
