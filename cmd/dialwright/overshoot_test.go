package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// said runs a command that must succeed and returns what it printed.
func said(t *testing.T, args ...string) string {
	t.Helper()
	var out, err strings.Builder
	if code := run(context.Background(), args, strings.NewReader(""), &out, &err); code != exitDone {
		t.Fatalf("%v: exit code %d: %s", args, code, err.String())
	}
	return out.String()
}

// The follow that is printed beside the worst trials shows the very trials that were
// counted: behind a selector, of a family, of tasks that the panel does not have, of
// things from files, and where the profile cannot be set.
func TestPrintedFollowShowsTheTrialThatWasCounted(t *testing.T) {
	t.Chdir(t.TempDir())
	for name, text := range map[string]string{
		"rx.yaml": `kind: panel
version: 1
name: rx
knobs:
  - {name: main, rings: 1, rig: left-pulse, selector: true, tasks: [{task: heading, per_hour: 20}, {task: altitude, per_hour: 6}]}
`,
		"steps.yaml":  "kind: task\nversion: 1\nname: hundred\nrange: {from: 0, to: 99}\n",
		"person.yaml": "kind: operator\nversion: 1\nname: somebody\n",
	} {
		if err := os.WriteFile(filepath.Join(".", name), []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	again := regexp.MustCompile(`see one with (follow .*? --trial (\d+))`)
	result := regexp.MustCompile(`^(\S+), trial (\d+) of seed (\d+): .* in ([\d.]+) s, (\d+) detents in (\d+) strokes`)
	for _, x := range [][]string{
		{"hf-20m", "--panel", "rx.yaml", "--profile", "power"},
		{"heading", "--panel", "rx.yaml", "--profile", "power"},
		{"steps.yaml", "--panel", "rx.yaml", "--operator", "person.yaml", "--profile", "power"},
		{"hf-20m", "--rig", "right-relative", "--profile", "power"},
		{"heading", "--profile", "press"}, // the knob has no push
		{"--profile", "power"},
	} {
		args := append([]string{"overshoot"}, x...)
		args = append(args, "--trials", "60", "--seed", "7", "--trials-out", "trials.csv", "--force", "--quiet", "--detail")
		text := strings.Join(strings.Fields(said(t, args...)), " ")
		file, err := os.Open("trials.csv")
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(file).ReadAll()
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		counted := map[string]string{} // task, trial → time, detents, strokes, by the operator of the last line
		commands := again.FindAllStringSubmatch(text, -1)
		if len(commands) == 0 {
			t.Fatalf("%v: no trial is pointed to: %s", args, text)
		}
		for _, c := range commands {
			operator := regexp.MustCompile(`--operator (\S+)`).FindStringSubmatch(c[1])[1]
			if operator == "person.yaml" {
				operator = "somebody"
			}
			for _, row := range rows[1:] {
				if row[1] == operator {
					seconds, err := strconv.ParseFloat(row[5], 64)
					if err != nil {
						t.Fatal(err)
					}
					counted[row[0]+" "+row[2]] = fmt.Sprintf("%.2f s, %s detents, %s strokes", seconds, row[13], row[12])
				}
			}
			m := result.FindStringSubmatch(strings.Join(strings.Fields(said(t, strings.Fields(c[1])...)), " "))
			if m == nil || m[2] != c[2] || m[3] != "7" {
				t.Errorf("%s: %v", c[1], m)
				continue
			}
			if got := fmt.Sprintf("%s s, %s detents, %s strokes", m[4], m[5], m[6]); got != counted[m[1]+" "+m[2]] {
				t.Errorf("%v: dialwright %s\nshows    %s\ncounted  %s", args, c[1], got, counted[m[1]+" "+m[2]])
			}
		}
	}
}
