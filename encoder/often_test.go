package encoder

import (
	"flag"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// CheckOften is rapid.Check with at least so many random cases, also where -short
// makes rapid check a fifth of them; the flag -rapid.checks may ask for more.
func CheckOften(t *testing.T, least int, law func(*rapid.T)) {
	t.Helper()
	if testing.Short() {
		least *= 5
	}
	const name = "rapid.checks"
	was := flag.Lookup(name).Value.String()
	if n, err := strconv.Atoi(was); err != nil || n < least {
		if err := flag.Set(name, strconv.Itoa(least)); err != nil {
			t.Fatal(err)
		}
		defer func() {
			if err := flag.Set(name, was); err != nil {
				t.Fatal(err)
			}
		}()
	}
	rapid.Check(t, law)
}
