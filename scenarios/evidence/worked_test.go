package evidence

import (
	"os"
	"strings"
	"testing"
)

func TestTheWorkedTrialIsWhatThisBuildDoes(t *testing.T) {
	const name = "OPERATOR.md"
	var want strings.Builder
	if err := Worked(&want); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(name, []byte(want.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if string(text) != want.String() {
		t.Errorf("%s has changed (-update rewrites it):\n%s", name, want.String())
	}
}
