// Package recording reads what a real knob did.
//
// Between a knob and a program there are a few places where one can listen: at
// the two contacts (a logic analyser, or a microcontroller that prints them), at
// the event device of a Linux system (what the firmware sent and the USB poll
// carried), and in a browser page that looks at buttons or raw reports. Each of
// them writes files of its own. Here all become one stream of events: when,
// which control, and whether it was pressed, released, or moved by a signed
// count. A control is one thing that a report carries: a button, a key, a wheel,
// an axis, a contact.
//
// A recording may be hours long, so nothing here holds a file in memory: Reader
// gives one event after the other. What kind of file it is, is found by looking
// at it ([Format] lists the kinds with their fields), never asked. Text may be
// UTF-8 or UTF-16 with or without a byte-order mark, with LF or CRLF; numbers may
// have a decimal comma where fields are separated by semicolons or tabs. A fault
// names the file, the place, what was found and what would do ([Fault]), and
// reading goes on after it.
//
// # Controls
//
// Linux event codes are named by their number: "btn288" (EV_KEY codes of buttons:
// 0x100–0x15f and from 0x2c0 on), "key30" (all other EV_KEY codes), "rel0" and
// "abs3"; the wheels are "wheel", "hwheel" and "dial". The older joystick devices
// and browser pages number buttons and axes from 0: "button0", "axis2". Contacts
// are "a" and "b", and "push" where a trace has a third. An absolute axis is read
// as signed counts, the change of its position in its own units, so its first
// position is no event.
//
// One detent of a high-resolution wheel is 120 units (REL_WHEEL_HI_RES, and
// WM_MOUSEWHEEL of another system). Units add up, whole detents become counts and
// the remainder stays for the next report: 120·counts + remainder is the sum of
// all units, always. The low-resolution count that the kernel sends beside the
// units of a report is left out.
//
// # What is left out
//
// Pointer positions of touch devices, lights, sounds and scan codes are skipped.
// A recorder that hides key codes (libinput's does unless told otherwise) cannot
// be undone here. Drift of the recorder's clock is not corrected.
package recording

import "fmt"

// Event is one thing that a control did.
type Event struct {
	Time    int64  // ns from the start of the recording, not decreasing (but see Format, Libinput)
	Control string // see the package comment; for a Mark its label; empty when Dropped
	Kind    Kind
	N       int64 // Count: the signed count; Level: 0 or 1; otherwise 0
}

// Kind says what a control did.
type Kind uint8

const (
	Count   Kind = iota // moved by N counts
	Press               // went down
	Release             // went up
	Repeat              // was reported again by the system's key repeat while down
	Level               // a contact reads N (0 or 1) from here on
	Dropped             // the recorder lost events here
	Mark                // a step of a guided session begins; Control is its label
)

var words = [...]string{Count: "count", Press: "press", Release: "release", Repeat: "repeat",
	Level: "level", Dropped: "dropped", Mark: "mark"}

func (k Kind) String() string {
	if int(k) < len(words) {
		return words[k]
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// Format is a kind of file that can be read.
//
//   - Native is CSV with the header time_s,control,event: seconds from the start;
//     a control; press, release, or a signed count. Beside these three words, which
//     are all that a person needs to write by hand, what [Writer] writes may
//     contain repeat, high, low, dropped and mark (see [Kind]). Lines that begin
//     with # are notes; "# device:", "# repeat_delay_ms:" and "# repeat_period_ms:"
//     fill [Device].
//   - Contacts is CSV of contact levels: a time, the levels of a and b (0 or 1),
//     and of a push contact if there is a third. The header may be missing. Columns
//     named a, b and push may stand in any order, others are taken in that order.
//     The unit of the time is the one in its header (time_s, time_ms, time_us,
//     time_ns, "Time [s]" and the like); without one, times with a fraction or an
//     exponent among the first 64 KB are seconds, and whole numbers only are
//     microseconds. A 32-bit count of microseconds may wrap around.
//   - Evemu is the plain text of evemu recordings: E: seconds.microseconds, type
//     and code in hexadecimal, value.
//   - Libinput is the YAML of libinput's recorder, in the layout that this recorder
//     writes. A file of several devices has one after the other, so that time goes
//     back where one begins; from the second on, controls carry the device node:
//     "event7/wheel". Times are those of the file, which count from the first event
//     of any of its devices.
//   - InputEvent64 and InputEvent32 are what reading a Linux event device gives:
//     records of 24 bytes (64-bit systems) or 16 bytes (32-bit), little-endian.
//   - Joystick is what reading a Linux joystick device gives: records of 8 bytes,
//     with times in milliseconds.
//   - JSONLines is one JSON object a line, for a browser page to write; ours. Every
//     line has t_ms, a number of milliseconds, and one of these; other keys are
//     ignored:
//     buttons, an array of 0 and 1 (or false and true), all buttons of a gamepad at
//     that time, and pad, its number, if there are several: the buttons of a further pad
//     are "pad1/button0". The first sample of a pad says what was down at the start and
//     is no event.
//     data, the bytes of a HID input report as an array of numbers or as hexadecimal
//     digits, and report, its number (0 without one). Each bit is a control,
//     "report1.bit12", and is up before the first report.
//     control and event, as in the native CSV; or control and units, 120 a detent.
//     A line without t_ms may say which bits of a report are signed numbers:
//     {"fields":[{"report":1,"at":8,"bits":8,"per_detent":1,"control":"dial"}]}.
type Format uint8

const (
	Native Format = iota
	Contacts
	Evemu
	Libinput
	InputEvent64
	InputEvent32
	Joystick
	JSONLines
)

// Device is what a recording says about the device that it was made from.
type Device struct {
	Name         string // empty if unknown
	RepeatDelay  int64  // key repeat of the device: time from the press to the first repeat, ns; 0 if unknown
	RepeatPeriod int64  // and from one repeat to the next, ns
}

// maxControls bounds what a wrong or hostile file can make a Reader remember.
const maxControls = 4096

// controls holds each control's name once, however often a file repeats it.
type controls map[string]string

// name returns the one copy of a name. It is refused when it is empty, longer
// than 100 bytes, or has characters that a terminal would act upon.
func (c controls) name(b []byte) (string, *Fault) {
	if s, ok := c[string(b)]; ok {
		return s, nil
	}
	s := string(b)
	if !printable(s) || s == "" || len(s) > 100 {
		return "", &Fault{Field: "control", Found: quote(s), Want: "a name of 1 to 100 bytes of printable characters would do"}
	}
	if len(c) >= maxControls {
		return "", &Fault{Field: "control", Found: quote(s) + fmt.Sprintf(" after %d others", maxControls), Want: "fewer different controls would do"}
	}
	c[s] = s
	return s, nil
}
