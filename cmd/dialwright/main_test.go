package main

import (
	"context"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the expected output in testdata/script")

func TestMain(m *testing.M) {
	if os.Getenv("LC_ALL") == "" { // a script may ask for another
		os.Setenv("LC_ALL", "C.UTF-8")
	}
	testscript.Main(m, map[string]func(){"dialwright": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", RequireExplicitExec: true, UpdateScripts: *update,
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

// layers is the order of the packages: each imports only packages of earlier
// lines.
var layers = [][]string{
	{"accel"},
	{"encoder/draw"},
	{"encoder"},
	{"encoder/part"},
	{"encoder/recording"},
	{"scenarios"},
	{"scenarios/radio"},
	{"scenarios/hand"},
	{"scenarios/trial"},
	{"scenarios/paired"},
	{"scenarios/sample"},
	{"scenarios/columns"},
	{"scenarios/figure"},
	{"scenarios/follow"},
	{"scenarios/file"},
	{"scenarios/demo"},
	{"scenarios/compare"},
	{"scenarios/overshoot", "scenarios/explain", "scenarios/fit", "scenarios/survey"},
	{"scenarios/tune"},
	{"scenarios/export"},
	{"scenarios/evidence"},
	{"scenarios/report"},
	{"scenarios/workbench"},
	{"cmd/dialwright"},
	{"cmd/dialwright-page"},
}

func TestLayers(t *testing.T) {
	out, err := exec.Command("go", "list", "-f", "{{.ImportPath}} {{join .Imports \" \"}}", "dialwright/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	line := func(path string) int {
		path = strings.TrimPrefix(path, "dialwright/")
		return slices.IndexFunc(layers, func(l []string) bool { return slices.Contains(l, path) })
	}
	for text := range strings.Lines(string(out)) {
		fields := strings.Fields(text)
		here := line(fields[0])
		if here < 0 {
			t.Errorf("%s stands on no line of the layers", fields[0])
			continue
		}
		for _, imported := range fields[1:] {
			if strings.HasPrefix(imported, "dialwright/") && line(imported) >= here {
				t.Errorf("%s imports %s, which does not stand above it", fields[0], imported)
			}
		}
	}
}

// The picture in DEVELOPERS.md is what TestLayers holds: a line for each line.
func TestThePictureShowsTheLayers(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	var shown [][]string
	for line := range strings.Lines(string(text)) {
		if !strings.HasPrefix(line, "    ") {
			if shown != nil {
				break
			}
			continue
		}
		names, _, _ := strings.Cut(strings.TrimSpace(line), "  ")
		var row []string
		for i, name := range strings.Split(names, ", ") {
			if i > 0 {
				name = "scenarios/" + name
			}
			row = append(row, name)
		}
		shown = append(shown, row)
	}
	if !slices.EqualFunc(shown, layers, slices.Equal) {
		t.Errorf("the picture shows\n%q\nthe layers are\n%q", shown, layers)
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
