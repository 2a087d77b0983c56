package hand

import (
	"errors"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
)

// A key that repeats on and on brings thousands of steps a click. Such a knob is turned
// less often, and where even that fills memory it is given up, with the keys to blame.
func TestAKnobThatNeverEndsIsTriedLessOften(t *testing.T) {
	repeats := func(pulse, hold time.Duration) encoder.Setup {
		r := encoder.Default()
		r.Knob.Detents, r.Knob.Cycles = 96, 96
		r.Firmware.Output, r.Firmware.Pulse, r.Firmware.Hold, r.Firmware.Queue = encoder.Keys, pulse, hold, 10_000
		r.System.Repeat = encoder.Repeat{Rate: 1000}
		r.Program.Sampling = encoder.Events
		return encoder.Setup{Rig: &r}
	}
	p := people(t, scenarios.Practised())
	steps := func(s encoder.Setup) (steps, turns int, err error) {
		k, err := NewKnob(s, p)
		if err != nil {
			return 0, 0, err
		}
		tried, err := k.experience()
		for _, list := range tried {
			for _, stroke := range list {
				steps += len(stroke.steps)
			}
			turns += len(list)
		}
		return steps, turns, err
	}
	usual, often, err := steps(repeats(30*time.Millisecond, 0))
	if err != nil || usual == 0 {
		t.Fatal(usual, err)
	}
	if n, turns, err := steps(repeats(30*time.Millisecond, 10*time.Second)); err != nil || n > mostSteps || turns >= often || turns == 0 {
		t.Errorf("held: %d steps of %d strokes (%d where nothing is held), %v", n, turns, often, err)
	}
	_, _, err = steps(repeats(2*time.Second, 0))
	if runaway := (*encoder.Runaway)(nil); !errors.As(err, &runaway) || !strings.Contains(err.Error(), "getting to know the knob takes more than 2097152 events, because of system.repeat.rate 1000/s, firmware.pulse 2s") {
		t.Errorf("pulses of 2 s: %v", err)
	}
}
