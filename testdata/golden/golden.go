// Package golden holds what tests make to files that somebody has read. go test -update
// rewrites them: read the difference before it is committed.
package golden

import (
	"flag"
	"os"
	"testing"
)

// Update says whether the files are rewritten.
var Update = flag.Bool("update", false, "rewrite the golden files")

// Check fails where the file at a path, / between folders, is not what a test got.
func Check[T ~string | ~[]byte](t testing.TB, path string, got T) {
	t.Helper()
	if *Update {
		if err := os.WriteFile(path, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != string(want) {
		t.Errorf("%s has changed (go test -update rewrites it):\n%s", path, string(got))
	}
}
