//go:build 386 || amd64 || arm || arm64 || loong64 || riscv64 || s390x

package recording

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The numbers that a C program prints for the macros of linux/input.h on x86-64.
func TestRequestsAreThoseOfTheHeader(t *testing.T) {
	for name, c := range map[string][2]uintptr{
		"EVIOCGREP":            {eviocgrep, 0x80084503},
		"EVIOCSCLOCKID":        {eviocsclockid, 0x400445a0},
		"EVIOCGNAME(256)":      {eviocgname(256), 0x81004506},
		"EVIOCGBIT(EV_KEY,96)": {eviocgbit(evKey, 96), 0x80604521},
		"EVIOCGBIT(EV_REL,2)":  {eviocgbit(evRel, 2), 0x80024522},
	} {
		if c[0] != c[1] {
			t.Errorf("%s is %#x, want %#x", name, c[0], c[1])
		}
	}
}

func TestWhatIsNoDeviceIsListedWithTheReason(t *testing.T) {
	dir := t.TempDir()
	if _, err := devicesIn(dir); err == nil || !strings.Contains(err.Error(), "found no event devices") {
		t.Errorf("an empty directory: %v", err)
	}
	for _, name := range []string{"event10", "event9", "mice"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	all, err := devicesIn(dir)
	if err != nil || len(all) != 2 || filepath.Base(all[0].Path) != "event9" {
		t.Fatalf("%v, %v", all, err)
	}
	for _, l := range all {
		if l.Err == nil || !strings.Contains(l.Err.Error(), "found no event device") {
			t.Errorf("%s: %v", l.Path, l.Err)
		}
	}
	if _, err := OpenDevice(filepath.Join(dir, "event9")); err == nil {
		t.Error("a text file was opened as a device")
	}
	if _, err := OpenDevice(filepath.Join(dir, "event1")); err == nil {
		t.Error("a device that is not there was opened")
	}
}
