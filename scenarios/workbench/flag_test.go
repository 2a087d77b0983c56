package workbench

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// What a report prints to be typed again is taken by a shell as it was meant, and
// names nothing that decides no number.
func TestCommandLineCanBeTypedAgain(t *testing.T) {
	words := []string{"it's a rig.yaml", "$(echo no)", "power", "a\"b\\c", "-", "ü*"}
	study := NewReport(Builtins())
	given := map[string]bool{"workers": true, "date": true, "seed": true, "task": true}
	study.Workers, study.date, study.Seed, study.tasks = 3, "today", 7, words
	line := commandLine("report", study.Flags(), func(flag string) bool { return given[flag] })
	if !strings.HasPrefix(line, "dialwright report --seed 7 --task ") || strings.Contains(line, "workers") || strings.Contains(line, "date") {
		t.Errorf("%s", line)
	}
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Skip("no shell to ask")
	}
	cmd := exec.Command(sh, "-c", `printf '%s\n' `+strings.TrimPrefix(line, "dialwright report --seed 7 "))
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if want := "--task\n" + strings.Join(words, "\n--task\n") + "\n"; string(out) != want {
		t.Errorf("the shell takes %s as\n%s", line, out)
	}
}
