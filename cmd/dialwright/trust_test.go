package main

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dialwright/scenarios/columns"
)

const (
	goodRig     = "kind: rig\nversion: 1\nname: mine\n"
	goodProfile = "kind: profile\nversion: 1\nname: mine\n"
	goodTask    = "kind: task\nversion: 1\nname: mine\nunit: deg\nrange: {from: 1, to: 360, ends: wrap}\nstep: 1\n"
	clicks      = "time_s,control,event\n0,wheel,1\n0.1,wheel,1\n0.2,wheel,1\n0.3,wheel,1\n0.4,wheel,1\n0.5,wheel,1\n0.6,wheel,1\n"
)

// desktop is a folder with files of every sort, and the current one.
func desktop(t *testing.T) {
	t.Helper()
	dialings, err := os.ReadFile(filepath.Join("..", "..", "testdata", "dialings.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{
		"dialings.jsonl": string(dialings),
		"rig.yaml":       goodRig, "profile.yaml": goodProfile, "task.yaml": goodTask, "knob.csv": clicks,
		"panel.yaml":  "kind: panel\nversion: 1\nname: p\nknobs:\n  - {name: a, rig: rig.yaml, tasks: [{task: task.yaml}]}\n",
		"faulty.yaml": "kind: rig\nversion: 1\nname: x\nknbo: {}\n", "faulty2.yaml": "kind: profile\nversion: 1\nname: x\nx: 1\n",
		"still.yaml":  goodTask + "start: {list: [5]}\ntarget: {list: [5]}\n",
		"wide.yaml":   goodTask + "tolerance: 180\n",
		"huge.yaml":   strings.Replace(goodTask, "360", "9000000000000", 1),
		"far.yaml":    goodTask + "outer: 99999999999999\n",
		"fine.yaml":   "kind: rig\nversion: 1\nname: fine\nknob: {cycles: 100000, detents: none}\n",
		"dead.yaml":   "kind: rig\nversion: 1\nname: dead\nfirmware: {pulse: 1ms}\nprogram: {frames: 1/s}\n",
		"spoken.yaml": "kind: rig\nversion: 1\nname: \"a\\x1b]0;b\\x07\"\n",
		"long.yaml":   "kind: rig\nversion: 1\nname: " + strings.Repeat("ä", 201) + "\n",
	} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir("folder", 0o777); err != nil {
		t.Fatal(err)
	}
}

// files returns what is in the current folder, by name.
func files(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	entries, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		text, _ := os.ReadFile(e.Name())
		all[e.Name()] = string(text)
	}
	return all
}

// ran is what a command did.
func ran(t *testing.T, args ...string) (code int, out, err string) {
	t.Helper()
	var o, e bytes.Buffer
	code = run(t.Context(), args, strings.NewReader(goodRig), &o, &e)
	return code, o.String(), e.String()
}

