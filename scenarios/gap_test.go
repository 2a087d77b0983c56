package scenarios

import (
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
)

// A pulse of 20 ms and a gap of 10 ms beside a poll of 25 ms and a frame of 40 ms:
// each is warned of with its own length and its own share.
func TestWarningsTellThePulseFromTheGap(t *testing.T) {
	r := encoder.Default()
	r.Firmware.Pulse, r.Firmware.Gap = 20*time.Millisecond, 10*time.Millisecond
	r.USB.Poll, r.Program.Frames, r.Program.Sampling = 25*time.Millisecond, 25, encoder.State
	o := Practised()
	var said []string
	for _, w := range Warnings(&r, &o) {
		said = append(said, w.Link.String()+": "+w.Text)
	}
	text := strings.Join(said, "\n")
	for _, want := range []string{
		"USB poll: a pulse of 20 ms is shorter than the poll of 25 ms: 20 % of the pulses are never seen",
		"USB poll: a gap of 10 ms is shorter than the poll of 25 ms: 60 % of pulses that follow each other merge",
		"program sampling: a pulse of 20 ms is shorter than a frame of 40 ms: 50 % of the pulses are never seen",
		"program sampling: a gap of 10 ms is shorter than a frame of 40 ms: up to 75 % of pulses that follow each other merge",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not said:\n%s", want, text)
		}
	}
	// A poll of 15 ms and a frame of 16 ms miss the gaps alone; with the lengths changed
	// about, the pulses alone.
	r.USB.Poll, r.Program.Frames = 15*time.Millisecond, 62.5
	for _, short := range []string{"a gap of 10 ms", "a pulse of 10 ms"} {
		shorter := map[Link]int{}
		for _, w := range Warnings(&r, &o) {
			if strings.Contains(w.Text, "shorter") {
				shorter[w.Link]++
				if !strings.HasPrefix(w.Text, short) {
					t.Errorf("only %s is too short, and it says %s", short, w.Text)
				}
			}
		}
		if shorter[USBPoll] != 1 || shorter[ProgramSampling] != 1 {
			t.Errorf("%s is told of %v times", short, shorter)
		}
		r.Firmware.Pulse, r.Firmware.Gap = r.Firmware.Gap, r.Firmware.Pulse
	}
	r.USB.Poll, r.Program.Frames = 5*time.Millisecond, 120
	for _, w := range Warnings(&r, &o) {
		if w.Link == USBPoll || w.Link == ProgramSampling && strings.Contains(w.Text, "shorter") {
			t.Errorf("pulses and gaps outlast poll and frame: %s", w.Text)
		}
	}
}
