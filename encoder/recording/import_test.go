package recording_test

import (
	"errors"
	"io"
	"slices"
	"strings"
	"testing"

	"dialwright/encoder/recording"

	"pgregory.net/rapid"
)

// A rotary output of two buttons, a wheel without units, an axis.
var desk = []rec{
	{5_000_000, 4, 4, 589825}, {5_000_000, 1, 288, 1}, {5_000_000, 0, 0, 0},
	{5_030_000, 1, 288, 0}, {5_030_000, 2, 8, -2}, {5_030_001, 0, 0, 0},
	{5_500_000, 1, 30, 1}, {5_500_000, 0, 0, 0},
	{5_750_000, 1, 30, 2}, {5_750_000, 0, 0, 0},
	{5_783_000, 1, 30, 2}, {5_783_000, 0, 0, 0},
	{5_790_000, 1, 30, 0}, {5_790_000, 3, 2, 512}, {5_790_000, 0, 0, 0},
	{5_798_000, 3, 2, 515}, {5_798_000, 2, 7, 1}, {5_798_000, 2, 6, 1}, {5_798_000, 0, 0, 0},
}

var deskEvents = []recording.Event{
	{Time: 0, Control: "btn288", Kind: recording.Press},
	{Time: 30e6, Control: "btn288", Kind: recording.Release},
	{Time: 30e6, Control: "wheel", N: -2},
	{Time: 500e6, Control: "key30", Kind: recording.Press},
	{Time: 750e6, Control: "key30", Kind: recording.Repeat},
	{Time: 783e6, Control: "key30", Kind: recording.Repeat},
	{Time: 790e6, Control: "key30", Kind: recording.Release},
	{Time: 798e6, Control: "abs2", N: 3},
	{Time: 798e6, Control: "dial", N: 1},
	{Time: 798e6, Control: "hwheel", N: 1},
}

// fromZero counts times from the first record, as libinput's recorder does.
func fromZero(recs []rec) []rec {
	recs = slices.Clone(recs)
	for i, first := 0, recs[0].us; i < len(recs); i++ {
		recs[i].us -= first
	}
	return recs
}

func everyForm(recs []rec) map[recording.Format]string {
	return map[recording.Format]string{
		recording.Evemu:        evemuText(recs),
		recording.Libinput:     libinputHead + libinputDevice("/dev/input/event7", fromZero(recs)),
		recording.InputEvent64: dump(recs, 24),
		recording.InputEvent32: dump(recs, 16),
	}
}

// Source B15: linux/input.h, input-event-codes.h: 24 bytes on 64-bit Linux; codes
// 7 dial, 8 wheel, 11 high resolution.
func TestEventDevicesAreReadInEveryForm(t *testing.T) {
	for form, text := range everyForm(desk) {
		got, r := read(t, text)
		if r.Format != form || !slices.Equal(got, deskEvents) {
			t.Errorf("%v: %v\n%v", form, r.Format, got)
		}
		if (form == recording.Evemu || form == recording.Libinput) && r.Device.Name != "Quillmoor desk knob" {
			t.Errorf("%v: device %q", form, r.Device.Name)
		}
	}
	if n := len(dump(desk[:1], 24)); n != 24 {
		t.Errorf("a record of the fixture has %d bytes", n)
	}
}

func TestTheSameRecordsAreTheSameEventsInEveryForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		recs := anyRecords(t)
		var first []recording.Event
		for i, form := range []recording.Format{recording.Evemu, recording.Libinput, recording.InputEvent64, recording.InputEvent32} {
			r, err := recording.NewReader(strings.NewReader(everyForm(recs)[form]), "fixture")
			if err != nil {
				t.Fatal(err)
			}
			got, err := r.All()
			if err != nil || r.Format != form {
				t.Fatal(r.Format, err)
			}
			if i == 0 {
				first = got
			} else if !slices.Equal(got, first) {
				t.Fatalf("%v: %v\nbut %v", form, got, first)
			}
		}
	})
}

