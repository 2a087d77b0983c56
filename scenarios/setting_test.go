package scenarios

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"

	"pgregory.net/rapid"
)

func Example() {
	rig := encoder.Default()
	fmt.Println(Set(&rig, "firmware.on", "40ms"), Get(&rig, "firmware.on"))
	fmt.Println(Set(&rig, "firmware.quue", "40ms"))
	fmt.Println(Set(&rig, "program.frames", "30ms"))
	// Output:
	// <nil> 40ms
	// firmware.quue: there is no key firmware.quue; did you mean firmware.queue?
	// program.frames: 30ms has the unit ms; a rate in /s would do, such as 30/s
}

func TestDefaultRigBreaksNoRule(t *testing.T) {
	r := encoder.Default()
	if faults := Check(&r); faults != nil {
		t.Error(faults)
	}
	s := r
	Settle(&s)
	if fmt.Sprint(r) != fmt.Sprint(s) {
		t.Errorf("settled: %+v, want %+v", s, r)
	}
}

func TestBadValuesSayWhatWouldDo(t *testing.T) {
	for _, c := range []struct{ key, value, want string }{
		{"firmware.on", "20kHz", "firmware.on: 20kHz has the unit kHz; a time in ns, us, ms or s would do, such as 20ms"},
		{"firmware.on", "20", "firmware.on: 20 has no unit; 20ms would do"},
		{"firmware.on", "-5ms", "firmware.on: -5ms is negative; above 0ms, up to 10s would do"},
		{"firmware.on", "0ms", "firmware.on: 0ms is too little; above 0ms, up to 10s would do"},
		{"firmware.on", "NaN", "firmware.on: NaN is not a number; a time such as 20ms would do"},
		{"firmware.on", ".inf", "firmware.on: .inf is not a number; a time such as 20ms would do"},
		{"firmware.on", "-infms", "firmware.on: -infms is not a number; a time such as 20ms would do"},
		{"firmware.on", "fast", "firmware.on: fast is not a time; a time such as 20ms would do"},
		{"firmware.on", "1e3ms", "firmware.on: 1e3ms has an exponent; a time such as 20ms would do"},
		{"firmware.on", "", `firmware.on: "" is not a time; a time such as 20ms would do`},
		{"firmware.on", "none", "firmware.on: none; above 0ms, up to 10s would do"},
		{"firmware.scan", "0.5ns", "firmware.scan: 0.5ns is finer than a billionth of a second; a time such as 20ms would do"},
		{"firmware.queue", "2.5", "firmware.queue: 2.5 is not a whole number; a whole number such as 8 would do"},
		{"firmware.queue", "8ms", "firmware.queue: 8ms has the unit ms; a whole number without a unit would do, such as 8"},
		{"firmware.output", "button", "firmware.output: button; did you mean buttons?"},
		{"firmware.output", "none", "firmware.output: none; one of buttons, keys, relative, axis would do"},
		{"firmware.coarse", "12/s", "firmware.coarse: 12/s; none, or firmware.coarse with a key after it, would do"},
		{"knob.detents", "0", "knob.detents: 0 is too little; none, or from 1 to 10000, would do"},
		{"knob.min_state", "0.3", "knob.min_state: 0.3 is too much; above 0, up to 0.25 would do"},
		{"knob.min_state", "0.0833", "knob.min_state: 0.0833 is finer than a thousandth; at most three decimals would do"},
		{"knob.min_state", "0", "knob.min_state: 0 is too little; above 0, up to 0.25 would do"},
		{"knob.push", "yes", "knob.push: yes; true or false would do"},
		{"knob.part", "24x23", "knob.part: there is no part 24x23; did you mean 24x24?"},
		{"program.frames", "0/s", "program.frames: 0/s is too little; from 0.1/s to 10000/s would do"},
		{"program.frames", "30 Hz", "program.frames: \"30 Hz\" has the unit Hz; a rate in /s would do, such as 30/s"},
		{"program.jitter", "46%", "program.jitter: 46% is too much; from 0% to 45% would do"},
		{"program.jitter", "0.1", "program.jitter: 0.1 has no unit; 0.1% would do"},
		{"program.frame_list", "frames.csv", "program.frame_list: frames.csv; none would do here; a list of frame times is named in the rig file"},
		{"system.repeat", "vindows", "system.repeat: there is no system vindows; did you mean windows?"},
		{"scan", "1ms", "scan: there is no key scan; did you mean firmware.scan?"},
		{"usb.pol", "1ms", "usb.pol: there is no key usb.pol; did you mean usb.poll?"},
	} {
		r := encoder.Default()
		err := Set(&r, c.key, c.value)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s=%s: %v, want %s", c.key, c.value, err, c.want)
		}
		if fmt.Sprint(r) != fmt.Sprint(encoder.Default()) {
			t.Errorf("%s=%s changed the rig", c.key, c.value)
		}
	}
}

