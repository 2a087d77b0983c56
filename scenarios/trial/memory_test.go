package trial

import (
	"fmt"
	"testing"
)

// What was asked for lately is remembered, and never more than there is room for.
func TestTheOldestIsForgotten(t *testing.T) {
	var m memory[int, string]
	found := 0
	get := func(key int) {
		if _, err := m.get(key, 4, func() (string, error) { found++; return fmt.Sprint(key), nil }); err != nil {
			t.Fatal(err)
		}
	}
	for i := range 100 {
		get(i)
		get(0)
		if len(m.known) > 4 {
			t.Fatalf("%d are remembered", len(m.known))
		}
	}
	if found != 100 {
		t.Errorf("%d were found out, want 100: the first was asked for all the time", found)
	}
	get(1)
	if found != 101 {
		t.Error("what was long forgotten was known")
	}
}