// Source B14: REL_WHEEL_HI_RES documentation: one detent is 120 units; the kernel
// sends REL_WHEEL beside it.
func TestUnitsKeepTheirRemainder(t *testing.T) {
	report := func(us int64, units, notches int32, unitsFirst bool) []rec {
		hi, lo := rec{us, 2, 11, units}, rec{us, 2, 8, notches}
		end := rec{us, 0, 0, 0}
		switch {
		case notches == 0:
			return []rec{hi, end}
		case unitsFirst:
			return []rec{hi, lo, end}
		}
		return []rec{lo, hi, end}
	}
	for _, unitsFirst := range []bool{true, false} {
		recs := slices.Concat(
			report(1, 120, 1, unitsFirst), // a whole detent: 1, not 2
			report(2, 60, 0, unitsFirst),  // half
			report(3, 60, 1, unitsFirst),  // and half
			report(4, 50, 1, unitsFirst),  // the kernel counts ahead, the units do not
			report(5, -50, -1, unitsFirst),
			report(6, -300, -2, unitsFirst), // two and a half back
			report(7, -59, 0, unitsFirst),
			report(8, -1, -1, unitsFirst),
		)
		want := []recording.Event{
			{Time: 0, Control: "wheel", N: 1},
			{Time: 2000, Control: "wheel", N: 1},
			{Time: 5000, Control: "wheel", N: -2},
			{Time: 7000, Control: "wheel", N: -1},
		}
		if got, _ := read(t, dump(recs, 24)); !slices.Equal(got, want) {
			t.Errorf("units first %v: %v", unitsFirst, got)
		}
	}
}

func TestCountsAndRemainderAreAllUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.SliceOfN(rapid.Int32Range(-500, 500), 1, 50).Draw(t, "units")
		var recs []rec
		var sum, counts int64
		for i, u := range units {
			sum += int64(u)
			recs = append(recs, rec{int64(i), 2, 11, u}, rec{int64(i), 2, 8, u / 120}, rec{int64(i), 0, 0, 0})
		}
		r, err := recording.NewReader(strings.NewReader(dump(recs, 24)), "fixture")
		if err != nil {
			t.Fatal(err)
		}
		all, err := r.All()
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range all {
			counts += e.N
		}
		if rest := sum - 120*counts; rest <= -120 || rest >= 120 {
			t.Fatalf("%d units gave %d counts", sum, counts)
		}
	})
}

func TestLostEventsAreMarkedAndTheBrokenReportIsLeftOut(t *testing.T) {
	recs := []rec{
		{0, 2, 11, 60}, {0, 0, 0, 0},
		{10, 2, 7, 1}, {10, 0, 3, 0}, {11, 2, 7, 5}, {11, 0, 0, 0}, // the kernel's words: ignore all up to and with the next SYN_REPORT
		{20, 2, 11, 60}, {20, 0, 0, 0}, // the half detent from before is not known any more
		{30, 2, 7, 2}, {30, 0, 0, 0},
	}
	want := []recording.Event{
		{Time: 10_000, Control: "dial", N: 1},
		{Time: 10_000, Kind: recording.Dropped},
		{Time: 30_000, Control: "dial", N: 2},
	}
	if got, _ := read(t, dump(recs, 24)); !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
}

func TestDumpsWithoutReportsAreReadToTheEnd(t *testing.T) {
	var recs []rec
	for i := range 1000 {
		recs = append(recs, rec{int64(i) * 1000, 2, 8, 1})
	}
	for form, text := range everyForm(recs) {
		if got, _ := read(t, text); len(got) != 1000 {
			t.Errorf("%v: %d events", form, len(got))
		}
	}
}

