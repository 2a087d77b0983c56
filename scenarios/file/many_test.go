package file_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dialwright/scenarios/file"
)

// A long file with nothing in it that is right is told about soon: work that grew
// with the square of its faults took up to half an hour for the longest that is
// read, and minutes for these.
func TestManyFaultsAreToldSoon(t *testing.T) {
	fill := func(head, line, foot string) string {
		var b strings.Builder
		b.WriteString(head)
		for n := 0; b.Len() < file.Largest/4; n++ {
			b.WriteString(strings.ReplaceAll(line, "N", fmt.Sprint(n)))
		}
		return b.String() + foot
	}
	const rig, task = "kind: rig\nversion: 1\nname: x\n", "kind: task\nversion: 1\nname: x\nunit: deg\nrange: {from: 1, to: 360, ends: wrap}\n"
	folder(t, map[string]string{
		"keys.yaml":    fill(rig, "kN: 1\n", ""),
		"deep.yaml":    fill(rig+"knob:\n", "  kN: 1\n", ""),
		"anchors.yaml": fill(rig, "kN: &a b\n", ""),
		"list.yaml":    fill(task+"start: {list: [", "N.5, ", "x]}\ntarget: {uniform: {}}\n"),
		"knobs.yaml":   fill("kind: panel\nversion: 1\nname: x\nknobs:\n", "  - {name: a, rig: left-pulse, tasks: [{task: heading}]}\n", ""),
		"files.yaml":   fill("kind: panel\nversion: 1\nname: x\nknobs:\n", "  - {name: aN, rig: faulty.yaml, tasks: [{task: heading}]}\n", ""),
		"faulty.yaml":  rig + strings.Repeat("x: 1\n", 20000),
		"frames.yaml":  rig + "program: {frame_list: frames.csv}\n",
		"frames.csv":   fill("frame_ms\n", "x\n", ""),
		"turn.csv":     fill("time_ms,direction\n", "x\n", ""),
	})
	l := loader()
	for _, name := range []string{"keys.yaml", "deep.yaml", "anchors.yaml", "list.yaml", "knobs.yaml", "files.yaml", "frames.yaml"} {
		l.Outputs = nil
		if c := l.Check(name); len(c.Faults) != 101 {
			t.Errorf("%s: %d faults", name, len(c.Faults))
		}
	}
	if _, err := l.Detents("turn.csv"); err == nil || strings.Count(err.Error(), "\n") != 100 {
		t.Errorf("turn.csv: %d lines", strings.Count(fmt.Sprint(err), "\n"))
	}
}

// What new writes passes a check whatever the name, or is not written.
func TestNewWritesNothingThatCheckRefuses(t *testing.T) {
	t.Chdir(t.TempDir())
	kinds := []string{"rig", "panel", "profile", "task"}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.OneOf(rapid.String(), rapid.StringN(190, 210, -1), rapid.SampledFrom([]string{"\x00", "a\x1bb", "\xff", "null", "~", "", " ", "1", "# a", "a: b", "'", `"`, "?\u00a0", "-\u3000"})).Draw(t, "name")
		x := file.Template{Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Name: name}
		text, err := file.New(x)
		if err != nil {
			return
		}
		if err := os.WriteFile("new.yaml", text, 0o666); err != nil {
			t.Fatal(err)
		}
		if c := loader().Check("new.yaml"); len(c.Faults) > 0 {
			t.Fatalf("%q: %v", name, c.Faults)
		}
	})
}
