package tune

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// pulsing is a rig whose owner can change pulse, gap and what else is said.
func pulsing(more ...scenarios.Range) *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	r.Firmware.Pulse, r.Firmware.Gap = 40*time.Millisecond, 50*time.Millisecond
	r.Adjustable.Settings = append([]scenarios.Range{
		{Key: "firmware.pulse", From: "20ms", To: "80ms", By: "1ms"},
		{Key: "firmware.gap", From: "20ms", To: "80ms", By: "1ms"},
	}, more...)
	return r
}

func spaceOf(t *testing.T, changed []string, rigs ...*scenarios.Rig) *space {
	t.Helper()
	s, err := newSpace(rigs, changed)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func set(pairs ...string) (list []scenarios.Setting) {
	for _, p := range pairs {
		key, value, _ := strings.Cut(p, "=")
		list = append(list, scenarios.Setting{Key: key, Value: value})
	}
	return list
}

// texts are lists of settings as a set of lines.
func texts(lists [][]scenarios.Setting) []string {
	var all []string
	for _, l := range lists {
		all = append(all, strings.ReplaceAll(strings.ReplaceAll(written(l), "firmware.", ""), "program.", ""))
	}
	slices.Sort(all)
	return all
}

// What can be changed is what the owner of every rig can, in the words of the first.
func TestTheSpaceIsWhatEveryOwnerCanChange(t *testing.T) {
	a := pulsing(scenarios.Range{Key: "firmware.queue", Values: []string{"2", "4", "8"}}, scenarios.Range{Key: "program.sampling", Values: []string{"state", "events"}})
	a.Adjustable.Homes, a.Adjustable.Curves = []scenarios.Home{encoder.InProgram, encoder.InFirmware}, []string{"power", "constant", "linear"}
	b := pulsing(scenarios.Range{Key: "firmware.queue", Values: []string{"8", "4", "1"}})
	b.Adjustable.Homes, b.Adjustable.Curves = []scenarios.Home{encoder.InFirmware}, []string{"linear", "power"}
	says := func(s *space) string {
		var keys []string
		for _, k := range s.keys {
			keys = append(keys, fmt.Sprintf("%s %d %t", k.name, len(k.choices), k.words))
		}
		return fmt.Sprint(strings.Join(keys, ", "), "; ", s.homes, " ", s.curves)
	}
	for _, x := range []struct {
		rigs    []*scenarios.Rig
		changed []string
		want    string
	}{
		{[]*scenarios.Rig{a}, nil, "firmware.pulse 61 false, firmware.gap 61 false, firmware.queue 3 false, program.sampling 2 true; [program firmware] [power constant linear]"},
		{[]*scenarios.Rig{a, b}, nil, "firmware.pulse 61 false, firmware.gap 61 false, firmware.queue 2 false; [firmware] [power linear]"},
		{[]*scenarios.Rig{b}, []string{"firmware.gap"}, "firmware.gap 61 false; [] []"},
		{[]*scenarios.Rig{a}, []string{"program"}, "program.sampling 2 true; [program] [power constant linear]"},
		{[]*scenarios.Rig{a}, []string{"firmware"}, "firmware.pulse 61 false, firmware.gap 61 false, firmware.queue 3 false; [firmware] [power constant linear]"},
		{[]*scenarios.Rig{a}, []string{"acceleration"}, "; [program firmware] [power constant linear]"},
		{[]*scenarios.Rig{pulsing()}, nil, "firmware.pulse 61 false, firmware.gap 61 false; [program] []"},
	} {
		if got := says(spaceOf(t, x.changed, x.rigs...)); got != x.want {
			t.Errorf("changed %v: %s\nwant %s", x.changed, got, x.want)
		}
	}
	if s := spaceOf(t, nil, a, b); !slices.Equal(s.keys[2].choices, []string{"4", "8"}) {
		t.Errorf("queues of both: %v", s.keys[2].choices)
	}
	if _, err := newSpace([]*scenarios.Rig{a, {Rig: a.Rig, Adjustable: scenarios.Adjustable{Settings: []scenarios.Range{{Key: "firmware.pulse", From: "1ms", To: "x", By: "1ms"}}}}}, nil); err == nil {
		t.Error("a range without an end passes")
	}
}

// Settings say what differs from the rig, once, by key, and nothing that it does not use.
func TestSettingsSayNoMoreThanTheyMust(t *testing.T) {
	s := spaceOf(t, nil, pulsing())
	for _, x := range []struct{ now, more, want string }{
		{"", "firmware.gap=30ms firmware.pulse=60ms", "firmware.gap 30ms, firmware.pulse 60ms"},
		{"firmware.pulse=60ms", "firmware.pulse=70ms", "firmware.pulse 70ms"},
		{"firmware.pulse=60ms", "firmware.pulse=40ms", ""}, // as the rig has it
		{"firmware.pulse=60ms firmware.queue=3", "firmware.output=relative", "firmware.output relative"},
	} {
		if got := written(s.with(set(strings.Fields(x.now)...), set(strings.Fields(x.more)...)...)); got != x.want {
			t.Errorf("%s and then %s: %s, want %s", x.now, x.more, got, x.want)
		}
	}
	other := pulsing()
	other.Firmware.Pulse = 60 * time.Millisecond
	if got := written(spaceOf(t, nil, pulsing(), other).with(nil, set("firmware.pulse=40ms")...)); got != "firmware.pulse 40ms" {
		t.Errorf("one of two rigs has it otherwise: %q", got)
	}
	relative := pulsing()
	relative.Firmware.Output = encoder.Relative
	if got := spaceOf(t, nil, pulsing(), relative).with(nil, set("firmware.pulse=60ms")...); len(got) > 0 {
		t.Errorf("one of two rigs has no pulses: %v", got)
	}
}

// Neighbours differ in one key, a number by one choice or a stride, a word by any; and
// pulse and gap give and take together.
func TestNeighboursDifferInOneKeyOrInPulseAndGap(t *testing.T) {
	s := spaceOf(t, nil, pulsing(scenarios.Range{Key: "program.sampling", Values: []string{"state", "events", "immediate"}}))
	got, want := texts(s.neighbors(nil, 6)), texts([][]scenarios.Setting{ // 61 choices, a stride of ten
		set("firmware.pulse=39ms"), set("firmware.pulse=41ms"), set("firmware.pulse=30ms"), set("firmware.pulse=50ms"),
		set("firmware.gap=49ms"), set("firmware.gap=51ms"), set("firmware.gap=40ms"), set("firmware.gap=60ms"),
		set("firmware.gap=51ms", "firmware.pulse=41ms"), set("firmware.gap=49ms", "firmware.pulse=39ms"),
		set("firmware.gap=49ms", "firmware.pulse=41ms"), set("firmware.gap=51ms", "firmware.pulse=39ms"),
		set("firmware.gap=60ms", "firmware.pulse=50ms"), set("firmware.gap=40ms", "firmware.pulse=30ms"),
		set("program.sampling=events"), set("program.sampling=immediate"),
	})
	if !slices.Equal(got, want) {
		t.Errorf("neighbours\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	// At the ends there is only one way, and a reach beyond all choices is one choice.
	got, want = texts(s.neighbors(set("firmware.pulse=20ms", "firmware.gap=80ms", "program.sampling=events"), 1000)), texts([][]scenarios.Setting{
		set("firmware.gap=80ms", "firmware.pulse=21ms", "program.sampling=events"), set("firmware.gap=79ms", "firmware.pulse=20ms", "program.sampling=events"),
		set("firmware.gap=79ms", "firmware.pulse=21ms", "program.sampling=events"),
		set("firmware.gap=80ms", "firmware.pulse=20ms"), set("firmware.gap=80ms", "firmware.pulse=20ms", "program.sampling=immediate"),
	})
	if !slices.Equal(got, want) {
		t.Errorf("neighbours at the ends\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	// What is not among the choices may become any of them.
	if n := len(s.neighbors(set("firmware.pulse=5ms"), 6)); n != 61+4+2 {
		t.Errorf("a pulse of 5 ms has %d neighbours", n)
	}
	relative := pulsing()
	relative.Firmware.Output = encoder.Relative
	if list := spaceOf(t, nil, relative).neighbors(nil, 6); list != nil {
		t.Errorf("counts have the neighbours %v", list)
	}
}

// Pulses outlast a poll and, where levels are sampled, the longest frame with its jitter
// both ways.
func TestWhatOutlastsPollsAndFrames(t *testing.T) {
	for _, x := range []struct {
		change func(*encoder.Rig)
		want   time.Duration
	}{
		{func(*encoder.Rig) {}, 8*time.Millisecond + 40*time.Millisecond + 16*time.Millisecond},
		{func(r *encoder.Rig) { r.Program.Sampling = encoder.Events }, 8 * time.Millisecond},
		{func(r *encoder.Rig) {
			r.Program.Jitter, r.Program.FrameList = 0, []time.Duration{20 * time.Millisecond, 60 * time.Millisecond, 30 * time.Millisecond}
		}, 68 * time.Millisecond},
	} {
		rig := pulsing()
		rig.USB.Poll, rig.Program.Frames, rig.Program.Jitter = 8*time.Millisecond, 25, 0.2
		x.change(&rig.Rig)
		if got := spaceOf(t, nil, rig).outlasting(); got != x.want {
			t.Errorf("%+v: %v, want %v", rig.Program, got, x.want)
		}
	}
	k := &key{name: "firmware.pulse", choices: []string{"20ms", "30ms", "40ms"}}
	for least, want := range map[time.Duration]string{0: "20ms", 20 * time.Millisecond: "20ms", 21 * time.Millisecond: "30ms", time.Second: "40ms"} {
		if got := k.atLeast(least); got != want {
			t.Errorf("at least %v: %s, want %s", least, got, want)
		}
	}
}

// A search begins with the settings of now, and with pulses of several lengths for every
// output, the longest with more room to wait.
func TestASearchBeginsWithPulsesOfSeveralLengths(t *testing.T) {
	rig := pulsing(scenarios.Range{Key: "firmware.queue", Values: []string{"2", "4", "8"}}, scenarios.Range{Key: "firmware.output", Values: []string{"buttons", "relative"}})
	rig.Firmware.Queue, rig.USB.Poll, rig.Program.Frames, rig.Program.Jitter = 4, 8*time.Millisecond, 25, 0.2
	s := spaceOf(t, nil, rig)
	got := s.starts(set("firmware.pulse=60ms"))
	var lines []string
	for _, l := range got {
		lines = append(lines, written(l))
	}
	want := []string{
		"firmware.pulse 60ms",
		"firmware.gap 20ms, firmware.pulse 20ms", "firmware.gap 25ms, firmware.pulse 25ms", "firmware.gap 40ms", // 40 ms is the rig's pulse
		"firmware.gap 64ms, firmware.pulse 64ms, firmware.queue 8",
		"firmware.output relative",
	}
	if !slices.Equal(lines, want) {
		t.Errorf("a search begins with\n%s\nwant\n%s", strings.Join(lines, "\n"), strings.Join(want, "\n"))
	}
	fixed := pulsing()
	if list := spaceOf(t, []string{"program"}, fixed).starts(nil); len(list) != 1 || list[0] != nil {
		t.Errorf("nothing may be changed, and a search begins with %v", list)
	}
}

// The accelerations to begin with: none, the built-in ones, those of every kind; few where
// it is the settings that are in question, and where a firmware makes pulses of them.
func TestASearchBeginsWithAccelerations(t *testing.T) {
	s := &space{curves: []string{"constant", "power", "table"}}
	count := func(list []accel.Acceleration) string {
		n := map[string]int{}
		for _, a := range list {
			if a.Curve == nil {
				n["none"]++
			} else {
				n[word(a.Curve)]++
			}
		}
		return fmt.Sprint(n)
	}
	for _, x := range []struct {
		few    bool
		home   scenarios.Home
		always bool
		want   map[string]int
	}{
		{false, encoder.InProgram, false, map[string]int{"none": 1, "constant": 8, "power": 3, "table": 2}}, // one is built in
		{false, encoder.InFirmware, false, map[string]int{"none": 1, "constant": 8, "power": 2, "table": 1}},
		{true, encoder.InProgram, false, map[string]int{"none": 1, "constant": 2, "power": 2}},
		{true, encoder.InProgram, true, map[string]int{"constant": 2, "power": 2}},
	} {
		s.always = x.always
		if got := count(s.accelerations(x.few, x.home)); got != fmt.Sprint(x.want) {
			t.Errorf("few %t in the %v: %s, want %v", x.few, x.home, got, x.want)
		}
	}
	s.always = false
	var gains []float64
	for _, a := range s.accelerations(true, encoder.InProgram) {
		if c, ok := a.Curve.(accel.Constant); ok {
			gains = append(gains, c.Gain)
		}
	}
	if !slices.Equal(gains, []float64{3, 8}) {
		t.Errorf("few gains: %v", gains)
	}
}