func TestFurtherDevicesOfALibinputRecordingCarryTheirNode(t *testing.T) {
	recs := fromZero(desk)
	text := libinputHead + libinputDevice("/dev/input/event7", recs[3:6]) + libinputDevice("/dev/input/event9", recs[:6]) + libinputDevice("", recs[6:8])
	got, r := read(t, text)
	want := []recording.Event{
		{Time: 30e6, Control: "btn288", Kind: recording.Release},
		{Time: 30e6, Control: "wheel", N: -2},
		{Time: 0, Control: "event9/btn288", Kind: recording.Press},
		{Time: 30e6, Control: "event9/btn288", Kind: recording.Release},
		{Time: 30e6, Control: "event9/wheel", N: -2},
		{Time: 500e6, Control: "device3/key30", Kind: recording.Press},
	}
	if !slices.Equal(got, want) || r.Device.Name != "Quillmoor desk knob" {
		t.Errorf("%v\n%+v", got, r.Device)
	}
}

func TestFaultsOfDeviceRecordingsNameThePlace(t *testing.T) {
	good := dump(desk, 24)
	wrong := []byte(good)
	wrong[24*10+16] = 0x77 // type of the eleventh record
	for _, c := range []struct{ name, content, want string }{
		{"cut dump", good[:24*5+13], "knob.rec: byte 120: found 13 bytes, and there the file is cut off; records of 24 bytes would do"},
		{"type", string(wrong), "knob.rec: byte 240: type: found 119; a type that event devices have, 1 to 5 most often, would do"},
		{"back", dump(append(slices.Clone(desk), rec{1, 0, 0, 0}), 24),
			"knob.rec: byte 456: time: found a step back by 5.797999 s; a recording by the monotonic clock, without steps of the clock, would do"},
		{"joystick", jsDump([4]int64{1, 1, 1, 0}, [4]int64{2, 1, 1, 1}, [4]int64{3, 0, 1, 0}, [4]int64{4, 0, 7, 0}, [4]int64{2, 0, 1, 1})[:36],
			"knob.rec: byte 24: type: found 7; 1 (button) or 2 (axis) would do\n" +
				"knob.rec: byte 32: found 4 bytes, and there the file is cut off; records of 8 bytes would do"},
		{"joystick time", jsDump([4]int64{9, 1, 1, 0}, [4]int64{9, 1, 1, 1}, [4]int64{9, 0, 1, 0}, [4]int64{2, 0, 1, 1}),
			"knob.rec: byte 24: time: found 2 ms after 9 ms; records in the order of time would do"},
		{"evemu", "# EVEMU 1.3\nE: 1.0 0002 0008 1\nE: 1.x 0002 0008 1\nE: 1.0 zz 0008 1\nE: 1.0 0002 0008 1.5\nE: 1.0 0002 00ff 1\nX\nE: 1.0 0002 00",
			"knob.rec:3:4: time: found \"1.x\"; seconds.microseconds would do\n" +
				"knob.rec:4:8: type and code: found \"zz 0008 \"; two hexadecimal numbers such as 0002 0008 would do\n" +
				"knob.rec:5:18: value: found \"1.5\"; a whole number of 32 bits would do\n" +
				"knob.rec:6:8: code: found 255 of type 2; a code up to 15 would do\n" +
				"knob.rec:7:1: found \"X\"; a line that begins with E:, N:, I:, P:, B:, A:, L:, S: or # would do\n" +
				"knob.rec:8:15: value: found \"\", and there the file is cut off; a whole number of 32 bits would do"},
		{"evemu of the future", "# EVEMU 2.0\n", "knob.rec:1:9: version: found \"2.0\"; format 1 would do"},
		{"libinput", "version: 2\ndevices:\n- node: x\n  events:\n  - evdev:\n    - [0, 0, 2, 8, 1]\n    - [0, 0, 2, 8]\n    - 7\n    - [0, 1000000, 2, 8, 1]\n    - [0, 9, 0, 0, 0]\n    - [0, 8, 0, 0, 0]\n    - [0, 9, 2,",
			"knob.rec:1:9: version: found \"2\"; version 1 would do\n" +
				"knob.rec:7:17: evdev: found \"8]\"; [seconds, microseconds, type, code, value] would do\n" +
				"knob.rec:8:5: evdev: found \"- 7\"; - [seconds, microseconds, type, code, value] would do\n" +
				"knob.rec:9: evdev: found \"    - [0, 1000000, 2, 8, 1]\"; numbers as an event device sends them would do\n" +
				"knob.rec:11: time: found a step back by 0.000001 s; a recording by the monotonic clock, without steps of the clock, would do\n" +
				"knob.rec:12:16: evdev: found \"\", and there the file is cut off; [seconds, microseconds, type, code, value] would do"},
		{"libinput in a flow", "version: 1\ndevices:\n- node: x\n  events:\n  - evdev: [[0, 0, 2, 8, 1]]\n",
			"knob.rec:5:3: evdev: found \"[[0, 0, 2, 8, 1]]\"; one [seconds, microseconds, type, code, value] a line, as the recorder writes it, would do"},
	} {
		_, err := faulty(t, strings.NewReader(c.content))
		if err == nil || err.Error() != c.want {
			t.Errorf("%s:\n%v\nwant\n%s", c.name, err, c.want)
		}
		if strings.Contains(c.want, "cut off") != errors.Is(err, io.ErrUnexpectedEOF) {
			t.Errorf("%s: the cut and io.ErrUnexpectedEOF disagree", c.name)
		}
	}
}

