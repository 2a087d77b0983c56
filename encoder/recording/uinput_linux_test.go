//go:build 386 || amd64 || arm || arm64 || loong64 || riscv64 || s390x

package recording

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// virtual makes an event device of the kernel's own (uinput) that has a wheel, a
// dial, two buttons and a letter, and returns it with the path of its node.
func virtual(t *testing.T) (*os.File, string) {
	t.Helper()
	u, err := os.OpenFile("/dev/uinput", os.O_WRONLY, 0)
	if err != nil {
		t.Skipf("no virtual device can be made here: %v", err)
	}
	t.Cleanup(func() { u.Close() })
	set := func(request uint, n int) {
		if err := unix.IoctlSetInt(int(u.Fd()), request, n); err != nil {
			t.Fatal(err)
		}
	}
	// Requests of linux/uinput.h.
	const setEvBit, setKeyBit, setRelBit, devCreate = 0x40045564, 0x40045565, 0x40045566, 0x5501
	for _, typ := range []int{evKey, evRel, 0x14} { // and key repeat
		set(setEvBit, typ)
	}
	for _, key := range []int{30, 288, 289} {
		set(setKeyBit, key)
	}
	for _, rel := range []int{relDial, relWheel, relWheelHiRes} {
		set(setRelBit, rel)
	}
	// struct uinput_user_dev: a name, an identity, and limits of axes.
	dev := make([]byte, 80+8+4+4*64*4)
	copy(dev, "Quillmoor desk knob")
	binary.LittleEndian.PutUint16(dev[80:], 6) // BUS_VIRTUAL
	if _, err := u.Write(dev); err != nil {
		t.Fatal(err)
	}
	set(devCreate, 0)
	for range 100 { // until the node is there
		all, _ := filepath.Glob("/sys/devices/virtual/input/input*/event*")
		for _, p := range all {
			name, _ := os.ReadFile(filepath.Join(filepath.Dir(p), "name"))
			node := filepath.Join("/dev/input", filepath.Base(p))
			if strings.TrimSpace(string(name)) == "Quillmoor desk knob" {
				if f, err := os.Open(node); err == nil {
					f.Close()
					return u, node
				}
			}
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatal("the virtual device has no node")
	return nil, ""
}

// send makes the device report.
func send(t *testing.T, u *os.File, records ...inputEventRecord) {
	t.Helper()
	var b []byte
	for _, r := range append(records, inputEventRecord{}) {
		b = append(b, make([]byte, recordSize-8)...) // the kernel sets the time
		b = binary.LittleEndian.AppendUint16(b, r.typ)
		b = binary.LittleEndian.AppendUint16(b, r.code)
		b = binary.LittleEndian.AppendUint32(b, uint32(r.value))
	}
	if _, err := u.Write(b); err != nil {
		t.Fatal(err)
	}
}

func TestARealDeviceIsListedAndRecorded(t *testing.T) {
	u, node := virtual(t)
	all, err := Devices()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(l Listed) bool { return l.Path == node })
	if i < 0 {
		t.Fatalf("%s is not among %v", node, all)
	}
	if l := all[i]; l.Err != nil || l.Name != "Quillmoor desk knob" || !slices.Equal(l.Turns, []string{"dial", "wheel"}) || l.Buttons != 2 || l.Keys != 1 ||
		l.RepeatDelay != 250e6 || l.RepeatPeriod != 33e6 { // what the kernel sets (drivers/input/input.c)
		t.Errorf("listed %+v", l)
	}

	r, err := OpenDevice(node)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	knob, err := NewKnob("wheel")
	if err != nil {
		t.Fatal(err)
	}
	var from, till unix.Timespec
	unix.ClockGettime(unix.CLOCK_MONOTONIC, &from)
	const detents = 8
	go func() {
		for range detents {
			send(t, u, inputEventRecord{typ: evRel, code: relWheelHiRes, value: 120}, inputEventRecord{typ: evRel, code: relWheel, value: 1})
			send(t, u, inputEventRecord{typ: evKey, code: 30, value: 1})
			send(t, u, inputEventRecord{typ: evKey, code: 30, value: 0})
			time.Sleep(20 * time.Millisecond)
		}
	}()
	// Stopped when all is there, while a read waits.
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out bytes.Buffer
	c := Capture{Knob: knob, Live: true, Notice: func(n Notice) {
		if n.Events == detents {
			stop()
		}
	}}
	if err := c.Run(ctx, r, NewWriter(&out, r.Device)); !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	unix.ClockGettime(unix.CLOCK_MONOTONIC, &till)
	text := out.String()
	if !strings.HasPrefix(text, "# device: Quillmoor desk knob\n# repeat_delay_ms: 250\n# repeat_period_ms: 33\ntime_s,control,event\n0,wheel,1\n") ||
		strings.Count(text, ",wheel,1\n") != detents || strings.Contains(text, "key") {
		t.Error(text)
	}
	if origin := r.source.(*dump).origin; origin < from.Nano()-1e6 || origin > till.Nano() {
		t.Errorf("the first event is at %d of a clock that went from %d to %d", origin, from.Nano(), till.Nano())
	}
}

// A reader that is late gets the kernel's word that events were lost, and then
// goes on.
func TestEventsThatARealDeviceLosesAreMarked(t *testing.T) {
	u, node := virtual(t)
	r, err := OpenDevice(node)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for range 10_000 { // more than the kernel keeps
		send(t, u, inputEventRecord{typ: evRel, code: relDial, value: 1})
	}
	send(t, u, inputEventRecord{typ: evKey, code: 288, value: 1})
	lost, counts := 0, int64(0)
	for {
		e, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case e.Kind == Dropped:
			lost++
		case e.Control == "dial":
			counts += e.N
		case e.Control == "btn288":
			if lost == 0 || counts >= 10_000 {
				t.Errorf("lost %d times, counted %d of 10,000", lost, counts)
			}
			return
		}
	}
}

// Pulled out, a device ends its recording with an error.
func TestADeviceThatGoesAwayEndsTheRecording(t *testing.T) {
	u, node := virtual(t)
	r, err := OpenDevice(node)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	send(t, u, inputEventRecord{typ: evRel, code: relDial, value: 1})
	if e, err := r.Next(); err != nil || e.Control != "dial" || e.N != 1 {
		t.Fatalf("%+v, %v", e, err)
	}
	go func() {
		time.Sleep(50 * time.Millisecond)
		u.Close()
	}()
	if _, err := r.Next(); !errors.Is(err, unix.ENODEV) {
		t.Errorf("%v", err)
	}
}
