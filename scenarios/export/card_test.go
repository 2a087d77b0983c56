package export_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/export"
)

// card compares profiles on a panel and makes the card of the last.
func card(t *testing.T, panel *scenarios.Panel, trials int, profiles ...scenarios.Profile) (*export.Card, *compare.Result) {
	t.Helper()
	o := scenarios.Practised()
	s := &compare.Study{Panel: panel, Trials: trials, Seed: 7, Workers: 1}
	for i := range profiles {
		s.Candidates = append(s.Candidates, compare.Candidate{Name: profiles[i].Name, Profile: &profiles[i], Operator: &o})
	}
	r, err := compare.Run(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	c, err := export.NewCard(r, len(profiles)-1)
	if err != nil {
		t.Fatal(err)
	}
	return c, r
}

func profile(t *testing.T, name string) scenarios.Profile {
	t.Helper()
	for _, p := range scenarios.Profiles() {
		if p.Name == name {
			return p
		}
	}
	t.Fatalf("there is no profile %s", name)
	return scenarios.Profile{}
}

// A card tells what the comparison found, of the right profile on the right task.
func TestACardTellsWhatWasMeasured(t *testing.T) {
	c, r := card(t, demo.Panel("quillmoor"), 60, profile(t, "plain"), profile(t, "ladder"), profile(t, "power"))
	j := 0
	for _, k := range c.Knobs {
		for _, task := range k.Tasks {
			before, after := r.Trials[0][j].Summary(), r.Trials[2][j].Summary()
			want := fmt.Sprintf("%.1f s (%.1f–%.1f) %.1f s (%.1f–%.1f) %.0f %% %.0f %%", before.Time.Value, before.Time.Low, before.Time.High,
				after.Time.Value, after.Time.Low, after.Time.High, 100*before.Overshoot.Value, 100*after.Overshoot.Value)
			past := func(s string) string { return s[:strings.Index(s, "%")+1] }
			if got := task.Time.Before + " " + task.Time.After + " " + past(task.Past.Before) + " " + past(task.Past.After); got != want {
				t.Errorf("%s: %s, want %s", task.Name, got, want)
			}
			j++
		}
	}
	if j != len(r.Uses) || len(c.Expect) != j {
		t.Errorf("%d tasks of %d, %d sentences", j, len(r.Uses), len(c.Expect))
	}
}

// Slow and quick detents in the task's own unit: from the curve, from the coarse
// pair, behind a push, on both rings.
func TestACardTellsWhatADetentIsWorth(t *testing.T) {
	panel := demo.Panel("quillmoor")
	for _, x := range []struct {
		profile, task string
		want          []string
	}{
		// 30 ms of pulse and gap each and 30 frames a second let ten clicks a second through.
		{"plain", "heading", []string{"a slow detent is 1°, a quick one (10 a second) 1°"}},
		{"power", "heading", []string{"a slow detent is 1°, a quick one (10 a second) about 3°"}}, // 1 + 4·(10/15)² = 2.8
		{"power", "altitude", []string{"a slow detent is 100 ft, a quick one (10 a second) about 300 ft"}},
		{"power", "com-25", []string{"outer ring: a slow detent is 1 MHz, a quick one (10 a second) about 2.775 MHz", "inner ring: a slow detent is 25 kHz, a quick one (10 a second) about 75 kHz"}},
		{"linear", "heading", []string{"a slow detent is 1°, a quick one (10 a second) about 4°"}},                                                                                       // 1 + 3·1
		{"coarse-pair", "nav", []string{"outer ring: a slow detent is 1 MHz, a quick one (25 a second) 1 MHz", "inner ring: a slow detent is 50 kHz, a quick one (25 a second) 50 kHz"}}, // stays plain
		{"press", "heading", []string{"a slow detent is 1°, a quick one (10 a second) 1°; after a push 10 times as much"}},
	} {
		c, _ := card(t, panel, 3, profile(t, "plain"), profile(t, x.profile))
		for _, k := range c.Knobs {
			for _, task := range k.Tasks {
				if task.Name == x.task && strings.Join(task.Clicks, "|") != strings.Join(x.want, "|") {
					t.Errorf("%s, %s: %q, want %q", x.profile, x.task, task.Clicks, x.want)
				}
			}
		}
	}
}

// The coarse pair and a curve together: in the program the curve does not count for
// presses of the coarse pair, in the firmware it says how many presses there are.
// The card says what the engine does.
func TestACardTellsWhatTheCoarsePairIsWorth(t *testing.T) {
	for _, x := range []struct {
		home  encoder.Home
		above string
		quick int64
	}{
		{encoder.InProgram, "12/s", 10}, {encoder.InFirmware, "12/s", 100}, {encoder.InProgram, "30/s", 10}, {encoder.InFirmware, "30/s", 10},
	} {
		p := profile(t, "power") // 10 at 25/s
		p.Home = x.home
		p.Settings = []scenarios.Setting{{Key: "firmware.coarse.above", Value: x.above}, {Key: "firmware.coarse.steps", Value: "10"}}
		// A path that lets everything through.
		ideal := encoder.Rig{
			Name:     "ideal",
			Knob:     encoder.Knob{Detents: 24, Cycles: 24, MinState: 0.25},
			Firmware: encoder.Firmware{Scan: 50 * time.Microsecond, Debounce: 1, CountsPerDetent: 1, Pulse: time.Millisecond, Gap: time.Millisecond, Queue: 1000},
			USB:      encoder.USB{Poll: 125 * time.Microsecond, Reports: encoder.QueuedReports}, Program: encoder.Program{Sampling: encoder.Immediate},
		}
		panel := demo.Panel("quillmoor")
		for i := range panel.Knobs {
			panel.Knobs[i].Inner = &scenarios.Rig{Rig: ideal}
			panel.Knobs[i].Outer = nil
			if panel.Knobs[i].Rings == 2 {
				panel.Knobs[i].Outer = panel.Knobs[i].Inner
			}
		}
		c, _ := card(t, panel, 3, profile(t, "plain"), p)
		want := fmt.Sprintf("a slow detent is 1°, a quick one (25 a second) %d°", x.quick)
		for _, k := range c.Knobs {
			for _, task := range k.Tasks {
				if task.Name == "heading" && task.Clicks[0] != want {
					t.Errorf("%s, above %s: %q, want %q", x.home, x.above, task.Clicks[0], want)
				}
			}
		}
		rig, err := scenarios.Apply(&p, ideal)
		if err != nil {
			t.Fatal(err)
		}
		g, err := p.Acceleration.Compile()
		if err != nil {
			t.Fatal(err)
		}
		turned := func(detents int) int64 {
			path, err := encoder.NewPath(encoder.Setup{Rig: &rig, Gain: g, Home: x.home})
			if err != nil {
				t.Fatal(err)
			}
			path.Start(draw.NewTrial(1, "", 0), 0)
			for i := range detents {
				path.Detent(int64(i+1)*int64(time.Second)/quickRate, +1)
			}
			path.Finish()
			return path.Shown(1 << 62)
		}
		if got := turned(12) - turned(11); got != x.quick {
			t.Errorf("%s, above %s: the engine goes %d, the card %d", x.home, x.above, got, x.quick)
		}
	}
}

// quickRate is a quick detent's rate on a card, a second.
const quickRate = 25

// What to set stands there as it stands in a file, with where to set it; a knob
// that cannot take it stays plain and says why.
func TestACardTellsWhatToSetWhere(t *testing.T) {
	p := scenarios.Profile{
		Name: "x", Home: encoder.InFirmware, Settings: []scenarios.Setting{{Key: "firmware.pulse", Value: "40ms"}, {Key: "program.sampling", Value: "events"}},
		Acceleration: accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}}, Hysteresis: 0.1}},
	}
	c, _ := card(t, demo.Panel("quillmoor"), 3, profile(t, "plain"), p)
	want := []string{
		"in the firmware: firmware.pulse 40ms",
		"in the program: program.sampling events",
		"in the firmware: acceleration.curve {ladder: {steps: [{above: 8/s, gain: 5}], hysteresis: 10%}}, which is gain 1 at 5/s, 5 at 12/s, 5 at 25/s, in the firmware",
	}
	if got := c.Knobs[0].Set; strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("set %q, want %q", got, want)
	}
	if k := c.Knobs[1]; k.Set != nil || len(k.Stays) != 1 || !strings.Contains(k.Stays[0], "firmware.pulse") {
		t.Errorf("the knob that reports counts is to be set: %+v", k)
	}
}

