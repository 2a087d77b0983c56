package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dialwright/testdata/golden"
)

// A block of README.md that begins with "$ dialwright" shows what that command
// prints. (go test -update rewrites it.)
func TestReadmeShowsWhatCommandsPrint(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	const path = "../../README.md"
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const mark = "```\n$ dialwright "
	parts := strings.Split(string(text), mark)
	if len(parts) < 2 {
		t.Fatalf("%d commands shown", len(parts)-1)
	}
	for i, part := range parts[1:] {
		line, rest, _ := strings.Cut(part, "\n")
		shown, after, ok := strings.Cut(rest, "```\n")
		if !ok {
			t.Fatalf("the block of %q does not end", line)
		}
		var out, errs strings.Builder
		if code := run(context.Background(), words(line), strings.NewReader(""), &out, &errs); code != exitDone {
			t.Fatalf("%s: exit code %d: %s", line, code, errs.String())
		}
		if shown != out.String() && !*golden.Update {
			t.Errorf("%s now prints\n%s", line, out.String())
		}
		parts[i+1] = line + "\n" + out.String() + "```\n" + after
	}
	if *golden.Update {
		if err := os.WriteFile(path, []byte(strings.Join(parts, mark)), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// The picture in README.md is what report draws of the demo, and README.md is short:
// what is longer stands in package docs.
func TestReadmePictureIsCurrent(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	const picture = "testdata/tasks.svg"
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(readme), "]("+picture+")") {
		t.Errorf("README.md does not show %s", picture)
	}
	if n := strings.Count(string(readme), "\n"); n > 150 {
		t.Errorf("README.md has %d lines", n)
	}
	dir := filepath.Join(t.TempDir(), "figures")
	var out, errs strings.Builder
	if code := run(t.Context(), []string{"report", "--format", "text", "--figures", dir}, strings.NewReader(""), &out, &errs); code != exitDone {
		t.Fatalf("exit code %d: %s", code, errs.String())
	}
	drawn, err := os.ReadFile(filepath.Join(dir, filepath.Base(picture)))
	if err != nil {
		t.Fatal(err)
	}
	golden.Check(t, "../../"+picture, drawn)
}

// words splits a command line at spaces, single quotes kept together.
func words(line string) []string {
	var args []string
	for i, part := range strings.Split(line, "'") {
		if i%2 == 1 {
			args = append(args, part)
			continue
		}
		args = append(args, strings.Fields(part)...)
	}
	return args
}