// The table of exit codes: an unreadable file or output is 1, refused content and
// wrong usage 2, whatever the command; nothing is written then.
func TestExitCodes(t *testing.T) {
	desktop(t)
	short := func(args ...string) []string { return append(args, "--trials", "20", "--task", "heading", "--quiet") }
	cases := []struct {
		code int
		says string
		args []string
	}{
		{exitDone, "", []string{"check", "rig.yaml"}},
		{exitDone, "", []string{"check", "-"}},
		{exitFailed, "", []string{"check", "none.yaml"}},
		{exitFailed, "", []string{"check", "faulty.yaml", "none.yaml"}},
		{exitFalse, "", []string{"check", "faulty.yaml"}},
		{exitFalse, "", []string{"check", "still.yaml"}},
		{exitFalse, "", []string{"check", "wide.yaml"}},
		{exitFalse, "", []string{"check", "huge.yaml"}},
		{exitFalse, "", []string{"check", "spoken.yaml"}},
		{exitFalse, "", []string{"check", "long.yaml"}},
		{exitFailed, "none.yaml: there is no such file", []string{"fit", "none.yaml"}},
		{exitFailed, "none.yaml", []string{"capture", "none.yaml"}},
		{exitFailed, "directory", []string{"fit", "folder"}},
		{exitFailed, "directory", []string{"capture", "folder"}},
		{exitFailed, "there is no such file", []string{"follow", "--detents", "none.csv"}},
		{exitUsage, "header", []string{"follow", "--detents", "knob.csv"}},
		{exitUsage, "--trial: -1; trials count from 0", []string{"follow", "--task", "heading", "--trial", "-1"}},
		{exitUsage, "--panel: a turn is of one rig", []string{"follow", "--panel", "panel.yaml"}},
		{exitFailed, "a folder that can be made would do", []string{"serve", "--no-open", "--dir", "knob.csv/kept"}},
		{exitUsage, "--dir: knob.csv is a file", []string{"serve", "--no-open", "--dir", "knob.csv"}},
		{exitUsage, "an argument is empty", []string{"compare", ""}},
		{exitUsage, "an argument is empty", []string{"check", ""}},
		{exitUsage, "--schema and a kind, would do", []string{"check", "--schema", ""}},
		{exitUsage, "--name: the value is empty", []string{"new", "rig", "--name", ""}},
		{exitUsage, "name: ", []string{"new", "rig", "--name", "a\x1bb"}},
		{exitUsage, "name: ", []string{"new", "panel", "--name", strings.Repeat("x", 201)}},
		{exitUsage, "name: ", []string{"new", "profile", "--name", "a\nb"}},
		{exitUsage, "name: ", []string{"new", "task", "--name", "\u202e"}},
		{exitUsage, "no target lies away from a start", []string{"compare", "plain", "--task", "still.yaml"}},
		{exitUsage, "every number lies within 180°", []string{"compare", "plain", "--task", "wide.yaml"}},
		{exitUsage, "dead\": none of 64 single detents changed the number", []string{"tune", "--task", "heading", "--rig", "left-pulse", "--rig", "dead.yaml"}},
		{exitUsage, "beyond what is computed", []string{"compare", "plain", "--task", "huge.yaml"}},
		{exitUsage, "far.yaml:7:8: outer: 99999999999999: beyond what is computed; a decimal number from -1000000000000 to 1000000000000 would do\n", []string{"compare", "plain", "--task", "far.yaml"}},
		{exitUsage, "knob.cycles: 100000 on a knob without clicks is beyond what is computed; 10000 or fewer would do\n", []string{"compare", "plain", "--rig", "fine.yaml"}},
		{exitUsage, "GB of memory", []string{"explain", "--trials", "100000000"}},
		{exitUsage, "--rigs: 999999999 members would take some", []string{"survey", "--rigs", "999999999"}},
		{exitUsage, "--rigs: 500000000 members would take some", []string{"survey", "--rigs", "1000000000", "--shard", "1/2"}},
		{exitUsage, "--rigs: 999999999 members would take some", []string{"tune", "--over", "households", "--rigs", "999999999"}},
		{exitUsage, "rig.yaml: this is no part of a survey", []string{"merge", "rig.yaml"}},
		{exitUsage, "faulty.yaml:4:1: knbo", []string{"compare", "faulty2.yaml", "--rig", "faulty.yaml"}},
		{exitUsage, "faulty2.yaml:4:1: x", []string{"compare", "faulty2.yaml", "--rig", "faulty.yaml"}},
		{exitUsage, "faulty2.yaml:4:1: x", []string{"tune", "--profile", "faulty2.yaml", "--rig", "faulty.yaml"}},
		{exitUsage, "faulty2.yaml:4:1: x", []string{"overshoot", "--profile", "faulty2.yaml", "--rig", "faulty.yaml"}},
		{exitFailed, "none2.yaml: there is no such file", []string{"compare", "none.yaml", "none2.yaml"}},
	}
	for _, c := range []string{"compare", "overshoot", "explain", "tune", "report", "follow"} {
		for _, x := range []struct {
			code int
			says string
			args []string
		}{
			{exitFailed, "none.yaml: there is no such file", []string{"--rig", "none.yaml"}},
			{exitFailed, "folder: this is a directory", []string{"--rig", "folder"}},
			{exitUsage, "faulty.yaml:4:1: knbo: there is no such key", []string{"--rig", "faulty.yaml"}},
			{exitUsage, "there is no rig nothing and no such file", []string{"--rig", "nothing"}},
			{exitUsage, "--rig: the value is empty", []string{"--rig", ""}},
			{exitUsage, "--output: the value is empty", []string{"--output", ""}},
			{exitUsage, "the file exists", []string{"--output", "rig.yaml"}},
			{exitFailed, "there is no folder", []string{"--output", "nowhere/x"}},
			{exitFailed, "directory", []string{"--output", "folder"}},
			{exitUsage, "is read, and --output would write over it", []string{"--rig", "rig.yaml", "--output", "rig.yaml", "--force"}},
		} {
			cases = append(cases, struct {
				code int
				says string
				args []string
			}{x.code, x.says, append([]string{c}, x.args...)})
		}
	}
	for _, c := range []struct {
		says string
		args []string
	}{
		{"--output and --write name the same file", short("tune", "--write", "x", "--output", "./x")},
		{"the result; the name of a file would do", short("tune", "--write", "-")},
		{"is read, and --write would write over it", short("tune", "--rig", "rig.yaml", "--write", "rig.yaml", "--force")},
		{"is read, and --write would write over it", []string{"tune", "--panel", "panel.yaml", "--trials", "20", "--write", "task.yaml", "--force"}},
		{"--write-rig and --write-operator name the same file", []string{"fit", "knob.csv", "--write-rig", "x", "--write-operator", "x"}},
		{"is read, and --output would write over it", []string{"fit", "knob.csv", "-o", "knob.csv", "--force"}},
		{"is read, and --write-rig would write over it", []string{"fit", "knob.csv", "--write-rig", "knob.csv", "--force"}},
		{"is read, and --write-operator would write over it", []string{"fit", "--dialed", "dialings.jsonl", "--write-operator", "dialings.jsonl", "--force"}},
		{"is read, and --output would write over it", []string{"capture", "knob.csv", "--control", "wheel", "-o", "knob.csv", "--force"}},
		{"--output and --trials-out name the same file", []string{"overshoot", "-o", "x", "--trials-out", "x"}},
		{"is read, and --output would write over it", []string{"check", "rig.yaml", "-o", "rig.yaml", "--force"}},
		{"is read, and --output would write over it", []string{"export", "profile.yaml", "--as", "c", "-o", "profile.yaml", "--force"}},
		{"is read, and --output would write over it", short("compare", "plain", "--panel", "panel.yaml", "-o", "task.yaml", "--force")},
	} {
		cases = append(cases, struct {
			code int
			says string
			args []string
		}{exitUsage, c.says, c.args})
	}
	before := files(t)
	for _, c := range cases {
		code, out, err := ran(t, c.args...)
		if code != c.code || !strings.Contains(err+out, c.says) {
			t.Errorf("%q: exit code %d, want %d and %q: %.300s%.300s", c.args, code, c.code, c.says, out, err)
		}
		if c.code == exitUsage && out != "" {
			t.Errorf("%q: writes %.100s", c.args, out)
		}
		for name, text := range files(t) {
			if was, ok := before[name]; !ok || was != text {
				t.Fatalf("%q: changed or made %s", c.args, name)
			}
		}
	}
}