// A task that stays plain is named where its knob has others; the rings of a knob
// are told by what is behind each.
func TestACardNamesTheTaskThatStaysPlain(t *testing.T) {
	panel := demo.Panel("quillmoor")
	p := scenarios.Profile{Name: "base", Acceleration: accel.Acceleration{Base: 5}}
	c, _ := card(t, panel, 1, profile(t, "plain"), p)
	for i, k := range c.Knobs {
		for _, s := range k.Stays {
			if several := len(panel.Knobs[i].Tasks) > 1; several == strings.HasPrefix(s, "acceleration.base") {
				t.Errorf("%s: %q", k.Name, s)
			}
		}
		if k.Stays == nil {
			t.Errorf("%s takes a base of 5", k.Name)
		}
	}
	panel = demo.Panel("quillmoor")
	panel.Knobs = panel.Knobs[:1]
	coarse := demo.Rig("left-pulse")
	coarse.Firmware.Coarse = encoder.Coarse{Above: 12, Steps: 10}
	panel.Knobs[0].Outer = coarse
	c, _ = card(t, panel, 1, profile(t, "plain"), scenarios.Profile{Name: "as it is"})
	want := "outer ring: a slow detent is 1 MHz, a quick one (10 a second) 1 MHz|inner ring: a slow detent is 25 kHz, a quick one (10 a second) 25 kHz"
	if got := strings.Join(c.Knobs[0].Tasks[0].Clicks, "|"); got != want {
		t.Errorf("clicks %q, want %q", got, want)
	}
}

