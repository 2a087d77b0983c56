package recording_test

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"

	"dialwright/encoder/recording"
)

// A spreadsheet with a decimal comma has rewritten the recording; a line is wrong.
func ExampleNewReader() {
	r, err := recording.NewReader(strings.NewReader(`time_s;control;event
0,0125;wheel;-2
0,5;wheel;two
1,03;btn288;press
`), "desk.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("native:", r.Format == recording.Native)
	for e, err := range r.Events() {
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Println(e.Time, e.Control, e.Kind, e.N)
	}
	// Output:
	// native: true
	// 12500000 wheel count -2
	// desk.csv:3:11: event: found "two"; press, release or a signed whole number would do
	// 1030000000 btn288 press 0
}

func ExampleWriter() {
	w := recording.NewWriter(os.Stdout, recording.Device{Name: "left knob", RepeatDelay: 250e6, RepeatPeriod: 33e6})
	w.Write(recording.Event{Time: 0, Control: "key30", Kind: recording.Press})
	w.Write(recording.Event{Time: 250e6, Control: "key30", Kind: recording.Repeat})
	w.Write(recording.Event{Time: 264_500_000, Control: "key30", Kind: recording.Release})
	w.Flush()
	// Output:
	// # device: left knob
	// # repeat_delay_ms: 250
	// # repeat_period_ms: 33
	// time_s,control,event
	// 0,key30,press
	// 0.25,key30,repeat
	// 0.2645,key30,release
}

func ExampleBursts() {
	r, _ := recording.NewReader(strings.NewReader("time_s,control,event\n0,dial,1\n0.08,dial,2\n0.16,dial,1\n0.5,dial,-1\n0.6,dial,-1\n"), "dial.csv")
	events, _ := r.All()
	bursts := recording.Bursts(slices.Values(events), recording.Rest)
	for _, b := range bursts {
		fmt.Println(b.Notches, "notches in", b.Reports, "reports, net", b.Net)
	}
	fmt.Println("pauses", recording.Pauses(bursts))
	// Output:
	// 4 notches in 3 reports, net 4
	// 2 notches in 2 reports, net -2
	// pauses [340000000]
}

// A recording replayed through a capture: only the dial is kept.
func ExampleCapture() {
	knob, _ := recording.NewKnob("dial")
	from, _ := recording.NewReader(strings.NewReader("time_s,control,event\n2,dial,1\n2.1,key30,press\n2.25,dial,2\n"), "desk.csv")
	c := recording.Capture{Knob: knob}
	if err := c.Run(context.Background(), from, recording.NewWriter(os.Stdout, from.Device)); err != nil {
		fmt.Println(err)
	}
	// Output:
	// time_s,control,event
	// 0,dial,1
	// 0.25,dial,2
}