func TestJoystickDumps(t *testing.T) {
	text := jsDump(
		[4]int64{0xfffffff0, 0, 0x81, 0}, [4]int64{0xfffffff0, 1, 0x81, 1}, [4]int64{0xfffffff0, 100, 0x82, 0}, // how things stood
		[4]int64{0xfffffff8, 1, 1, 0},
		[4]int64{0x00000008, 0, 1, 0}, // the clock wrapped around
		[4]int64{0x00000010, 93, 2, 0}, [4]int64{0x00000010, 5, 2, 1}, [4]int64{0x00000018, -2, 2, 1},
	)
	want := []recording.Event{
		{Time: 8e6, Control: "button0", Kind: recording.Press},
		{Time: 24e6, Control: "button0", Kind: recording.Release},
		{Time: 32e6, Control: "axis0", N: -7},
		{Time: 40e6, Control: "axis1", N: -7},
	}
	got, r := read(t, text)
	if r.Format != recording.Joystick || !slices.Equal(got, want) {
		t.Errorf("%v %v", r.Format, got)
	}
}

func TestContactTraces(t *testing.T) {
	level := func(t int64, control string, n int64) recording.Event {
		return recording.Event{Time: t, Control: control, Kind: recording.Level, N: n}
	}
	want := []recording.Event{level(0, "a", 0), level(0, "b", 0), level(1_000_000, "a", 1), level(1_250_000, "b", 1), level(1_250_000, "a", 0)}
	slices.SortStableFunc(want[3:], func(x, y recording.Event) int { return strings.Compare(x.Control, y.Control) })
	for name, text := range map[string]string{
		"seconds by header":      "time_s,a,b\n2,0,0\n2.001,1,0\n2.00125,0,1\n",
		"seconds by values":      "time,a,b\n0,0,0\n0.001,1,0\n0.00125,0,1\n",
		"seconds by exponent":    "Time,Channel 0,Channel 1\n0,0,0\n1e-3,1,0\n1.25e-3,0,1\n",
		"before the trigger":     "Time [s],A,B\n-0.001,0,0\n0.000,1,0\n0.00025,0,1\n",
		"microseconds by header": "time_us,a,b\n7,0,0\n1007,1,0\n1257,0,1\n",
		"microseconds by values": "time,a,b\n7,0,0\n1007,1,0\n1257,0,1\n",
		"no header":              "7,0,0\n1007,1,0\n1257,0,1\n",
		"counter wraps":          "4294967000,0,0\n704,1,0\n954,0,1\n",
		"milliseconds":           "t (ms);a;b\n0;0;0\n1,0;1;0\n1,25;0;1\n",
		"nanoseconds":            "time_ns\ta\tb\n5\t0\t0\n1000005\t1\t0\n1250005\t0\t1\n",
		"decimal comma":          "time;a;b\n0;0;0\n0,001;1;0\n0,00125;0;1\n",
		"other order":            "time_us,b,a\n7,0,0\n1007,0,1\n1257,1,0\n",
		"sampled":                "7,0,0\n500,0,0\n1007,1,0\n1100,1,0\n1257,0,1\n1300,0,1\n",
	} {
		got, r := read(t, text)
		if r.Format != recording.Contacts || !slices.Equal(got, want) {
			t.Errorf("%s: %v %v", name, r.Format, got)
		}
	}
	got, _ := read(t, "time_us,x,push,y\n0,0,1,0\n5,1,0,0\n")
	if !slices.Equal(got, []recording.Event{level(0, "a", 0), level(0, "b", 0), level(0, "push", 1), level(5000, "a", 1), level(5000, "push", 0)}) {
		t.Errorf("with a push: %v", got)
	}
	_, err := faulty(t, strings.NewReader("time_days,a,b\n0,0,0\n1,2,0\n1,1\nx,1,1\n5,1,1\n4,1,1\n"))
	if want := `knob.rec:1:1: time: found the unit "days"; time_s, time_ms, time_us or time_ns would do
knob.rec:3:3: a: found "2"; 0 or 1 would do
knob.rec:4: found "1,1"; a time and one 0 or 1 for each contact, as in the first line, would do
knob.rec:5:1: time: found "x"; a number would do
knob.rec:7:1: time: found "4", which is earlier than the line before; lines in the order of time would do`; err == nil || err.Error() != want {
		t.Errorf("%v", err)
	}
}