// The digest says whether two cards rest on the same inputs.
func TestTheDigestChangesWithEveryInput(t *testing.T) {
	seen := map[string]string{}
	note := func(what string, panel *scenarios.Panel, p scenarios.Profile) {
		c, _ := card(t, panel, 1, profile(t, "plain"), p)
		if len(c.Digest) != 64 || seen[c.Digest] != "" {
			t.Errorf("%s has the digest %q of %q", what, c.Digest, seen[c.Digest])
		}
		seen[c.Digest] = what
	}
	panel := func() *scenarios.Panel { return demo.Panel("quillmoor") }
	power := profile(t, "power")
	note("power", panel(), power)
	note("ladder", panel(), profile(t, "ladder"))
	changed := panel()
	changed.Knobs[0].Inner.Firmware.Pulse *= 2
	note("another rig", changed, power)
	changed = panel()
	changed.Knobs[2].Tasks[0].Task.Tolerance = scenarios.Unity
	note("another task", changed, power)
	changed = panel()
	changed.Knobs[2].Tasks[0].PerHour++
	note("another panel", changed, power)
	again, _ := card(t, panel(), 1, profile(t, "plain"), power)
	if seen[again.Digest] != "power" {
		t.Error("the same inputs have two digests")
	}
}

// named returns a panel of one knob on which everything is called the same.
func named(name string) *scenarios.Panel {
	panel := demo.Panel("quillmoor")
	panel.Knobs = panel.Knobs[2:3]
	panel.Name, panel.Knobs[0].Name, panel.Knobs[0].Inner.Name = name, name, name
	panel.Knobs[0].Tasks = panel.Knobs[0].Tasks[:1]
	panel.Knobs[0].Tasks[0].Task.Name, panel.Knobs[0].Tasks[0].Task.Unit = name, name
	return panel
}

// elements lists the tags of a page in their order.
func elements(t *testing.T, page string) string {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(strings.Replace(page, "<!DOCTYPE html>", "", 1)))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var list []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return strings.Join(list, " ")
		}
		if err != nil {
			t.Fatalf("%v\n%.3000s", err, page)
		}
		if e, ok := token.(xml.StartElement); ok {
			list = append(list, fmt.Sprint(e.Name.Local, e.Attr))
		}
	}
}

// shape is what Markdown sees of a document: how its lines begin, and how many
// cells a line of a table has. A backslash takes the next mark's meaning away.
func shape(text string) string {
	var list []string
	for line := range strings.Lines(text) {
		line = regexp.MustCompile(`\\[^a-zA-Z0-9 ]`).ReplaceAllString(line, "")
		line = strings.TrimSpace(line)
		start := regexp.MustCompile(`^[^\pL\pN ]*`).FindString(line)
		if strings.HasPrefix(line, "|:") {
			start = "rule"
		} else if strings.HasPrefix(line, "|") {
			start = "row"
		}
		list = append(list, fmt.Sprint(start, strings.Count(line, "|"), strings.ContainsAny(line, "<`[*_")))
	}
	return strings.Join(list, "\n")
}

