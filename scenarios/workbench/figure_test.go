package workbench_test

import (
	"io/fs"
	"strings"
	"testing"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/workbench"
)

// The page loads its styles as a file, since its policy allows none within a figure.
func TestFiguresLookOnThePageAsInAReport(t *testing.T) {
	page, err := fs.ReadFile(workbench.Page(), "figure.css")
	if err != nil {
		t.Fatal(err)
	}
	if strings.TrimSpace(string(page)) != strings.TrimSpace(figure.CSS()) {
		t.Errorf("page/figure.css is not what figure.CSS says:\n%s", figure.CSS())
	}
}
