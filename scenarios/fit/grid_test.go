package fit

import (
	"math"
	"testing"

	"dialwright/encoder/recording"
)

// pulsesWithoutPolls are pulses as a device without polls gives them: strokes of a
// hand, pulses back to back while they wait. The recorder's time stamps come up to
// `late` ns late and count in units of `unit` ns.
func pulsesWithoutPolls(t *testing.T, n int, late float64, unit int64) (heard *Recording, on, off float64) {
	t.Helper()
	d := newDice("without polls", n)
	on, off = float64(d.time(8, 60)), float64(d.time(8, 60))
	if n%2 == 0 { // as people set them
		on, off = math.Round(on/1e6)*1e6, math.Round(off/1e6)*1e6
	}
	var events []recording.Event
	free, now := 0.0, 1e9
	stamp := func(at float64, k recording.Kind) {
		events = append(events, recording.Event{Time: int64(at+d.between(0, late)) / unit * unit, Control: "btn288", Kind: k})
	}
	for range 6 + d.of(8) {
		gap := d.between(15e6, 60e6)
		for range 6 + d.of(10) {
			now += gap * d.between(0.8, 1.25)
			start := max(now, free)
			stamp(start, recording.Press)
			stamp(start+on, recording.Release)
			free = start + on + off
		}
		now = max(now, free) + d.between(250e6, 600e6)
	}
	heard, err := newRecording("pulses", recording.Device{}, events)
	if err != nil {
		t.Fatal(err)
	}
	return heard, on, off
}

func TestPulsesWithoutAPollGridClaimNoPoll(t *testing.T) {
	const recordings = 200
	for _, x := range []struct {
		name string
		late float64
		unit int64
	}{{"late stamps", 100e3, 1}, {"stamps in µs", 1, 1e3}, {"stamps in 0.1 ms", 1, 100e3}, {"stamps in ms", 1, 1e6}} {
		claims := 0
		for n := range recordings {
			heard, on, off := pulsesWithoutPolls(t, n, x.late, x.unit)
			f := &fitting{Study: &Study{Recordings: []*Recording{heard}}, r: &Result{}}
			if _, err := f.identify(); err != nil {
				t.Fatal(err)
			}
			if v, _ := f.r.Path.Get("usb.poll"); v.Known {
				claims++
				t.Logf("%s, recording %d, on %.1f, off %.1f ms: a poll of %.3f ms is claimed: %s", x.name, n, on/1e6, off/1e6, v.Value, v.Why)
			} else if v.Why == "" {
				t.Errorf("%s, recording %d: no reason", x.name, n)
			}
		}
		t.Logf("%s: %d of %d claim a poll", x.name, claims, recordings)
		if claims > recordings/100 {
			t.Errorf("%s: %d of %d recordings of pulses without polls claim one", x.name, claims, recordings)
		}
	}
}
