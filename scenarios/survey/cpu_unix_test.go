//go:build unix

package survey_test

import (
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// processorTime returns what this process has used of processors.
func processorTime(t testing.TB) time.Duration {
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