// Names add no element to a page and no line, cell or mark to a Markdown document.
func TestNamesCannotBreakOutOfACard(t *testing.T) {
	write := func(name string) (page, text, terminal string) {
		p := scenarios.Profile{Name: name, Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 1}}}
		plain := profile(t, "plain")
		plain.Name = name + " plain"
		c, _ := card(t, named(name), 3, plain, p)
		c.Inputs = []string{name}
		c.Expect = []string{name} // sentences differ from name to name: other people at the knob
		var a, b, d bytes.Buffer
		for _, err := range []error{c.HTML(&a), c.Markdown(&b), c.Text(&d)} {
			if err != nil {
				t.Fatal(err)
			}
		}
		return a.String(), b.String(), d.String()
	}
	plainPage, plainText, _ := write("x")
	if !strings.Contains(plainPage, "not for certified") || !strings.Contains(plainText, "not for certified") {
		t.Error("the cautions are missing")
	}
	for _, name := range hostile {
		page, text, terminal := write(name)
		if got, want := elements(t, page), elements(t, plainPage); got != want {
			t.Errorf("%.60q makes the page\n%s\nnot\n%s", name, got, want)
		}
		if got, want := shape(text), shape(plainText); got != want {
			t.Errorf("%.60q makes the document\n%.3000s\nof the shape\n%s\nnot\n%s", name, text, got, want)
		}
		if strings.ContainsAny(terminal, "\r\t\x1b") {
			t.Errorf("%.60q reaches the terminal as it is", name)
		}
	}
}

func TestTheSameStudyMakesTheSameCard(t *testing.T) {
	var pages [2]bytes.Buffer
	for i := range pages {
		c, _ := card(t, demo.Panel("quillmoor"), 20, profile(t, "plain"), profile(t, "ladder"))
		if err := errors.Join(c.HTML(&pages[i]), c.Markdown(&pages[i])); err != nil {
			t.Fatal(err)
		}
		pages[i].WriteString(c.Section())
	}
	if pages[0].String() != pages[1].String() {
		t.Error("two cards differ")
	}
}

// A time among timeouts is told as longer than the limit.
func TestACardTellsTimeouts(t *testing.T) {
	panel := named("x")
	panel.Knobs[0].Tasks[0].Task.Limit = 1e9
	c, r := card(t, panel, 40, profile(t, "plain"), profile(t, "plain"))
	if r.Trials[0][0].Summary().Timeouts < 30 {
		t.Fatalf("%d timeouts", r.Trials[0][0].Summary().Timeouts)
	}
	if got := c.Knobs[0].Tasks[0].Time.After; !strings.HasPrefix(got, ">1 s") || strings.Contains(got, "Inf") {
		t.Errorf("%s", got)
	}
}

