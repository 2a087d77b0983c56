package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The templates as Go are those beside them: go generate was not forgotten.
func TestTemplatesAreCompiled(t *testing.T) {
	found, err := exec.Command("go", "tool", "-n", "qtc").Output()
	if err != nil {
		t.Skipf("the compiler of templates is not here: %v", err)
	}
	templates, err := filepath.Glob("../../scenarios/*/*.qtpl")
	if err != nil || len(templates) == 0 {
		t.Fatalf("%d templates, %v", len(templates), err)
	}
	for _, path := range templates {
		dir := filepath.Join(t.TempDir(), filepath.Base(filepath.Dir(path))) // the package's name
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Mkdir(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(path)), text, 0o666); err != nil {
			t.Fatal(err)
		}
		c := exec.Command(strings.TrimSpace(string(found)))
		c.Dir = dir
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		fresh, err := os.ReadFile(filepath.Join(dir, filepath.Base(path)+".go"))
		if err != nil {
			t.Fatal(err)
		}
		if kept, err := os.ReadFile(path + ".go"); err != nil || string(kept) != string(fresh) {
			t.Errorf("%s.go is old: go generate ./scenarios/... makes it anew (%v)", path, err)
		}
	}
}
