package export_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
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
		{"plain", "heading", []string{"a slow detent is 1 deg, a quick one 1 deg"}},
		{"power", "heading", []string{"a slow detent is 1 deg, a quick one 10 deg"}},
		{"power", "altitude", []string{"a slow detent is 100 ft, a quick one 1000 ft"}},
		{"power", "com-25", []string{"outer ring: a slow detent is 1000 kHz, a quick one 10000 kHz", "inner ring: a slow detent is 25 kHz, a quick one 250 kHz"}},
		{"linear", "heading", []string{"a slow detent is 1 deg, a quick one about 9 deg"}}, // 1 + 3·2.5 = 8.5
		{"coarse-pair", "heading", []string{"a slow detent is 1 deg, a quick one 10 deg"}},
		{"coarse-pair", "nav", []string{"outer ring: a slow detent is 1000 kHz, a quick one 1000 kHz", "inner ring: a slow detent is 50 kHz, a quick one 50 kHz"}}, // stays plain
		{"press", "heading", []string{"a slow detent is 1 deg, a quick one 1 deg; after a push 10 times as much"}},
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

// What to set stands there as it stands in a file, with where to set it; a knob
// that cannot take it stays plain and says why.
func TestACardTellsWhatToSetWhere(t *testing.T) {
	p := scenarios.Profile{
		Name: "x", Home: encoder.InFirmware, Settings: []scenarios.Setting{{Key: "firmware.on", Value: "40ms"}, {Key: "program.sampling", Value: "events"}},
		Acceleration: accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}}, Hysteresis: 0.1}},
	}
	c, _ := card(t, demo.Panel("quillmoor"), 3, profile(t, "plain"), p)
	want := []string{
		"in the firmware: firmware.on 40ms",
		"in the program: program.sampling events",
		"in the firmware: acceleration.curve {ladder: {steps: [{above: 8/s, gain: 5}], hysteresis: 10%}}, which is gain 1 at 5/s, 5 at 12/s, 5 at 25/s, in the firmware",
	}
	if got := c.Knobs[0].Set; strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("set %q, want %q", got, want)
	}
	if k := c.Knobs[1]; k.Set != nil || len(k.Stays) != 1 || !strings.Contains(k.Stays[0], "firmware.on") {
		t.Errorf("the knob that reports counts is to be set: %+v", k)
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
	changed.Knobs[0].Inner.Firmware.On *= 2
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
		if err := errors.Join(c.HTML(&pages[i]), c.Markdown(&pages[i]), c.Section(&pages[i])); err != nil {
			t.Fatal(err)
		}
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