// A card says everything once, in order: what to set, what a click does, what to
// expect, what it rests on.
func TestACardIsWrittenWhole(t *testing.T) {
	c := &export.Card{
		Panel: "desk", Profile: "mine", Before: "plain", Operator: "practised", Seed: 7, Trials: 60, Digest: "abc",
		Expect: []string{"heading: quicker."}, Inputs: []string{"mine.yaml, SHA-256: 12"}, Cautions: []string{"Not for navigation."},
		Knobs: []export.KnobCard{{
			Name: "radio", Rigs: "outer ring a, inner ring b", Set: []string{"in the firmware: firmware.pulse 40ms"}, Stays: []string{"nav: no pulses"},
			Tasks: []export.TaskCard{{Name: "com", Clicks: []string{"a slow detent is 25 kHz"}, Dials: []export.DialCard{{Slow: "25 kHz", Quick: "175 kHz", Rate: 20, Times: 7}}, Time: export.Change{Before: "9.0 s", After: "5.0 s"}, Past: export.Change{Before: "1 %", After: "2 %"}}},
		}},
	}
	const notes = "Simulated: operator practised, 60 trials a task, seed 7. Before is plain. A number takes the mean time; times before and after are medians, from the target's appearance to the number standing on it; overshoot is the share of dialings that went past; in brackets 95 % intervals."
	const detents = "A slow detent is one of 2 a second, a quick one of as many a second as this path lets through, up to 25."
	if got, want := strings.Join(c.Notes(), "|"), strings.Join([]string{notes, detents, "mine.yaml, SHA-256: 12", "All inputs, SHA-256: abc", "Not for navigation."}, "|"); got != want {
		t.Errorf("notes %s, want %s", got, want)
	}
	var out bytes.Buffer
	if err := c.Text(&out); err != nil {
		t.Fatal(err)
	}
	last := -1
	text := strings.Join(strings.Fields(out.String()), " ")
	for _, part := range []string{
		"Panel desk, profile mine", "Knob radio (outer ring a, inner ring b)", "Set in the firmware: firmware.pulse 40ms", "Stays plain: nav: no pulses",
		"com, a slow detent is 25 kHz", "time before", "com", "9.0 s", "5.0 s", "1 %", "2 %", "heading: quicker.", "Simulated: operator practised", detents, "SHA-256: 12", "SHA-256: abc", "Not for navigation.",
	} {
		at := strings.Index(text[max(0, last):], part)
		if at < 0 {
			t.Fatalf("%q does not come after what is before it:\n%s", part, out.String())
		}
		last = max(0, last) + at
	}
	c.Partial = true
	if n := c.Notes(); len(n) != 6 || n[2] != "Partial: interrupted; fewer trials than asked for." {
		t.Errorf("a partial card: %q", n)
	}
	var markdown, page bytes.Buffer
	if err := errors.Join(c.Markdown(&markdown), c.HTML(&page)); err != nil {
		t.Fatal(err)
	}
	for _, part := range []string{"outer ring a, inner ring b", "175 kHz"} {
		if !strings.Contains(page.String(), part) {
			t.Errorf("no %q on the printed card: %s", part, page.String())
		}
	}
	for _, text := range []string{markdown.String(), page.String()} {
		for _, part := range []string{"desk", "mine", "radio", "firmware.pulse 40ms", "nav: no pulses", "25 kHz", "9.0 s", "5.0 s", "heading: quicker.", "Partial", "abc", "Not for navigation."} {
			if !strings.Contains(text, part) {
				t.Errorf("no %q in %s", part, text)
			}
		}
	}
	if markdown.String() == out.String() {
		t.Error("Markdown is like text")
	}
}

// What a card says of settings: where each is set, of every group of keys, and of a
// profile that sets nothing.
func TestACardTellsWhereEachSettingIs(t *testing.T) {
	panel := named("x")
	panel.Knobs[0].Tasks[0].Task.Unit = "deg"
	panel.Knobs[0].Inner.Knob.Push = true
	p := scenarios.Profile{Name: "x", PressCoarse: 20}
	for _, s := range strings.Fields("knob.bounce=1ms firmware.scan=2ms usb.poll=1ms system.latency=2ms program.frames=60/s display.latency=20ms") {
		key, value, _ := strings.Cut(s, "=")
		p.Settings = append(p.Settings, scenarios.Setting{Key: key, Value: value})
	}
	c, _ := card(t, panel, 1, profile(t, "plain"), p)
	want := []string{
		"choose the part: knob.bounce 1ms", "in the firmware: firmware.scan 2ms", "in the USB descriptor: usb.poll 1ms", "in the operating system: system.latency 2ms",
		"in the program: program.frames 60/s", "at the display: display.latency 20ms", "in the program: a push of the knob makes a step count 20, another push 1 again",
	}
	if got := c.Knobs[0].Set; strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("set %q, want %q", got, want)
	}
	if got := c.Knobs[0].Tasks[0].Clicks; len(got) != 1 || got[0] != "a slow detent is 1°, a quick one (20 a second) 1°; after a push 20 times as much" {
		t.Errorf("clicks %q", got)
	}
	c, _ = card(t, named("x"), 1, profile(t, "plain"), scenarios.Profile{Name: "x"})
	if got := c.Knobs[0].Set; len(got) != 1 || got[0] != "nothing: one step a detent, at any speed" {
		t.Errorf("a plain profile sets %q", got)
	}
}

