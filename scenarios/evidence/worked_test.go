package evidence

import (
	"strings"
	"testing"

	"dialwright/testdata/golden"
)

func TestTheWorkedTrialIsWhatThisBuildDoes(t *testing.T) {
	var want strings.Builder
	if err := Worked(&want); err != nil {
		t.Fatal(err)
	}
	golden.Check(t, "OPERATOR.md", want.String())
}
