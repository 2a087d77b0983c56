package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"dialwright/encoder/recording"
)

// desk is a knob and a keyboard on one event device, used in real time: every
// report is written when it happens, with the time at which it happens.
type desk struct {
	to      io.Writer
	strokes int
}

// Codes of linux/input-event-codes.h.
const (
	evKey, evRel         = 1, 2
	relWheel, relWheelHi = 8, 11
	btnTrigger           = 288
)

// report writes records of (type, code, value) and the end of their report.
func (d *desk) report(records ...[3]int32) {
	now := time.Now().UnixMicro()
	var b []byte
	for _, r := range append(records, [3]int32{}) {
		b = binary.LittleEndian.AppendUint64(b, uint64(now/1e6))
		b = binary.LittleEndian.AppendUint64(b, uint64(now%1e6))
		b = binary.LittleEndian.AppendUint16(b, uint16(r[0]))
		b = binary.LittleEndian.AppendUint16(b, uint16(r[1]))
		b = binary.LittleEndian.AppendUint32(b, uint32(r[2]))
	}
	d.to.Write(b)
}

// typed types one of the letters q to p, a to l and z to m.
func (d *desk) typed() {
	key := [...]int32{30, 16, 48, 31, 18, 35, 23, 38, 50, 24}[d.strokes%10]
	d.strokes++
	d.report([3]int32{4, 4, 0x70000 + key}, [3]int32{evKey, key, 1})
	time.Sleep(7 * time.Millisecond)
	d.report([3]int32{evKey, key, 0})
}

// wheel turns a high-resolution wheel by n detents, a key typed after every third.
func (d *desk) wheel(n int, gap time.Duration) {
	way := int32(1)
	if n < 0 {
		way, n = -1, -n
	}
	for i := range n {
		d.report([3]int32{evRel, relWheelHi, 120 * way}, [3]int32{evRel, relWheel, way})
		time.Sleep(gap - 10*time.Millisecond)
		if i%3 == 0 {
			d.typed()
		} else {
			time.Sleep(7 * time.Millisecond)
		}
		time.Sleep(3 * time.Millisecond)
	}
}

// buttons turns a knob of two buttons.
func (d *desk) buttons(n int, gap time.Duration) {
	button := int32(btnTrigger)
	if n < 0 {
		button, n = button+1, -n
	}
	for range n {
		d.report([3]int32{evKey, button, 1})
		time.Sleep(gap / 2)
		d.report([3]int32{evKey, button, 0})
		time.Sleep(gap - gap/2)
	}
}

// sat is what somebody at a desk gets from a command.
type sat struct {
	code     int
	out, err bytes.Buffer
}

// sit runs a command on a desk's stream, in time that passes as fast as the
// machine can. The stream ends where do ends.
func sit(t *testing.T, s *sat, do func(*desk, context.CancelFunc), args ...string) {
	synctest.Test(t, func(t *testing.T) {
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		in, to := io.Pipe()
		done := make(chan struct{})
		go func() {
			defer close(done)
			s.code = run(ctx, append([]string{"capture", "-"}, args...), in, &s.out, &s.err)
			in.Close() // nobody reads any more
		}()
		do(&desk{to: to}, stop)
		to.Close()
		<-done
	})
}

var lineOf = map[string]*regexp.Regexp{
	"wheel":   regexp.MustCompile(`^\d+(\.\d+)?,wheel,-?\d+$`),
	"buttons": regexp.MustCompile(`^\d+(\.\d+)?,btn28[89],(press|release)$`),
}