// The keys that an output or a sampling does not use, as the interface lists them.
func TestKeysThatTheRigDoesNotUseAreRefused(t *testing.T) {
	for _, c := range []struct{ with, refused string }{
		{"firmware.output=relative", "firmware.on=40ms firmware.off=40ms firmware.queue=4 firmware.overflow=drop-old firmware.reversal=clear " +
			"firmware.coarse.above=12/s firmware.hold=150ms program.hold.period=100ms program.hold.delay=400ms usb.reports=queued " +
			"system.repeat.delay=250ms system.repeat=windows firmware.axis.bits=8 firmware.axis.counts_per_detent=4"},
		{"firmware.output=axis", "firmware.counts_per_detent=2 firmware.on=40ms program.repeats=ignore"},
		{"firmware.output=keys firmware.hold=150ms", "firmware.on=40ms firmware.off=40ms firmware.queue=4 firmware.overflow=drop-old firmware.reversal=clear firmware.coarse.above=12/s"},
		{"firmware.output=buttons", "system.repeat.rate=20/s program.repeats=ignore program.max_per_frame=1 program.excess=drop firmware.axis.bits=8"},
		{"program.sampling=immediate", "program.frames=60/s program.jitter=5% program.phase=1ms program.max_per_frame=1 program.excess=drop"},
		{"program.sampling=events firmware.output=keys program.hold.period=100ms program.hold.delay=400ms", "program.repeats=ignore"},
		{"program.sampling=events firmware.output=relative", "program.max_per_frame=1 program.excess=drop"},
	} {
		for _, refused := range strings.Fields(c.refused) {
			s := settings(t, c.with+" "+refused)
			key := s[len(s)-1].Key
			_, err := With(encoder.Default(), s)
			k, _ := keyed(key)
			if want := key + ": this rig does not use it; " + k.Belongs; err == nil || !strings.Contains(err.Error(), want) || k.Belongs == "" {
				t.Errorf("%s: %v, want %s", s, err, want)
			}
			r, err := With(encoder.Default(), s[:len(s)-1])
			if err != nil {
				t.Fatal(err)
			}
			if err := Set(&r, key, s[len(s)-1].Value); err != nil {
				t.Fatal(err)
			}
			if k.get != nil && !strings.Contains(Check(&r).Error(), key+": this rig does not use it") {
				t.Errorf("Check lets %s pass: %v", s, Check(&r))
			}
		}
	}
}

func settings(t *testing.T, text string) (list []Setting) {
	t.Helper()
	for _, s := range strings.Fields(text) {
		key, value, ok := strings.Cut(s, "=")
		if !ok {
			t.Fatal(text)
		}
		list = append(list, Setting{key, value})
	}
	return list
}

func TestRulesBetweenKeys(t *testing.T) {
	for _, c := range []struct{ with, want string }{
		{"knob.detents=24 knob.cycles=20", "knob.cycles: 20 cycles give a detent 3.333 quarter steps, not a whole number of at least 1; 6 or 24 cycles, or none for detents, would do"},
		{"knob.detents=24 knob.cycles=5", "knob.cycles: 5 cycles give a detent 0.833 quarter steps, not a whole number of at least 1; 6 or 24 cycles, or none for detents, would do"},
		{"firmware.coarse.above=12/s", "firmware.coarse.steps: is missing beside firmware.coarse.above; both or neither would do"},
		{"firmware.coarse.steps=10", "firmware.coarse.above: is missing beside firmware.coarse.steps; both or neither would do"},
		{"program.hold.delay=400ms", "program.hold.period: is missing beside program.hold.delay; both or neither would do"},
		{"firmware.on=1ms firmware.on=2ms", "firmware.on: is set twice; one value would do"},
		{"knob.detents=none knob.cycles=20", ""},
		{"knob.cycles=15 knob.detents=30", ""},
		{"firmware.output=axis", ""},
	} {
		_, err := With(encoder.Default(), settings(t, c.with))
		if got := fmt.Sprint(err); got != c.want && (c.want != "" || err != nil) {
			t.Errorf("%s: %v, want %s", c.with, err, c.want)
		}
	}
}

func TestOutputDecidesWhatSettingsMean(t *testing.T) {
	r, err := With(encoder.Default(), settings(t, "firmware.on=40ms firmware.hold=none"))
	if err != nil || r.Firmware.On != 40*time.Millisecond {
		t.Fatal(err)
	}
	// A setting of another output drops what only the old one used.
	r, err = With(r, settings(t, "firmware.axis.bits=8 firmware.output=axis"))
	if err != nil || r.Firmware.On != encoder.Default().Firmware.On || r.Firmware.Axis != (encoder.Axis{Bits: 8, CountsPerDetent: 8}) {
		t.Error(err, r.Firmware)
	}
	r, err = With(r, settings(t, "firmware.output=keys system.repeat=x-server system.repeat.delay=300ms"))
	if err != nil || r.System.Repeat != (encoder.Repeat{Delay: 300 * time.Millisecond, Rate: 25}) || r.Firmware.Axis != (encoder.Axis{}) {
		t.Error(err, r.System, r.Firmware)
	}
	r, err = With(r, settings(t, "system.repeat.rate=none knob.part=15x30 knob.push=true knob.bounce=1ms"))
	if err != nil || r.System.Repeat.Rate != 0 || r.Knob != (encoder.Knob{Detents: 30, Cycles: 15, Bounce: time.Millisecond, MinState: 0.25, Push: true}) {
		t.Error(err, r.System, r.Knob)
	}
}

