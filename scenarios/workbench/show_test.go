package workbench

import (
	"strings"
	"testing"

	"dialwright/scenarios/file"
)

// Everything built in has a name of its own, and is shown as a file that passes a
// check.
func TestEverythingBuiltInIsShownAsAGoodFile(t *testing.T) {
	seen := map[string]bool{}
	in := Builtins()
	for _, name := range Shown(&in) {
		if seen[name] {
			t.Errorf("two things are called %s", name)
		}
		seen[name] = true
		text, err := show(&in, name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		reader := Builtins()
		reader.Texts = file.Texts{"shown.yaml": string(text)}
		if c := reader.Check("shown.yaml"); len(c.Faults) > 0 || !strings.Contains(string(text), name) {
			t.Errorf("%s is shown as\n%.500s\n%v", name, text, c.Faults)
		}
	}
	if len(seen) < 40 {
		t.Errorf("only %d things", len(seen))
	}
}