// Whatever is typed on the device, before, while and after the knob is learned and
// recorded, each line of the recording is the knob's.
func TestTypedTextNeverReachesTheRecording(t *testing.T) {
	for _, named := range []bool{true, false} {
		var args []string
		if named {
			args = []string{"--control", "wheel"}
		}
		var s sat
		sit(t, &s, func(d *desk, _ context.CancelFunc) {
			for range 5 {
				d.typed()
			}
			time.Sleep(time.Second)
			d.wheel(10, 50*time.Millisecond)
			time.Sleep(time.Second)
			d.wheel(-10, 50*time.Millisecond)
			time.Sleep(time.Second)
			for range 5 {
				d.typed()
			}
			d.wheel(7, 40*time.Millisecond)
			d.wheel(-4, 40*time.Millisecond)
		}, args...)
		if s.code != exitDone || s.err.Len() > 0 {
			t.Fatalf("exit code %d: %s", s.code, s.err.String())
		}
		lines := strings.Split(strings.TrimSuffix(s.out.String(), "\n"), "\n")
		want := 11
		if named {
			want = 31
		}
		if lines[0] != "time_s,control,event" || len(lines) != 1+want {
			t.Fatalf("named %v: %d lines: %s", named, len(lines), s.out.String())
		}
		for _, l := range lines[1:] {
			if !lineOf["wheel"].MatchString(l) {
				t.Errorf("named %v: recorded %q", named, l)
			}
		}
		if !named && lines[2] != "0.04,wheel,1" {
			t.Errorf("the second detent, 40 ms after the first, is %q", lines[2])
		}
	}
}

// A guided session that a person follows is recorded with its marks and ends by
// itself, though the stream goes on.
func TestAGuidedSessionFromAStream(t *testing.T) {
	file := filepath.Join(t.TempDir(), "knob.csv")
	var s sat
	sit(t, &s, func(d *desk, _ context.CancelFunc) {
		for _, n := range []int{9, -9} {
			d.buttons(n, 60*time.Millisecond)
			time.Sleep(time.Second)
		}
		d.buttons(24, 400*time.Millisecond)
		time.Sleep(3 * time.Second)
		for i := range 6 {
			d.buttons(22-44*(i%2), 30*time.Millisecond)
			time.Sleep(1500 * time.Millisecond)
		}
		for i := range 10 {
			d.buttons(3-i%2*6, 100*time.Millisecond)
			time.Sleep(1500 * time.Millisecond)
		}
		d.buttons(5, 100*time.Millisecond) // no more asked for
	}, "--guided", "--output", file)
	if s.code != exitDone || s.out.Len() > 0 || s.err.Len() > 0 {
		t.Fatalf("exit code %d: %s%s", s.code, s.out.String(), s.err.String())
	}
	r, err := recording.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var marks []string
	counts := map[string]int{}
	for e, err := range r.Events() {
		switch {
		case err != nil:
			t.Fatal(err)
		case e.Kind == recording.Mark:
			marks = append(marks, e.Control)
		case e.Kind == recording.Press:
			counts[marks[len(marks)-1]]++
		}
	}
	var want []string
	for _, step := range recording.Steps() {
		want = append(want, step.Name)
	}
	if !slices.Equal(marks, want) || r.Partial != "" {
		t.Errorf("marks %q, partial %q", marks, r.Partial)
	}
	if counts["slow turn"] != 24 || counts["fast turn counter-clockwise 3"] != 22 || counts["dial and stop 10"] != 3 {
		t.Errorf("%v", counts)
	}
}

// A session that the stream does not finish is kept, marked, and said to be so.
func TestASessionThatIsCutShortIsMarked(t *testing.T) {
	file := filepath.Join(t.TempDir(), "knob.csv")
	var s sat
	sit(t, &s, func(d *desk, _ context.CancelFunc) {
		d.wheel(20, 400*time.Millisecond)
		time.Sleep(3 * time.Second)
		d.wheel(20, 30*time.Millisecond)
	}, "--guided", "--control", "wheel", "--output", file)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if s.code != exitFailed || !strings.Contains(s.err.String(), "after 2 of 17 steps") || !strings.HasSuffix(string(text), "\n# partial: ended after 2 of 17 steps\n") {
		t.Errorf("exit code %d: %s%s", s.code, s.err.String(), text)
	}
}