func TestApplyRefusesWhatTheRigCannotDo(t *testing.T) {
	ladder := accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}}}}
	for _, c := range []struct {
		profile Profile
		with    string
		want    string
	}{
		{Profile{PressCoarse: 10}, "", "press.coarse: the knob of \"left knob\" has no push switch; a rig with knob.push: true, or a profile without press, would do"},
		{Profile{PressCoarse: 10}, "knob.push=true", ""},
		{Profile{Home: encoder.InFirmware, Acceleration: ladder}, "firmware.output=axis", "acceleration.home: firmware, but an axis moves by its own counts; program would do"},
		{Profile{Home: encoder.InFirmware, Acceleration: ladder}, "firmware.hold=150ms", "acceleration.home: firmware, but firmware.hold makes no pulses; program would do"},
		{Profile{Home: encoder.InFirmware, Acceleration: ladder}, "firmware.output=relative", ""},
		{Profile{Home: encoder.InFirmware}, "firmware.output=axis", ""},
		{Profile{Settings: []Setting{{"firmware.on", "x"}}}, "", "settings.firmware.on: x is not a time; a time such as 20ms would do"},
	} {
		r := encoder.Default()
		r.Name = "left knob"
		r, err := With(r, settings(t, c.with))
		if err != nil {
			t.Fatal(err)
		}
		_, err = Apply(&c.profile, r)
		if got := fmt.Sprint(err); got != c.want && (c.want != "" || err != nil) {
			t.Errorf("%v on %s: %v, want %s", c.profile, c.with, err, c.want)
		}
	}
}

func TestEveryKeyTakesWhatItGives(t *testing.T) {
	for _, k := range Describe() {
		r := encoder.Default()
		if k.Name == "program.frame_list" {
			continue
		}
		if err := Set(&r, k.Name, k.Example()); err != nil {
			t.Errorf("%s: %v", k.Name, err)
		}
		if got := Get(&r, k.Name); k.get != nil && got != k.Example() {
			t.Errorf("%s: %s, want %s", k.Name, got, k.Example())
		}
		if k.About == "" {
			t.Errorf("%s says nothing about itself", k.Name)
		}
	}
}

func TestTimesAndNumbersReadBackToTheBit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(rapid.Int64Range(-1e15, 1e15).Draw(t, "ns"))
		if got, err := ParseTime(TimeText(d)); got != d || err != nil {
			t.Fatalf("%s: %v %v", TimeText(d), got, err)
		}
		v := rapid.Float64Range(-1e12, 1e12).Draw(t, "v")
		for _, q := range []Quantity{Rate, Share, Fraction, Angle, AngularSpeed} {
			if got, err := q.Parse(q.Text(v)); got != v || err != nil {
				t.Fatalf("%s %s: %v %v", q, q.Text(v), got, err)
			}
		}
		n := rapid.Int64Range(-1e15, 1e15).Draw(t, "n")
		for _, q := range []Quantity{Time, Whole, Rate, Share, Fraction} {
			if got, err := q.Exact(q.ExactText(n)); got != n || err != nil {
				t.Fatalf("%s %s: %v %v, want %d", q, q.ExactText(n), got, err, n)
			}
		}
	})
}

func TestTimesAreWrittenAsPeopleDo(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0ms", 20 * time.Millisecond: "20ms", time.Second: "1s", 1500 * time.Millisecond: "1500ms", 300 * time.Second: "300s",
		125 * time.Microsecond: "125us", 33_333_333: "33.333333ms", 999: "999ns", 1001: "1.001us", -5 * time.Millisecond: "-5ms",
	} {
		if got := TimeText(d); got != want {
			t.Errorf("%d: %s, want %s", d, got, want)
		}
	}
}

func FuzzSet(f *testing.F) {
	for _, k := range Describe() {
		f.Add(k.Name, k.Example())
	}
	f.Add("program.jitter", "-0%")
	f.Fuzz(func(t *testing.T, key, value string) {
		r := encoder.Default()
		if Set(&r, key, value) != nil || Get(&r, key) == "" || Get(&r, key) == none {
			return
		}
		again := encoder.Default()
		if err := Set(&again, key, Get(&r, key)); err != nil || fmt.Sprint(again) != fmt.Sprint(r) {
			t.Errorf("%s=%s reads back as %+v (%v), want %+v", key, value, again, err, r)
		}
	})
}
