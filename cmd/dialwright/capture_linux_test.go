package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// terminal opens a pseudo-terminal: what is written to it is read from the other
// end.
func terminal(t *testing.T) (tty, other *os.File) {
	t.Helper()
	other, err := os.OpenFile("/dev/ptmx", os.O_RDWR, 0)
	if err != nil {
		t.Skipf("no terminal here: %v", err)
	}
	t.Cleanup(func() { other.Close() })
	fd := int(other.Fd())
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		t.Skip(err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		t.Skip(err)
	}
	tty, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", n), os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { tty.Close() })
	return tty, other
}

// On a terminal the person is told what is recorded and how fast it goes, and the
// recording is the same.
func TestATerminalShowsRateAndCounts(t *testing.T) {
	tty, other := terminal(t)
	in, to, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	go func() {
		d := desk{to: to}
		for range 4 {
			d.wheel(2, 15*time.Millisecond)
			time.Sleep(100 * time.Millisecond)
		}
		to.Close()
	}()
	var out bytes.Buffer
	code := run(t.Context(), []string{"capture", "-", "--control", "wheel", "--guided=false"}, in, &out, tty)
	tty.Close()
	b, _ := io.ReadAll(other) // ends with an error, for nobody writes any more
	shown := strings.ReplaceAll(string(b), "\r\n", "\n")
	for _, w := range []string{"This knob: wheel up clockwise, wheel down counter-clockwise.", "Ctrl-C ends.", " counts ", " a second", "8 counts in both directions."} {
		if !strings.Contains(shown, w) {
			t.Errorf("%q is not shown in %q", w, shown)
		}
	}
	if code != exitDone || strings.Count(out.String(), ",wheel,1\n") != 8 || strings.Contains(out.String(), "counts") {
		t.Errorf("exit code %d: %s", code, out.String())
	}
}

// Records are piped in, not typed.
func TestATerminalIsNoRecording(t *testing.T) {
	tty, _ := terminal(t)
	var out, errs bytes.Buffer
	if code := run(t.Context(), []string{"capture", "-"}, tty, &out, &errs); code != exitUsage || !strings.Contains(errs.String(), "this is a terminal") {
		t.Errorf("exit code %d: %s", code, errs.String())
	}
}