// Rings with a rig each are named, and one rig for all takes their place; a digit
// moves by itself; an axis has no clicks.
func TestACardTellsOfEveryDial(t *testing.T) {
	o := scenarios.Practised()
	plain, power := profile(t, "plain"), profile(t, "power")
	panel := demo.Panel("quillmoor")
	panel.Knobs = panel.Knobs[:1]
	panel.Knobs[0].Outer = demo.Rig("right-relative")
	for _, x := range []struct {
		rig  *scenarios.Rig
		want string
	}{{nil, "outer ring right-relative, inner ring left-pulse"}, {demo.Rig("middle-keys"), "middle-keys"}} {
		r, err := compare.Run(context.Background(), &compare.Study{Panel: panel, Trials: 2, Seed: 1, Workers: 1, Candidates: []compare.Candidate{
			{Name: "plain", Profile: &plain, Operator: &o, Rig: x.rig}, {Name: "power", Profile: &power, Operator: &o, Rig: x.rig},
		}})
		if err != nil {
			t.Fatal(err)
		}
		c, err := export.NewCard(r, 1)
		if err != nil {
			t.Fatal(err)
		}
		if c.Knobs[0].Rigs != x.want || c.Trials != 2 || c.Seed != 1 || c.Before != "plain" || c.Profile != "power" || c.Operator != o.Name || c.Partial {
			t.Errorf("%+v, want rigs %s", c, x.want)
		}
	}
	squawk := demo.Panel("quillmoor")
	squawk.Knobs = squawk.Knobs[2:3]
	squawk.Knobs[0].Tasks = []scenarios.Use{{Task: demo.Task("transponder"), PerHour: 1}}
	c, _ := card(t, squawk, 1, plain, power)
	if got := c.Knobs[0].Tasks[0].Clicks; len(got) != 1 || !strings.HasPrefix(got[0], "each digit: a slow detent is 1") || !strings.Contains(got[0], "a quick one (10 a second) about 3") {
		t.Errorf("clicks of digits %q", got)
	}
	axis := named("x")
	axis.Knobs[0].Inner.Firmware.Output = encoder.AxisOutput
	axis.Knobs[0].Inner.Firmware.Axis = encoder.Axis{Bits: 10, CountsPerDetent: 3}
	scenarios.Settle(&axis.Knobs[0].Inner.Rig)
	c, _ = card(t, axis, 1, plain, power)
	if got := c.Knobs[0].Tasks[0].Clicks; got != nil {
		t.Errorf("clicks of an axis %q", got)
	}
}

// Printed cards hold at most four rows, and the habit is about what costs most.
func TestACardHasRoomForFourRows(t *testing.T) {
	k := export.KnobCard{Name: "x"}
	for i := range 6 {
		k.Tasks = append(k.Tasks, export.TaskCard{Name: fmt.Sprint("task ", i), Takes: "5.0 s", Dials: []export.DialCard{{Slow: "1°", Quick: "10°", Rate: 25, Times: 10}}})
	}
	l := k.Leaves()
	if len(l) != 2 || len(l[0].Rows) != 4 || len(l[1].Rows) != 2 || l[0].Part != "1 of 2" || l[1].Rows[1].Name != "task 5" {
		t.Errorf("%+v", l)
	}
	for _, x := range []struct {
		change func(*export.TaskCard)
		want   string
	}{
		{func(*export.TaskCard) {}, "Flick for the way"},
		{func(c *export.TaskCard) { c.Overshoot = 0.18 }, "18 in 100 turns to task 0 run past"},
		{func(c *export.TaskCard) { c.Dials[0].Rate = 10 }, "Turn no faster than 10 clicks a second"},
		{func(c *export.TaskCard) { c.Lost = 0.2 }, "20 in 100 clicks are lost"},
	} {
		if x.change(&k.Tasks[0]); !strings.HasPrefix(k.Habit(), x.want) {
			t.Errorf("%q, want %q", k.Habit(), x.want)
		}
	}
}

