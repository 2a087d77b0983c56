package main

import (
	"os"
	"os/exec"
	"strings"
	"testing"
)

// Every module that is built into the program on some system has its licence in the
// notices, with its version.
func TestEveryModuleHasItsLicence(t *testing.T) {
	for _, system := range []string{"linux", "windows", "darwin"} {
		c := exec.Command("go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}{{end}}{{end}}", ".")
		c.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := c.Output()
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(out)) {
			if line != "\n" && !strings.Contains(notices, "\n"+line) {
				t.Errorf("%s: no licence of %s; .ci/notices writes them", system, strings.TrimSpace(line))
			}
		}
	}
	if !strings.Contains(notices, "\nGo\n") {
		t.Error("no licence of Go")
	}
}
