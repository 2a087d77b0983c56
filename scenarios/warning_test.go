package scenarios

import (
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
)

// A path that is later than the people's study is warned of, whichever link makes it
// so, and no other.
func TestWhatIsLaterThanThePeoplesStudyIsWarnedOf(t *testing.T) {
	o := practised
	for _, x := range []struct {
		name string
		set  func(r *encoder.Rig)
		link string
	}{
		{"default", func(*encoder.Rig) {}, ""},
		{"display lag", func(r *encoder.Rig) { r.Display.Latency = 300 * time.Millisecond }, "display lag"},
		{"frames", func(r *encoder.Rig) { r.Program.Frames = 3 }, "program sampling"},
		{"no frames", func(r *encoder.Rig) { r.Program = encoder.Program{Sampling: encoder.Immediate} }, ""},
		{"system", func(r *encoder.Rig) { r.System.Latency = 250 * time.Millisecond }, "operating system"},
		{"just below", func(r *encoder.Rig) { r.Display.Latency = LongestSet - (Lag(r) - r.Display.Latency) }, ""},
		{"just above", func(r *encoder.Rig) { r.Display.Latency = LongestSet - (Lag(r) - r.Display.Latency) + 1 }, "display lag"},
		{"slow pulses", func(r *encoder.Rig) {
			r.Firmware.Pulse, r.Firmware.Gap = 60*time.Millisecond, 60*time.Millisecond
		}, "pulses and queue"},
		{"slow pulses, no queue", func(r *encoder.Rig) {
			r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = 60*time.Millisecond, 60*time.Millisecond, 0
		}, ""},
		{"counts", func(r *encoder.Rig) {
			r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Output = 60*time.Millisecond, 60*time.Millisecond, encoder.Relative
		}, ""},
	} {
		r := encoder.Default()
		r.Display.Latency = 50 * time.Millisecond
		x.set(&r)
		var links []string
		for _, w := range Warnings(&r, &o) {
			if strings.Contains(w.Text, "set on") {
				links = append(links, w.Link.String())
			}
		}
		if got := strings.Join(links, ", "); got != x.link {
			t.Errorf("%s: warned of %q, want %q (lag %v, backlog %v)", x.name, got, x.link, Lag(&r), Backlog(&r, &o))
		}
		panel := &Panel{Knobs: []Knob{{Name: "one", Inner: &Rig{Rig: r}}, {Name: "two", Inner: &Rig{Rig: r}}}}
		if said := Beyond(panel, nil, &Profile{}, &o); len(said) != len(links) {
			t.Errorf("%s: a panel says %q", x.name, said)
		}
	}
}

// A full queue is the most that can wait.
func TestNoMorePulsesWaitThanTheQueueHolds(t *testing.T) {
	o := practised
	for queue := range 20 {
		r := encoder.Default()
		r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = 100*time.Millisecond, 100*time.Millisecond, queue
		if got, most := Backlog(&r, &o), time.Duration(queue)*200*time.Millisecond; got > most || queue > 0 && got == 0 {
			t.Errorf("queue %d: %v wait, at most %v can", queue, got, most)
		}
	}
}
