package scenarios

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"

	"pgregory.net/rapid"
)

func Example() {
	rig := encoder.Default()
	fmt.Println(Set(&rig, "firmware.pulse", "40ms"), Get(&rig, "firmware.pulse"))
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
		{"firmware.pulse", "20kHz", "firmware.pulse: 20kHz has the unit kHz; a time in ns, us, ms or s would do, such as 20ms"},
		{"firmware.pulse", "20", "firmware.pulse: 20 has no unit; 20ms would do"},
		{"firmware.pulse", "-5ms", "firmware.pulse: -5ms is negative; from 1us to 10s would do"},
		{"firmware.pulse", "0ms", "firmware.pulse: 0ms is too little; from 1us to 10s would do"},
		{"firmware.pulse", "NaN", "firmware.pulse: NaN is not a number; a time such as 20ms would do"},
		{"firmware.pulse", ".inf", "firmware.pulse: .inf is not a number; a time such as 20ms would do"},
		{"firmware.pulse", "-infms", "firmware.pulse: -infms is not a number; a time such as 20ms would do"},
		{"firmware.pulse", "fast", "firmware.pulse: fast is not a time; a time such as 20ms would do"},
		{"firmware.pulse", "1e3ms", "firmware.pulse: 1e3ms has an exponent; a time such as 20ms would do"},
		{"firmware.pulse", "", `firmware.pulse: "" is not a time; a time such as 20ms would do`},
		{"firmware.pulse", "none", "firmware.pulse: none; from 1us to 10s would do"},
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
		{"firmware.output=relative", "firmware.pulse=40ms firmware.gap=40ms firmware.queue=4 firmware.overflow=drop-old firmware.reversal=clear " +
			"firmware.coarse.above=12/s firmware.hold=150ms program.hold.period=100ms program.hold.delay=400ms usb.reports=queued " +
			"system.repeat.delay=250ms system.repeat=windows firmware.axis.bits=8 firmware.axis.counts_per_detent=4"},
		{"firmware.output=axis", "firmware.counts_per_detent=2 firmware.pulse=40ms program.repeats=ignore"},
		{"firmware.output=keys firmware.hold=150ms", "firmware.pulse=40ms firmware.gap=40ms firmware.queue=4 firmware.overflow=drop-old firmware.reversal=clear firmware.coarse.above=12/s"},
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
		{"firmware.pulse=1ms firmware.pulse=2ms", "firmware.pulse: is set twice; one value would do"},
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
	r, err := With(encoder.Default(), settings(t, "firmware.pulse=40ms firmware.hold=none"))
	if err != nil || r.Firmware.Pulse != 40*time.Millisecond {
		t.Fatal(err)
	}
	// A setting of another output drops what only the old one used.
	r, err = With(r, settings(t, "firmware.axis.bits=8 firmware.output=axis"))
	if err != nil || r.Firmware.Pulse != encoder.Default().Firmware.Pulse || r.Firmware.Axis != (encoder.Axis{Bits: 8, CountsPerDetent: 8}) {
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
	landing := ladder
	landing.Landing = 5
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
		{Profile{Home: encoder.InFirmware, Acceleration: landing}, "", "acceleration.landing: the firmware does not know the value; home: program, or no landing, would do"},
		{Profile{Home: encoder.InProgram, Acceleration: landing}, "", ""},
		{Profile{Settings: []Setting{{"firmware.pulse", "x"}}}, "", "settings.firmware.pulse: x is not a time; a time such as 20ms would do"},
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

// deciding are settings under which each key is of use to some rig.
var deciding = []string{
	"", "firmware.output=keys", "firmware.output=axis", "firmware.hold=100ms", "program.sampling=events",
	"firmware.output=keys program.sampling=events",
}

// usedBy returns a rig that uses a key, with what stands beside it.
func usedBy(t *testing.T, k Key) encoder.Rig {
	t.Helper()
	for _, d := range deciding {
		r, err := With(encoder.Default(), settings(t, d))
		if err != nil {
			t.Fatal(err)
		}
		if !k.Used(&r) {
			continue
		}
		if strings.HasPrefix(k.Name, "firmware.coarse.") {
			r.Firmware.Coarse = encoder.Coarse{Above: 12, Steps: 10}
		}
		if strings.HasPrefix(k.Name, "program.hold.") {
			r.Program.Hold = encoder.Hold{Delay: 400 * time.Millisecond, Period: 100 * time.Millisecond}
		}
		if k.Name == "knob.detents" { // any number of them in as many cycles
			r.Knob.Cycles = 10_000
		}
		if k.Name == "knob.cycles" {
			r.Knob.Detents = 4
		}
		return r
	}
	t.Fatalf("no rig uses %s", k.Name)
	return encoder.Rig{}
}

// Bounds stand once: what a key takes at its ends the engine runs, and what is
// beyond them both refuse.
func TestTheEngineRunsWhatAKeyTakes(t *testing.T) {
	bounded := 0
	for _, k := range Describe() {
		if k.Low == "" {
			if _, ok := encoder.BoundOf(k.Name); ok && k.Name != "program.frame_list" {
				t.Errorf("the key %s has not the engine's bound", k.Name)
			}
			continue
		}
		bounded++
		b, ok := encoder.BoundOf(k.Name)
		if !ok {
			t.Errorf("%s has bounds of its own", k.Name)
		}
		runs := func(r encoder.Rig) error {
			_, err := encoder.NewPath(encoder.Setup{Rig: &r, Scale: encoder.Scale{Count: 100}})
			return err
		}
		for _, end := range []string{k.Low, k.High} {
			if end == k.Low && k.Above {
				end = "0.001"
			}
			r := usedBy(t, k)
			if err := Set(&r, k.Name, end); err != nil {
				t.Errorf("%s=%s: %v", k.Name, end, err)
			}
			if err := runs(r); err != nil {
				t.Errorf("%s=%s: the engine says %v", k.Name, end, err)
			}
		}
		beyond := []string{k.Quantity.Text(b.High * 1.1)}
		if b.High == 0.25 {
			beyond = []string{"0.251"}
		}
		if k.Above {
			beyond = append(beyond, k.Low)
		} else if b.Low >= 0.1 && !k.Absent && k.Name != "firmware.counts_per_detent" { // 0 is none, or the default
			beyond = append(beyond, k.Quantity.Text(math.Floor(b.Low*0.9)))
		}
		for _, v := range beyond {
			r := usedBy(t, k)
			if err := Set(&r, k.Name, v); err == nil {
				t.Errorf("%s=%s is taken", k.Name, v)
			}
			if k.Name == "knob.min_state" && v == "0" || strings.HasSuffix(k.Name, ".phase") || v == k.Low && k.Absent {
				continue // 0 is the default or none; and a phase says where ticks are, however far
			}
			if n, _ := Number(k.Name, v); b.Runs(n) {
				continue // an ideal link's, below
			}
			if f := k.put(&r, v); f != nil {
				continue
			}
			if err := runs(r); err == nil || !strings.Contains(err.Error(), k.Name) {
				t.Errorf("%s=%s: the engine runs it: %v", k.Name, v, err)
			}
		}
	}
	r := encoder.Default()
	r.USB.Poll = time.Microsecond // as explain's ideal link has it, and no file
	if _, err := encoder.NewPath(encoder.Setup{Rig: &r}); err != nil || Check(&r) != nil || Set(&r, "usb.poll", "1us") == nil {
		t.Errorf("the ideal poll: %v, %v", err, Check(&r))
	}
	if bounded != 28 {
		t.Errorf("%d keys with bounds", bounded)
	}
	r = encoder.Default()
	r.Program.FrameList = []time.Duration{time.Minute}
	for _, frame := range []time.Duration{0, time.Minute + 1, -1} {
		r.Program.FrameList[0] = frame
		_, err := encoder.NewPath(encoder.Setup{Rig: &r})
		if err == nil || Check(&r) == nil || FrameTime(frame) == nil {
			t.Errorf("a frame of %v: %v, %v", frame, err, Check(&r))
		}
	}
}

// A number is told of numbers only.
func TestNumberOfAKeysValue(t *testing.T) {
	for _, x := range []struct {
		key, value string
		want       float64
		ok         bool
	}{
		{"firmware.pulse", "40ms", 40e6, true}, {"program.jitter", "10%", 0.1, true}, {"program.frames", "30/s", 30, true}, {"firmware.queue", "8", 8, true},
		{"firmware.output", "keys", 0, false}, {"knob.push", "true", 0, false}, {"firmware.hold", "none", 0, false}, {"no.such", "5ms", 0, false}, {"firmware.pulse", "5", 0, false},
	} {
		if v, ok := Number(x.key, x.value); v != x.want || ok != x.ok {
			t.Errorf("%s=%s: %v, %v", x.key, x.value, v, ok)
		}
	}
	r := encoder.Default()
	if err := Set(&r, "firmware.phase", "0.5ns"); err == nil || r.Firmware.Phase.Fixed {
		t.Errorf("a phase of half a nanosecond: %v", err)
	}
}

func TestOldNamesOfKeysAreTold(t *testing.T) {
	r := encoder.Default()
	for key, want := range map[string]string{
		"firmware.on":  "firmware.on: is the old name of firmware.pulse (on is a switch to older YAML readers); firmware.pulse would do",
		"firmware.off": "firmware.off: is the old name of firmware.gap (off is a switch to older YAML readers); firmware.gap would do",
	} {
		if err := Set(&r, key, "30ms"); err == nil || err.Error() != want {
			t.Errorf("%v", err)
		}
		if _, err := (Range{Key: key, Values: []string{"30ms"}}).Choices(); err == nil || err.Error() != want {
			t.Errorf("%v", err)
		}
		if _, err := With(r, []Setting{{key, "30ms"}}); err == nil || err.Error() != want {
			t.Errorf("%v", err)
		}
	}
}

// A zero has no sign, whoever wrote it.
func TestMinusNothingIsNothing(t *testing.T) {
	for _, q := range []Quantity{Rate, Share, Fraction, Angle} {
		if v, err := q.Parse("-0" + forms[q].units[0]); err != nil || math.Signbit(v) {
			t.Errorf("%s: %v, %v", q, v, err)
		}
	}
}

// Keys that take a word take every mode that the engine has, and no other.
func TestKeysTakeEveryMode(t *testing.T) {
	modes := 0
	for _, k := range Describe() {
		if k.Words == nil {
			continue
		}
		modes++
		r := encoder.Default()
		for _, w := range k.Words {
			if err := Set(&r, k.Name, w); err != nil || Get(&r, k.Name) != w {
				t.Errorf("%s=%s: %v, %s", k.Name, w, err, Get(&r, k.Name))
			}
		}
		if err := Set(&r, k.Name, "unknown"); err == nil {
			t.Errorf("%s=unknown is taken", k.Name)
		}
	}
	if modes != 8 {
		t.Errorf("%d keys take a mode", modes)
	}
}

// None takes away what a preset or a group had, and Settle what no key uses.
func TestNoneAndSettleTakeAway(t *testing.T) {
	r := encoder.Default()
	r.Firmware.Coarse, r.Program.Hold = encoder.Coarse{Above: 12, Steps: 10}, encoder.Hold{Delay: 1, Period: 1}
	for _, key := range []string{"system.repeat", "firmware.coarse", "program.hold", "knob.part"} {
		if err := Set(&r, key, "none"); err != nil {
			t.Error(err)
		}
	}
	if r.System.Repeat != (encoder.Repeat{}) || r.Firmware.Coarse != (encoder.Coarse{}) || r.Program.Hold != (encoder.Hold{}) || r.Knob != encoder.Default().Knob {
		t.Errorf("%+v", r)
	}
	r.Firmware.Output, r.Program.Sampling, r.Program.FrameList, r.Knob.MinState = encoder.Relative, encoder.Immediate, []time.Duration{1e6}, 0
	r.Firmware.Queue, r.USB.Reports, r.Program.Phase = 99, encoder.QueuedReports, encoder.PhaseAt(3)
	Settle(&r)
	if s := encoder.Default(); r.Firmware.Queue != s.Firmware.Queue || r.USB.Reports != s.USB.Reports || r.Program.Phase != s.Program.Phase || r.Program.FrameList != nil || r.Knob.MinState != 0.25 {
		t.Errorf("%+v", r)
	}
	if keys := Keys(&r); keys[0] != "knob.detents" || strings.Contains(strings.Join(keys, " "), "firmware.pulse") || keys[len(keys)-1] != "display.latency" {
		t.Errorf("keys %v", keys)
	}
}
