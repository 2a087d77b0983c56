package encoder_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"

	"dialwright/encoder"
)

func TestModesComeFromTheirTypes(t *testing.T) {
	for _, x := range []struct{ got, want []string }{
		{encoder.Words[encoder.Decoder](), []string{"table", "edge"}},
		{encoder.Words[encoder.Output](), []string{"buttons", "keys", "relative", "axis"}},
		{encoder.Words[encoder.Overflow](), []string{"drop-new", "drop-old"}},
		{encoder.Words[encoder.Reversal](), []string{"keep", "clear"}},
		{encoder.Words[encoder.Reports](), []string{"state", "queued"}},
		{encoder.Words[encoder.Sampling](), []string{"state", "events", "immediate"}},
		{encoder.Words[encoder.Excess](), []string{"carry", "drop"}},
		{encoder.Words[encoder.Repeats](), []string{"apply", "ignore"}},
		{encoder.Words[encoder.Home](), []string{"program", "firmware"}},
	} {
		if !slices.Equal(x.got[:min(len(x.got), len(x.want))], x.want) { // there may be more one day
			t.Errorf("%v, want %v", x.got, x.want)
		}
	}
	if got := encoder.Modes[encoder.Output](); !slices.Equal(got[:4], []encoder.Output{encoder.Buttons, encoder.Keys, encoder.Relative, encoder.AxisOutput}) {
		t.Errorf("outputs %v", got)
	}
	for o, want := range map[encoder.Output]bool{encoder.Buttons: true, encoder.Keys: true, encoder.Relative: false, encoder.AxisOutput: false} {
		if o.Lines() != want {
			t.Errorf("%v drives lines: %v", o, o.Lines())
		}
	}
}

// The reference model knows every mode that there is, each by its word, and says
// the same of it: on a turn that is refused, merged and missed in places.
func TestTheTwinKnowsEveryMode(t *testing.T) {
	var all []twinCase
	add := func(change func(*encoder.Rig)) {
		r := encoder.Default()
		r.Knob.Bounce, r.Program.Jitter, r.Display.Latency = 0, 0, 0
		r.Firmware.Phase, r.USB.Phase, r.Program.Phase = encoder.PhaseAt(0), encoder.PhaseAt(0), encoder.PhaseAt(0)
		r.Firmware.Queue = 2
		change(&r)
		if r.Firmware.Output == encoder.AxisOutput {
			r.Firmware.Axis = encoder.Axis{Bits: 8, CountsPerDetent: 3}
		}
		if r.Program.Sampling == encoder.Events {
			r.Program.MaxPerFrame = 1
		}
		c := twinCase{rig: r, scale: encoder.Scale{Count: 100}, start: 50, pulses: 1, steps: 1}
		for i := range 12 {
			c.turns = append(c.turns, turn{int64(i+1) * int64(45*time.Millisecond), [...]int8{1, 1, 1, 1, 1, 1, 1, -1, -1, -1, 1, 1}[i]})
		}
		all = append(all, c)
	}
	for _, o := range encoder.Modes[encoder.Output]() {
		for _, s := range encoder.Modes[encoder.Sampling]() {
			add(func(r *encoder.Rig) { r.Firmware.Output, r.Program.Sampling = o, s })
		}
	}
	for _, m := range encoder.Modes[encoder.Decoder]() {
		add(func(r *encoder.Rig) { r.Firmware.Decoder = m })
	}
	for _, m := range encoder.Modes[encoder.Overflow]() {
		add(func(r *encoder.Rig) { r.Firmware.Overflow = m })
	}
	for _, m := range encoder.Modes[encoder.Reversal]() {
		add(func(r *encoder.Rig) { r.Firmware.Reversal = m })
	}
	for _, m := range encoder.Modes[encoder.Reports]() {
		add(func(r *encoder.Rig) { r.USB.Reports = m })
	}
	for _, m := range encoder.Modes[encoder.Excess]() {
		add(func(r *encoder.Rig) { r.Program.Sampling, r.Program.Excess = encoder.Events, m })
	}
	for _, m := range encoder.Modes[encoder.Repeats]() {
		add(func(r *encoder.Rig) {
			r.Firmware.Output, r.Firmware.Hold, r.Program.Sampling, r.Program.Repeats = encoder.Keys, 200*time.Millisecond, encoder.Events, m
			r.System.Repeat.Delay = 20 * time.Millisecond
		})
	}
	var in bytes.Buffer
	for _, c := range all {
		fmt.Fprintln(&in, text(c))
	}
	cmd := twin(t)
	cmd.Stdin = &in
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("twin: %v", err)
	}
	lines := bufio.NewScanner(bytes.NewReader(out))
	lines.Buffer(nil, 1<<24)
	answers := map[string]bool{}
	for _, c := range all {
		var theirs twinAnswer
		if !lines.Scan() {
			t.Fatal("twin: an answer is missing")
		}
		if err := json.Unmarshal(lines.Bytes(), &theirs); err != nil || theirs.Error != "" {
			t.Errorf("twin: %v%s: %s", err, theirs.Error, text(c))
			continue
		}
		if ours := c.ours(t); text(ours) != text(theirs) {
			t.Errorf("%s\nours   %s\ntheirs %s", text(c), text(ours), text(theirs))
		}
		answers[text(theirs)] = true
	}
	if len(answers) < 12 {
		t.Errorf("only %d answers differ: a mode may not be looked at", len(answers))
	}
}
