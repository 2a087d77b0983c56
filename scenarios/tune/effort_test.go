package tune_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"dialwright/scenarios/demo"
	"dialwright/scenarios/tune"
)

// A search that takes long is announced with the keys that make it long, and one that
// would take an afternoon is refused. (Issue 18.)
func TestALongSearchIsAnnounced(t *testing.T) {
	for _, x := range []struct {
		bounce  time.Duration
		refused bool
	}{{2 * time.Millisecond, false}, {60 * time.Millisecond, true}} {
		rig := demo.Rig("left-pulse")
		rig.Knob.Bounce, rig.Firmware.Scan = x.bounce, time.Microsecond
		s := study(panel(rig, demo.Task("heading")))
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		var said []string
		s.Progress = func(_, _ int, what string) {
			if what != "" {
				said = append(said, what)
				cancel()
			}
		}
		_, err := tune.Run(ctx, s)
		if x.refused && err != nil {
			said = []string{err.Error()}
		}
		if all := strings.Join(said, "\n"); !strings.Contains(all, "because of knob.bounce") || !strings.Contains(all, "firmware.scan 1µs") || x.refused != strings.Contains(all, "are allowed") {
			t.Errorf("%v: %q, %v", x.bounce, said, err)
		}
	}
}
