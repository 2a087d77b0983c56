package workbench_test

import (
	"io"
	"reflect"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
)

// What the page saves of dialings is what the reader of fit takes, to the nanosecond, and
// the page reads it back itself.
func TestThePagesDialingsAreReadBack(t *testing.T) {
	var got struct {
		Text  string
		Again string
	}
	node(t, `
import {headLine, dialingLine, readDialings} from "./log.js";
import {Path} from "./path.js";
const head = {
  device: {kind: "hid", name: "desk knob", clicksPerTurn: 24}, rates: {stampMs: 0.1, screenPerS: 60}, program: {framesPerS: 30, lagMs: 50},
  tasks: {heading: {unit: "deg", low: 1, count: 360, wrap: true, tolerance: 0}},
  settings: {A: {kind: "profile", version: 1, name: "plain"}, B: {kind: "profile", version: 1, name: "x", acceleration: {base: 2}}},
};
const p = new Path({frames: 30, phase: 12.5, lag: 50, low: 1, count: 360, wrap: true, start: 3});
for (const [t, n] of [[812.4004, -2], [874.1, -1], [930.25, -1]]) p.detent(t, n);
const d = {task: "heading", setting: "A", pair: 1, order: 2, start: 3, target: 359, phase: 12.5, shown: p.finish(), events: p.events(), end: 1512.8, outcome: "right"};
const text = headLine(head) + dialingLine(d) + dialingLine({...d, pair: 2, outcome: "gave-up"});
const back = readDialings(text + '{"task":"head');
console.log(JSON.stringify({text, again: headLine(back) + back.dialings.map(dialingLine).join("")}));
`, nil, &got)
	if got.Again != got.Text {
		t.Errorf("read back as\n%s\nof\n%s", got.Again, got.Text)
	}
	d, err := (&file.Loader{In: strings.NewReader(got.Text)}).Dialings("-")
	if err != nil {
		t.Fatalf("%v\n%s", err, got.Text)
	}
	if len(d.All) != 2 || d.Device.ClicksPerTurn != 24 || d.Rates.Stamp != 100*time.Microsecond || d.Settings["B"].Acceleration.Base != 2 || d.All[1].Outcome != scenarios.GaveUp {
		t.Errorf("%+v", d)
	}
	x := d.All[0]
	frame := func(k int64) int64 { return 12_500_000 + k*33_333_333 + 50_000_000 }
	if want := []encoder.Change{{At: frame(24), Value: 2}, {At: frame(24), Value: 1}, {At: frame(26), Value: 0}, {At: frame(28), Value: 359}}; !reflect.DeepEqual(x.Shown, want) {
		t.Errorf("shown %v, want %v", x.Shown, want)
	}
	if want := []scenarios.DialedClick{{At: 812_399_000, Clicks: -1}, {At: 812_400_000, Clicks: -1}, {At: 874_100_000, Clicks: -1}, {At: 930_250_000, Clicks: -1}}; !reflect.DeepEqual(x.Clicks, want) {
		t.Errorf("clicks %v, want %v", x.Clicks, want)
	}
}

// What the page saves of a recording is read as the same events.
func TestThePagesRecordingsAreReadBack(t *testing.T) {
	var got struct {
		Text  string
		Again string
	}
	node(t, `
import {recordingText, readRecording} from "./log.js";
const events = [
  {t: 5000.25, control: "slow turn", event: "mark"}, {t: 5000.25, control: "button3", event: "press"},
  {t: 5030.5, control: "button3", event: "release"}, {t: 5030.4, control: 'a "b", c', event: -3}, {t: 9000, control: "wheel", event: 1},
];
const text = recordingText({device: "desk knob", partial: "page closed", events});
console.log(JSON.stringify({text, again: recordingText(readRecording(text))}));
`, nil, &got)
	if got.Again != got.Text {
		t.Errorf("read back as\n%s\nof\n%s", got.Again, got.Text)
	}
	r, err := recording.NewReader(strings.NewReader(got.Text), "page.csv")
	if err != nil {
		t.Fatal(err)
	}
	var events []recording.Event
	for {
		e, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, e)
	}
	want := []recording.Event{
		{Time: 0, Control: "slow turn", Kind: recording.Mark}, {Time: 0, Control: "button3", Kind: recording.Press}, {Time: 30_250_000, Control: "button3", Kind: recording.Release},
		{Time: 30_250_000, Control: `a "b", c`, N: -3}, {Time: 3_999_750_000, Control: "wheel", N: 1},
	}
	if !reflect.DeepEqual(events, want) {
		t.Errorf("%+v, want %+v", events, want)
	}
}