// A printed card has a row for each dial: its ring, and its task where the knob has
// several; what a task takes stands once. Units that a row has no room for twice are
// said once, on all rows.
func TestRowsOfAPrintedCard(t *testing.T) {
	dial := func(ring, slow, quick string, rate int) export.DialCard {
		return export.DialCard{Ring: ring, Slow: slow, Quick: quick, Rate: rate, Times: 1}
	}
	heading := export.TaskCard{Name: "heading", Takes: "4.0 s", Dials: []export.DialCard{dial("", "1°", "10°", 25)}}
	axis := export.TaskCard{Name: "volume", Takes: "2.0 s"}
	com := export.TaskCard{Name: "com", Takes: "7.0 s", Dials: []export.DialCard{dial("outer", "1 MHz", "10 MHz", 12), dial("inner", "25 kHz", "2.5 MHz", 12)}}
	altitude := func(quick string) export.TaskCard {
		return export.TaskCard{Name: "altitude", Takes: "6.0 s", Dials: []export.DialCard{dial("", "100 ft", quick, 10)}}
	}
	type row = export.Row
	for _, x := range []struct {
		tasks []export.TaskCard
		want  []row
		rate  string
	}{
		{[]export.TaskCard{axis}, []row{{"volume", "–", "–", "2.0 s"}}, ""},
		{[]export.TaskCard{heading}, []row{{"heading", "1°", "10°", "4.0 s"}}, "slow 2, quick 25 clicks/s"},
		{[]export.TaskCard{com}, []row{{"outer ring", "1 MHz", "10 MHz", "7.0 s"}, {"inner ring", "25 kHz", "2.5 MHz", ""}}, "slow 2, quick 12 clicks/s"},
		{
			[]export.TaskCard{heading, com, axis},
			[]row{{"heading", "1°", "10°", "4.0 s"}, {"com, outer", "1 MHz", "10 MHz", "7.0 s"}, {"com, inner", "25 kHz", "2.5 MHz", ""}, {"volume", "–", "–", "2.0 s"}},
			"slow 2, quick 12 to 25 clicks/s",
		},
		{ // sixteen letters are room enough
			[]export.TaskCard{altitude("1234567 ft"), heading}, []row{{"altitude", "100 ft", "1234567 ft", "6.0 s"}, {"heading", "1°", "10°", "4.0 s"}},
			"slow 2, quick 10 to 25 clicks/s",
		},
		{ // seventeen are not, and kHz is not MHz
			[]export.TaskCard{altitude("12345678 ft"), com},
			[]row{{"altitude", "100 ft", "12345678", "6.0 s"}, {"com, outer", "1 MHz", "10", "7.0 s"}, {"com, inner", "25 kHz", "2.5 MHz", ""}},
			"slow 2, quick 10 to 12 clicks/s",
		},
	} {
		k := export.KnobCard{Name: "x", Tasks: x.tasks}
		leaves := k.Leaves()
		if len(leaves) != 1 || !slices.Equal(leaves[0].Rows, x.want) || leaves[0].Rate != x.rate || leaves[0].Part != "" {
			t.Errorf("%+v\nwant %+v, %q", leaves, x.want, x.rate)
		}
	}
	eight := export.KnobCard{Tasks: slices.Repeat([]export.TaskCard{heading}, 8)}
	if l := eight.Leaves(); len(l) != 2 || len(l[0].Rows) != 4 || len(l[1].Rows) != 4 || l[1].Part != "2 of 2" {
		t.Errorf("eight rows: %+v", l)
	}
}

// The habit is advised from where it begins to matter: 5 lost clicks in 100, a quick
// turn under 16 clicks a second, 10 overshoots in 100, three times the way.
func TestAHabitBeginsWhereItMatters(t *testing.T) {
	for _, x := range []struct {
		lost, past, times float64
		rate              int
		want              string
	}{
		{0.044, 0.094, 2.9, 16, "Turn in long strokes"},
		{0.045, 0.094, 2.9, 16, "5 in 100 clicks are lost"},
		{0.044, 0.2, 9, 15, "Turn no faster than 15 clicks a second"},
		{0.044, 0.095, 9, 16, "10 in 100 turns to near run past"},
		{0.044, 0.094, 3, 16, "Flick for the way"},
	} {
		calm := export.TaskCard{Name: "calm", Overshoot: x.past / 2, Dials: []export.DialCard{{Rate: 25, Times: 1}}}
		k := export.KnobCard{Tasks: []export.TaskCard{calm, {Name: "near", Lost: x.lost, Overshoot: x.past, Dials: []export.DialCard{{Rate: x.rate, Times: x.times}, {Rate: 25, Times: 1}}}, calm}}
		if got := k.Habit(); !strings.HasPrefix(got, x.want) {
			t.Errorf("%+v: %q", x, got)
		}
	}
}