// loud says whether a character speaks to a terminal.
func loud(r rune) bool { return columns.Speaks(r) && r != '\n' && r != '\t' }

// Whatever a key, a path or a flag is called, the terminal is not spoken to.
func TestNoOutputSpeaksToTheTerminal(t *testing.T) {
	desktop(t)
	const bad = "a\x1b]0;owned\x07\u009b31m\u202e\r\nb"
	for _, args := range [][]string{
		{"check", bad}, {"check", "spoken.yaml"}, {"check", "spoken.yaml", "--format", "json"}, {"check", bad, "--format", "json"},
		{"compare", bad}, {"compare", "plain", "--rig", bad}, {"compare", "plain", "--format", bad}, {"compare", "plain", "-o", bad + "/x"},
		{"compare", "--" + bad}, {bad}, {"explain", "--what-if", bad}, {"explain", "--what-if", bad + "=" + bad}, {"tune", "--for", bad},
		{"tune", "--max-lost", bad}, {"tune", "--decide", bad}, {"report", "--date=" + bad}, {"report", "--figures", "rig.yaml/" + bad},
		{"follow", "--turn", bad}, {"follow", "--start", bad}, {"follow", "--detents", bad}, {"fit", bad}, {"fit", "--count", bad}, {"fit", "--dialed", bad},
		{"fit", "knob.csv", "--control", bad}, {"capture", bad}, {"capture", "-", "--control", bad}, {"capture", "-", "--time", bad},
		{"export", bad}, {"export", "--as", bad}, {"new", bad}, {"new", "rig", "--part", bad}, {"new", "rig", "--name", bad}, {"list", bad},
		{"compare", "plain", "--trials", bad}, {"overshoot", bad},
	} {
		code, out, err := ran(t, args...)
		if code == exitDone || strings.IndexFunc(out, loud) >= 0 || strings.IndexFunc(err, loud) >= 0 {
			t.Errorf("%q: exit code %d: %q %q", args, code, out, err)
		}
		if strings.Contains(err, "\nb") {
			t.Errorf("%q: a name begins a line of its own: %q", args, err)
		}
	}
}

// A panic ends a command with a code of its own and a line that asks for a report.
func TestAPanicAsksForAReport(t *testing.T) {
	var out, err bytes.Buffer
	code := run(t.Context(), []string{"check", "-"}, broken{}, &out, &err)
	if text := err.String(); code != exitPanicked || !strings.Contains(text, "please report") || !strings.Contains(text, "dialwright check -") {
		t.Errorf("exit code %d: %.300s", code, text)
	}
}

// broken is a stream that panics.
type broken struct{}

func (broken) Read([]byte) (int, error) { panic("the stream is broken") }

// Help that nobody can read is a failure, too.
func TestHelpThatCannotBeWritten(t *testing.T) {
	for _, args := range [][]string{{}, {"--help"}, {"compare", "--help"}, {"help", "tune"}, {"--version"}, {"completion", "bash"}, {"list"}} {
		var err bytes.Buffer
		if code := run(t.Context(), args, strings.NewReader(""), stuck{}, &err); code != exitFailed || !strings.Contains(err.String(), "no room") {
			t.Errorf("%q: exit code %d: %s", args, code, err.String())
		}
	}
}

// stuck is a stream that takes nothing.
type stuck struct{}

func (stuck) Write([]byte) (int, error) { return 0, errors.New("no room") }
