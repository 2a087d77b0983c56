package main

import (
	"strings"
	"testing"
)

// Everything built in has a name of its own, and is shown as a file that passes a
// check.
func TestEverythingBuiltInIsShownAsAGoodFile(t *testing.T) {
	seen := map[string]bool{}
	for _, name := range shown(newInputs(streams{})) {
		if seen[name] {
			t.Errorf("two things are called %s", name)
		}
		seen[name] = true
		text, err := show(newInputs(streams{}), name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if c := newInputs(streams{in: strings.NewReader(string(text))}).Check("-"); len(c.Faults) > 0 || !strings.Contains(string(text), name) {
			t.Errorf("%s is shown as\n%.500s\n%v", name, text, c.Faults)
		}
	}
	if len(seen) < 40 {
		t.Errorf("only %d things", len(seen))
	}
}
