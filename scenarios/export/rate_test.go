package export

import (
	"math"
	"slices"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// pulsing is a rig whose pulses all get through, each so long with its gap.
func pulsing(each time.Duration, queue int) encoder.Rig {
	return encoder.Rig{
		Knob:     encoder.Knob{Detents: 24, Cycles: 24, MinState: 0.25},
		Firmware: encoder.Firmware{Scan: 50 * time.Microsecond, Debounce: 1, CountsPerDetent: 1, Pulse: each / 2, Gap: each - each/2, Queue: queue},
		USB:      encoder.USB{Poll: 125 * time.Microsecond, Reports: encoder.QueuedReports}, Program: encoder.Program{Sampling: encoder.Immediate},
	}
}

// In a few words a profile is the last word of each key with its number parted from the
// unit, and where its acceleration is.
func TestAProfileInAFewWords(t *testing.T) {
	for value, want := range map[string]string{"8ms": "8 ms", "40ms": "40 ms", "0.5s": "0.5 s", "-3ms": "-3 ms", "12": "12", "relative": "relative", "": ""} {
		if got := spaced(value); got != want {
			t.Errorf("%q is %q, want %q", value, got, want)
		}
	}
	p := &scenarios.Profile{
		Settings: []scenarios.Setting{{Key: "firmware.pulse", Value: "8ms"}, {Key: "firmware.coarse.steps", Value: "10"}}, Home: encoder.InFirmware,
		Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 3}}, PressCoarse: 10,
	}
	if got, want := brief(p), []string{"pulse 8 ms", "coarse steps 10", "constant curve in the firmware", "push for 10"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got := brief(scenarios.Plain()); got != nil {
		t.Errorf("%q", got)
	}
}

// A path lets a speed through when it hardly loses a detent and the number stands soon
// after the last: of pulses that all wait, 24 at a speed take no more than 0.3 s longer
// than the turn; of pulses that cannot wait, those of one detent must end before the next.
func TestThePathLetsThroughWhatDoesNotWaitLong(t *testing.T) {
	for _, x := range []struct {
		each  time.Duration
		queue int
		want  int
	}{
		{time.Millisecond, 100, 25},
		{50 * time.Millisecond, 100, 25},  // 23·50 ms after 23 of 24 detents in 0.96 s
		{60 * time.Millisecond, 100, 20},  // 23·20 ms late at 25/s, 23·10 ms at 20/s
		{100 * time.Millisecond, 100, 10}, // 23·17 ms late at 12/s
		{99 * time.Millisecond, 0, 10},
		{101 * time.Millisecond, 0, 8},
		{450 * time.Millisecond, 0, slowRate},
	} {
		rig := pulsing(x.each, x.queue)
		if got := passes(encoder.Setup{Rig: &rig}, true); got != x.want {
			t.Errorf("pulses of %v, %d wait: %d a second, want %d", x.each, x.queue, got, x.want)
		}
	}
	held := pulsing(100*time.Millisecond, 0)
	held.Firmware.Hold, held.Firmware.Pulse, held.Firmware.Gap = 100*time.Millisecond, 0, 0
	if got := passes(encoder.Setup{Rig: &held}, true); got != 25 {
		t.Errorf("detents without a fate: %d a second", got)
	}
}

// A gain in the firmware makes more pulses, which take longer; a profile that is plain has
// none whatever is compiled.
func TestAGainInTheFirmwareLetsLessThrough(t *testing.T) {
	gain, err := accel.Acceleration{Curve: accel.Constant{Gain: 4}}.Compile()
	if err != nil {
		t.Fatal(err)
	}
	rig := pulsing(25*time.Millisecond, 1000)
	setup := encoder.Setup{Rig: &rig, Gain: gain, Home: encoder.InFirmware}
	if got := passes(setup, true); got != 25 {
		t.Errorf("plain: %d a second", got)
	}
	if got := passes(setup, false); got != 10 {
		t.Errorf("four pulses a detent: %d a second", got)
	}
}

// The share that is lost is that of the turned detents, and how late the number still
// moves is counted from the last of them.
func TestWhatASpeedLoses(t *testing.T) {
	rig := pulsing(200*time.Millisecond, 0)
	if lost, late, ok := loses(encoder.Setup{Rig: &rig}, 10); !ok || math.Abs(lost-0.5) > 0.05 || late > 20*time.Millisecond {
		t.Errorf("every second one is refused: %g, %v late, %t", lost, late, ok)
	}
	rig = pulsing(100*time.Millisecond, 100)
	if lost, late, ok := loses(encoder.Setup{Rig: &rig}, 20); !ok || lost != 0 || late < 1100*time.Millisecond || late > 1200*time.Millisecond {
		t.Errorf("24 pulses of 0.1 s in 1.2 s: %g lost, %v late, %t", lost, late, ok)
	}
}
