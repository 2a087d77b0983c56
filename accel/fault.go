package accel

import (
	"fmt"
	"strings"
)

// Fault is one thing that makes an acceleration unusable.
type Fault struct {
	Field string // as in a profile file, under acceleration: "rate.rest", "curve.ladder.steps[1].gain"
	Found string // what is there
	Want  string // what would do
}

// Error returns "field: what was found; what would do".
func (f Fault) Error() string { return f.Field + ": " + f.Found + "; " + f.Want }

// Faults is the error of Compile: every fault there is, in the order of the file's
// fields.
type Faults []Fault

// Error returns one line a fault.
func (fs Faults) Error() string {
	lines := make([]string, len(fs))
	for i, f := range fs {
		lines[i] = "acceleration." + f.Error()
	}
	return strings.Join(lines, "\n")
}

func (fs *Faults) add(field, want, found string, args ...any) {
	*fs = append(*fs, Fault{field, fmt.Sprintf(found, args...), want})
}

// within demands low ≤ v ≤ high; a NaN is outside.
func (fs *Faults) within(field string, v, low, high float64) {
	if !(v >= low && v <= high) {
		want := fmt.Sprintf("a number from %g to %g", low, high)
		if low == high {
			want = fmt.Sprintf("%g", low)
		}
		fs.add(field, want, "%g", v)
	}
}

// rising demands below < v ≤ high.
func (fs *Faults) rising(field string, v, below, high float64) {
	if !(v > below && v <= high) {
		fs.add(field, fmt.Sprintf("a number above %g, at most %g", below, high), "%g", v)
	}
}

func (fs *Faults) count(field string, n, low, high int) {
	if n < low || n > high {
		fs.add(field, fmt.Sprintf("%d to %d entries", low, high), "%d entries", n)
	}
}