func TestJSONLinesOfButtonSamples(t *testing.T) {
	got, r := read(t, `{"t_ms":1000.5,"buttons":[0,1,0],"axes":[0.1,-0.5],"id":"desk \"knob\""}
{"t_ms":1016.5,"buttons":[1,1,0]}
{"t_ms":1032.5,"buttons":[false,false,0.75]}

# a note
{"buttons":[0,0,0,1],"t_ms":1.0485e3,"more":{"nested":[1,{"x":null}]}}
`)
	want := []recording.Event{
		{Time: 16e6, Control: "button0", Kind: recording.Press},
		{Time: 32e6, Control: "button0", Kind: recording.Release},
		{Time: 32e6, Control: "button1", Kind: recording.Release},
		{Time: 32e6, Control: "button2", Kind: recording.Press},
		{Time: 48e6, Control: "button2", Kind: recording.Release},
		{Time: 48e6, Control: "button3", Kind: recording.Press},
	}
	if r.Format != recording.JSONLines || !slices.Equal(got, want) {
		t.Errorf("%v %v", r.Format, got)
	}
}

func TestButtonsOfAFurtherPadCarryItsNumber(t *testing.T) {
	got, _ := read(t, `{"t_ms":0,"pad":2,"buttons":[0]}
{"t_ms":1,"pad":2,"buttons":[1]}
{"t_ms":2,"pad":0,"buttons":[0]}
{"t_ms":3,"pad":0,"buttons":[1]}
{"t_ms":4,"pad":2,"buttons":[0]}
`)
	want := []recording.Event{
		{Time: 1e6, Control: "button0", Kind: recording.Press},
		{Time: 3e6, Control: "pad0/button0", Kind: recording.Press},
		{Time: 4e6, Control: "button0", Kind: recording.Release},
	}
	if !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
}

