package recording_test

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"

	"dialwright/encoder/recording"
)

// endless makes a file of a size that nobody holds: head once, then what each
// gives, over and over.
type endless struct {
	head string
	each func(b []byte, i int) []byte
	size int
	i    int
	rest []byte
	buf  []byte
}

func (e *endless) Read(p []byte) (int, error) {
	if e.i == 0 && e.head != "" {
		e.rest, e.head = []byte(e.head), ""
	}
	for len(e.rest) == 0 {
		if e.size <= 0 {
			return 0, io.EOF
		}
		e.buf = e.each(e.buf[:0], e.i)
		e.i++
		e.rest = e.buf
	}
	n := copy(p, e.rest)
	e.rest, e.size = e.rest[n:], e.size-n
	return n, nil
}

// Whatever a file is full of, reading it to the end, faults and all, holds a few
// megabytes at most.
func TestNoFileFillsTheMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 100 MB")
	}
	noise := make([]byte, 1<<16)
	chacha := rand.NewChaCha8([32]byte{})
	chacha.Read(noise)
	hex := func(i, n int) string {
		return fmt.Sprintf("%x", noise[i*17%(len(noise)-n):][:n])
	}
	long := strings.Repeat("x", 80)
	for name, e := range map[string]*endless{
		"a new control a line": {head: "time_s,control,event\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "%d,%s%d,1\n", i, long, i)
		}},
		"a new control a line of JSON": {head: `{"t_ms":0,"control":"a","event":1}` + "\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"t_ms":%d,"control":"%s%d","units":7}`+"\n", i, long, i)
		}},
		"reports of noise": {head: `{"t_ms":0,"report":1,"data":"00"}` + "\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"t_ms":%d,"report":%d,"data":"%s"}`+"\n", i, i, hex(i, 1024))
		}},
		"reports of noise, all numbers": {head: `{"t_ms":0,"report":1,"data":"00"}` + "\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"t_ms":%d,"report":%d,"data":"%s"}`+"\n", i, i%256, hex(i, 1024))
		}},
		"pads": {head: `{"t_ms":0,"buttons":[0]}` + "\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"t_ms":%d,"pad":%d,"buttons":[%s0]}`+"\n", i, i%40, strings.Repeat(fmt.Sprint(i/40%2)+",", 500))
		}},
		"fields": {head: `{"t_ms":0,"buttons":[0]}` + "\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"fields":[{"report":1,"at":%d,"bits":8,"control":"%s%d"}]}`+"\n", i%1000, long, i)
		}},
		"brackets": {head: `{"t_ms":0,"buttons":[0]}` + "\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, `{"x":%s`+"\n", strings.Repeat("[", 60_000))
		}},
		"devices": {head: libinputHead, each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "- node: /dev/input/%s%d\n  events:\n  - evdev:\n    - [0, %d, 1, %d, 1]\n", long[:30], i, i%1e6, 1+i%700)
		}},
		"one endless report": {head: "# EVEMU 1.3\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "E: %d.0 0001 %04x 0001\n", i, i%0x300)
		}},
		"one endless line": {head: "time_s,control,event\n0,a,1\n", each: func(b []byte, i int) []byte {
			return append(b, long...)
		}},
		"one endless comment": {head: "#", each: func(b []byte, i int) []byte {
			return append(b, long...)
		}},
		"comments": {head: "time_s,control,event\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "# device: %s%d\n# partial: %d\n", long, i, i)
		}},
		"lost again and again": {each: func(b []byte, i int) []byte {
			return append(b, dump([]rec{{int64(i), 0, 3, 0}}, 24)...)
		}},
		"records without reports": {each: func(b []byte, i int) []byte {
			return append(b, dump([]rec{{int64(i), 1, uint16(i % 0x300), 1}}, 16)...)
		}},
		"records that step back": {each: func(b []byte, i int) []byte {
			return append(b, dump([]rec{{int64(1e9 - i), 1, 288, 1}}, 24)...)
		}},
		"noise behind records": {head: dump([]rec{{0, 1, 288, 1}, {0, 0, 0, 0}, {0, 1, 288, 0}}, 24), each: func(b []byte, i int) []byte {
			return append(b, noise[i%1000:i%1000+24*50]...)
		}},
		"a joystick of all buttons": {each: func(b []byte, i int) []byte {
			return append(b, jsDump([4]int64{int64(i), int64(i & 1), 1, int64(i / 2 % 256)})...)
		}},
		"levels": {head: "time_us,a,b,push\n", each: func(b []byte, i int) []byte {
			return fmt.Appendf(b, "%d,%d,%d,%d\n", i, i&1, i>>1&1, i&3)
		}},
		"wide text": {head: "\xff\xfe", each: func(b []byte, i int) []byte {
			return append(b, utf16(fmt.Sprintf("%d,1,0\n", i), binary.LittleEndian, false)...)
		}},
	} {
		e.size = 6 << 20
		var before, now runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		most := uint64(0)
		r, err := recording.NewReader(e, "hostile")
		for calls := 1; err == nil || errors.As(err, new(*recording.Fault)); calls++ {
			if r == nil {
				break // refused at once
			}
			if calls%20_000 == 0 {
				runtime.GC()
				runtime.ReadMemStats(&now)
				most = max(most, now.HeapInuse-min(before.HeapInuse, now.HeapInuse))
			}
			_, err = r.Next()
		}
		runtime.GC()
		runtime.ReadMemStats(&now)
		most = max(most, now.HeapInuse-min(before.HeapInuse, now.HeapInuse))
		t.Logf("%-32s %6d KB", name, most>>10)
		if most > 4<<20 {
			t.Errorf("%s: %d KB held", name, most>>10)
		}
		runtime.KeepAlive(r)
	}
}
