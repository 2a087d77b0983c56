package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"dialwright/testdata/golden"
)

func TestMain(m *testing.M) {
	if os.Getenv("LC_ALL") == "" { // a script may ask for another
		os.Setenv("LC_ALL", "C.UTF-8")
	}
	testscript.Main(m, map[string]func(){"dialwright": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", RequireExplicitExec: true, UpdateScripts: *golden.Update,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "narrow": narrow},
		Setup: func(e *testscript.Env) error {
			dialings, err := os.ReadFile(filepath.Join("..", "..", "testdata", "dialings.jsonl"))
			return errors.Join(err, os.WriteFile(filepath.Join(e.WorkDir, "dialings.jsonl"), dialings, 0o666))
		},
	})
}

// exits runs dialwright with the arguments behind the first and wants that exit
// code: exits 2 dialwright compare nothing.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 || args[1] != "dialwright" {
		ts.Fatalf("usage: exits CODE dialwright ARGUMENT ...")
	}
	err := ts.Exec(args[1], args[2:]...)
	code := "0"
	var x *exec.ExitError
	if err != nil {
		var ok bool
		if x, ok = err.(*exec.ExitError); !ok {
			ts.Fatalf("%v", err)
		}
		code = strings.TrimPrefix(x.String(), "exit status ")
	}
	if code != args[0] {
		ts.Fatalf("exit code %s, want %s", code, args[0])
	}
}

// narrow wants a file of at most 80 columns.
func narrow(ts *testscript.TestScript, neg bool, args []string) {
	for line := range strings.Lines(ts.ReadFile(args[0])) {
		line = strings.TrimRight(line, "\n")
		if n := len([]rune(line)); n > 80 {
			ts.Fatalf("%d columns: %s", n, line)
		}
	}
}

// A package imports only packages that stand on a line above it in the picture in
// DEVELOPERS.md, and every package stands there.
func TestLayers(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	lines := map[string]int{} // by import path
	for n, line := range strings.Split(string(text), "\n") {
		if !strings.HasPrefix(line, "    ") {
			if len(lines) > 0 {
				break
			}
			continue
		}
		names, _, _ := strings.Cut(strings.TrimSpace(line), "  ")
		for i, name := range strings.Split(names, ", ") {
			if i > 0 {
				name = "scenarios/" + name
			}
			lines["dialwright/"+name] = n
		}
	}
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}} {{join .Imports \" \"}}", "dialwright/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	packages := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(packages) != len(lines) {
		t.Errorf("%d packages, and the picture shows %d", len(packages), len(lines))
	}
	for _, p := range packages {
		fields := strings.Fields(p)
		here, shown := lines[fields[0]]
		if !shown {
			t.Errorf("%s stands on no line of the picture", fields[0])
			continue
		}
		for _, imported := range fields[1:] {
			if strings.HasPrefix(imported, "dialwright/") && lines[imported] >= here {
				t.Errorf("%s imports %s, which does not stand above it", fields[0], imported)
			}
		}
	}
}

// An interrupted run prints what was finished and exits with 130.
func TestInterruptedRunIsPartial(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	var out, err strings.Builder
	done := make(chan int)
	go func() {
		done <- run(ctx, []string{"compare", "plain", "--trials", "2000000", "--task", "heading", "--format", "json"}, strings.NewReader(""), &out, &err)
	}()
	time.AfterFunc(300*time.Millisecond, cancel) // whether or not a trial was finished by then
	switch code := <-done; {
	case code != exitInterrupted:
		t.Errorf("exit code %d, want %d: %s", code, exitInterrupted, err.String())
	case out.Len() > 0 && !strings.Contains(out.String(), `"partial": true`):
		t.Errorf("the result is not marked as partial: %.200s", out.String())
	case out.Len() == 0 && !strings.Contains(err.String(), "nothing was finished"):
		t.Errorf("nothing is said: %s", err.String())
	}
}

// The tests that DEVELOPERS.md names are there.
func TestNamedTestsAreThere(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	err = filepath.WalkDir("../..", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		code, err := os.ReadFile(path)
		for _, m := range regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`).FindAllSubmatch(code, -1) {
			there[string(m[1])] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range regexp.MustCompile("`((?:Test|Fuzz)\\w+)`").FindAllSubmatch(text, -1) {
		if !there[string(m[1])] {
			t.Errorf("there is no %s", m[1])
		}
	}
}