func TestJSONLinesOfReports(t *testing.T) {
	got, _ := read(t, `{"fields":[{"report":1,"at":8,"bits":8,"control":"dial"},{"report":1,"at":16,"bits":16,"per_detent":120,"control":"wheel"}]}
{"t_ms":0,"report":1,"data":[1,0,0,0]}
{"t_ms":8,"report":1,"data":[0,255,60,0]}
{"t_ms":16,"report":1,"data":"00 02 3C 00"}
{"t_ms":24,"report":2,"data":"80"}
{"t_ms":32,"data":[4]}
`)
	want := []recording.Event{
		{Time: 0, Control: "report1.bit0", Kind: recording.Press},
		{Time: 8e6, Control: "dial", N: -1},
		{Time: 8e6, Control: "report1.bit0", Kind: recording.Release},
		{Time: 16e6, Control: "dial", N: 2},
		{Time: 16e6, Control: "wheel", N: 1},
		{Time: 24e6, Control: "report2.bit7", Kind: recording.Press},
		{Time: 32e6, Control: "report0.bit2", Kind: recording.Press},
	}
	if !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
}

func TestJSONLinesOfEvents(t *testing.T) {
	got, _ := read(t, `{"t_ms":5,"control":"F13","event":"press"}
{"t_ms":255,"control":"F13","event":"repeat"}
{"t_ms":260,"control":"F13","event":"release"}
{"t_ms":270,"control":"kn\u006fb","event":-3}
{"t_ms":280,"control":"wheel","units":-180}
{"t_ms":290,"control":"wheel","units":-60}
`)
	want := []recording.Event{
		{Time: 0, Control: "F13", Kind: recording.Press},
		{Time: 250e6, Control: "F13", Kind: recording.Repeat},
		{Time: 255e6, Control: "F13", Kind: recording.Release},
		{Time: 265e6, Control: "knob", N: -3},
		{Time: 275e6, Control: "wheel", N: -1},
		{Time: 285e6, Control: "wheel", N: -1},
	}
	if !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
}

func TestFaultsOfJSONLinesNameThePlace(t *testing.T) {
	_, err := faulty(t, strings.NewReader(`{"t_ms":1,"control":"x","event":1}
{"t_ms":"soon","control":"x","event":1}
{"t_ms":2,"control":"x","event":"jump"}
{"t_ms":3}
{"control":"x","event":1}
{"t_ms":0,"control":"x","event":1}
{"t_ms":4,"buttons":[0,2]}
{"t_ms":5,"data":[256]}
{"t_ms":6,"data":"0"}
{"t_ms":7,"control":"","event":1}
{"t_ms":8,"control":"x","event":1} and more
{"fields":[{"bits":99,"control":"x"}]}
{"t_ms":9,"control":"x","eve`))
	want := `knob.rec:2:9: found "\"soon\",\"control\":\"x\",\"event\":1}"; a number would do
knob.rec:3:33: event: found "jump"; press, release or a signed whole number would do
knob.rec:4: found "{\"t_ms\":3}"; buttons, data, or control with event or units would do beside t_ms
knob.rec:5: t_ms: found a line without it; a number of milliseconds would do
knob.rec:6:9: t_ms: found "0", which is earlier than the line before; lines in the order of time would do
knob.rec:7:21: found "[0,2]}"; an array of up to 512 numbers from 0 to 1, or false and true, would do
knob.rec:8:18: found "[256]}"; up to 1024 bytes, as an array of numbers from 0 to 255 or as hexadecimal digits in quotes, would do
knob.rec:9:18: found "\"0\"}"; up to 1024 bytes, as an array of numbers from 0 to 255 or as hexadecimal digits in quotes, would do
knob.rec:10:21: control: found ""; a name of 1 to 100 bytes of printable characters would do
knob.rec:11:36: found "and more"; nothing behind the object would do
knob.rec:12: fields: found report 0, at 0, bits 99, per_detent 1; a report from 0 to 255, at from 0 bits on, 2 to 32 bits and per_detent from 1 would do
knob.rec:13:29: found "", and there the file is cut off; a key such as "t_ms": would do`
	if err == nil || err.Error() != want {
		t.Errorf("%v", err)
	}
}
