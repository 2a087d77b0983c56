//go:build !unix

package survey_test

import (
	"testing"
	"time"
)

var began = time.Now()

// processorTime returns the time on the wall where the system says no more.
func processorTime(testing.TB) time.Duration { return time.Since(began) }