// Ctrl-C leaves every event so far, and says that there could have been more; on
// standard output as in a file.
func TestAnInterruptedCaptureIsWholeAndMarked(t *testing.T) {
	file := filepath.Join(t.TempDir(), "knob.csv")
	for _, args := range [][]string{nil, {"--output", file}} {
		var s sat
		sit(t, &s, func(d *desk, ctrlC context.CancelFunc) {
			d.wheel(12, 40*time.Millisecond)
			ctrlC()
			time.Sleep(time.Second)
			d.wheel(5, 40*time.Millisecond)
		}, append(args, "--control", "wheel")...)
		text := s.out.String()
		if args != nil {
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			text = string(b)
		}
		if s.code != exitInterrupted || strings.Count(text, ",wheel,1\n") != 12 || !strings.HasSuffix(text, "\n# partial: interrupted\n") {
			t.Errorf("exit code %d: %s%s", s.code, s.err.String(), text)
		}
	}

	var s sat
	sit(t, &s, func(_ *desk, ctrlC context.CancelFunc) { ctrlC() }, "--output", file, "--force")
	if s.code != exitInterrupted || !strings.Contains(s.err.String(), "nothing was finished") {
		t.Errorf("exit code %d: %s", s.code, s.err.String())
	}
	if b, err := os.ReadFile(file); err != nil || len(b) < 100 {
		t.Errorf("the old file was touched: %q, %v", b, err)
	}
}

// Who reads standard output along sees an event soon after it came.
func TestStandardOutputIsLive(t *testing.T) {
	var s sat
	sit(t, &s, func(d *desk, _ context.CancelFunc) {
		for i := range 5 {
			d.wheel(1, 40*time.Millisecond)
			time.Sleep(200 * time.Millisecond)
			synctest.Wait()
			if got := strings.Count(s.out.String(), ",wheel,1\n"); got != i+1 {
				t.Errorf("after %d detents %d are there", i+1, got)
			}
		}
	}, "--control", "wheel")
}

func TestATimedCaptureEnds(t *testing.T) {
	var s sat
	sit(t, &s, func(d *desk, _ context.CancelFunc) {
		d.wheel(40, 100*time.Millisecond)
		time.Sleep(time.Hour)
	}, "--control", "wheel", "--time", "2.05s")
	if got := strings.Count(s.out.String(), ",wheel,1\n"); s.code != exitDone || got != 21 || strings.Contains(s.out.String(), "partial") {
		t.Errorf("exit code %d, %d detents: %s", s.code, got, s.err.String())
	}
}

func TestDevicesAreListedWithWhatWouldDo(t *testing.T) {
	denied := fmt.Errorf("recording: %w", fs.ErrPermission)
	knob := recording.Listed{Path: "/dev/input/event7", Device: recording.Device{Name: "Quillmoor desk knob", RepeatDelay: 250e6, RepeatPeriod: 33e6}, Turns: []string{"dial", "wheel"}, Buttons: 1, Keys: 104}
	keyboard := recording.Listed{Path: "/dev/input/event0", Device: recording.Device{Name: "Quillmoor desk keys"}, Keys: 104}
	for name, c := range map[string]struct {
		devices []recording.Listed
		want    []string
	}{
		"one":      {[]recording.Listed{keyboard, knob}, []string{"event7: Quillmoor desk knob\n    dial, wheel; 1 button; 104 keys; key repeat after 250 ms, then every 33 ms\n", "    dialwright capture /dev/input/event7 --output knob.csv\n"}},
		"refused":  {[]recording.Listed{{Path: "/dev/input/event0", Err: denied}}, []string{"event0: may not be read by you", "1 of 1 may not be read", "    sudo usermod -aG input $USER\n"}},
		"keys":     {[]recording.Listed{keyboard}, []string{"104 keys\n", "If your knob types keys"}},
		"gone":     {[]recording.Listed{knob, {Path: "/dev/input/event9", Err: errors.New("recording: unplugged")}}, []string{"event9: unplugged\n"}},
		"useless":  {[]recording.Listed{{Path: "/dev/input/event1"}}, []string{"nothing that a knob moves"}},
		"together": {[]recording.Listed{knob, {Path: "/dev/input/event8", Err: denied}}, []string{"1 of 2 may not", "capture /dev/input/event7"}},
	} {
		var b strings.Builder
		if err := printDevices(&b, c.devices); err != nil {
			t.Fatal(err)
		}
		for _, w := range c.want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("%s: %q is not in\n%s", name, w, b.String())
			}
		}
		for line := range strings.Lines(b.String()) {
			if len(line) > 81 {
				t.Errorf("%s: %d columns: %s", name, len(line)-1, line)
			}
		}
	}
}
