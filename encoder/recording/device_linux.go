//go:build 386 || amd64 || arm || arm64 || loong64 || riscv64 || s390x

package recording

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Requests of event devices (linux/input.h), as _IOC of asm-generic/ioctl.h makes
// them; other processors, which number them otherwise, are left to device_other.go.
const (
	ioRead  = 2
	ioWrite = 1
)

func request(direction, number, size uintptr) uintptr {
	return direction<<30 | size<<16 | 'E'<<8 | number
}

var (
	eviocgrep     = request(ioRead, 0x03, 8)
	eviocsclockid = request(ioWrite, 0xa0, 4)
)

func eviocgname(size uintptr) uintptr            { return request(ioRead, 0x06, size) }
func eviocgbit(typ uint16, size uintptr) uintptr { return request(ioRead, 0x20+uintptr(typ), size) }

// ask makes a request of a device; b is what it reads or fills in.
func ask(f *os.File, req uintptr, b []byte) (err error) {
	c, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var errno unix.Errno
	err = c.Control(func(fd uintptr) {
		_, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, req, uintptr(unsafe.Pointer(&b[0])))
	})
	if err == nil && errno != 0 {
		err = errno
	}
	return err
}

// recordSize is the size of struct input_event on this system.
const recordSize = 8 + 2*unsafe.Sizeof(uintptr(0))

// Devices lists the event devices of this system, those that cannot be opened too.
func Devices() ([]Listed, error) { return devicesIn("/dev/input") }

func devicesIn(dir string) ([]Listed, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "event*"))
	if err != nil {
		return nil, fmt.Errorf("recording: %w", err)
	}
	if len(paths) == 0 {
		return nil, fmt.Errorf("recording: found no event devices in %s; a system with its input devices there would do "+
			"(containers often have none)", dir)
	}
	slices.SortFunc(paths, func(a, b string) int {
		return cmp.Or(len(a)-len(b), cmp.Compare(a, b)) // event9 before event10
	})
	var all []Listed
	for _, p := range paths {
		l := Listed{Path: p}
		if f, err := openEvent(p, &l); err != nil {
			l.Err = err
		} else {
			f.Close()
		}
		all = append(all, l)
	}
	return all, nil
}

// openEvent opens an event device and reads its name, abilities and key repeat.
func openEvent(path string, l *Listed) (*os.File, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrPermission) {
		return nil, fmt.Errorf("recording: %w; reading it as root, or as a member of the group that owns it (most often \"input\": "+
			"sudo usermod -aG input $USER, then log in again) would do", err)
	}
	if err != nil {
		return nil, fmt.Errorf("recording: %w", err)
	}
	name := make([]byte, 256)
	if err := ask(f, eviocgname(uintptr(len(name))), name); err != nil {
		f.Close()
		return nil, fmt.Errorf("recording: %s: found no event device (%w); one of /dev/input/event* would do", path, err)
	}
	name, _, _ = bytes.Cut(name, []byte{0})
	if l.Name = string(name); !printable(l.Name) {
		l.Name = quote(l.Name)
	}
	for typ, most := range map[uint16]int{evKey: keyMax, evRel: relMax, evAbs: absMax} {
		bits := make([]byte, most/8+1)
		if ask(f, eviocgbit(typ, uintptr(len(bits))), bits) == nil { // a device without the type has no bits
			l.abilities(typ, bits)
		}
	}
	slices.Sort(l.Turns)
	var repeat [2]uint32 // ms: delay, period; a device without key repeat refuses
	if ask(f, eviocgrep, unsafe.Slice((*byte)(unsafe.Pointer(&repeat)), 8)) == nil {
		l.RepeatDelay, l.RepeatPeriod = int64(repeat[0])*1e6, int64(repeat[1])*1e6
	}
	return f, nil
}

// OpenDevice opens an event device for a capture, with times of the monotonic
// clock. The caller closes it, which also ends a read that waits.
func OpenDevice(path string) (*Reader, error) {
	var l Listed
	f, err := openEvent(path, &l)
	if err != nil {
		return nil, err
	}
	clock := int32(unix.CLOCK_MONOTONIC)
	if err := ask(f, eviocsclockid, unsafe.Slice((*byte)(unsafe.Pointer(&clock)), 4)); err != nil {
		f.Close()
		return nil, fmt.Errorf("recording: %s: setting its clock: %w", path, err)
	}
	r := NewLive(f, path, int(recordSize))
	r.Device, r.closer = l.Device, f
	return r, nil
}
