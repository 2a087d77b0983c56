package fit

import (
	"bytes"
	"context"
	"math"
	"reflect"
	"runtime"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
	"dialwright/testdata/heap"
)

// Events that are kept small are the events that came.
func TestKeptEventsAreThoseThatCame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []recording.Event
		for range rapid.IntRange(0, 30).Draw(t, "events") {
			all = append(all, recording.Event{
				Time: rapid.Int64().Draw(t, "time"), Control: rapid.SampledFrom([]string{"", "a", "btn288", "event7/wheel"}).Draw(t, "control"),
				Kind: recording.Kind(rapid.IntRange(0, int(recording.Mark)).Draw(t, "kind")), N: rapid.Int64Range(-mostN, mostN).Draw(t, "n"),
			})
		}
		s := kept(slices.Values(all))
		if got := slices.Collect(s.all()); !slices.Equal(got, all) {
			t.Fatalf("%v\nbecame %v", all, got)
		}
		i := rapid.IntRange(0, len(all)).Draw(t, "from")
		j := rapid.IntRange(i, len(all)).Draw(t, "to")
		press := func(e recording.Event) bool { return e.Kind == recording.Press }
		want := slices.DeleteFunc(slices.Clone(all[i:j]), func(e recording.Event) bool { return !press(e) })
		if got := slices.Collect(s.part(i, j).only(press)); !slices.Equal(got, want) || s.part(i, j).any(press) != (len(want) > 0) {
			t.Fatalf("presses from %d to %d are %v, want %v", i, j, got, want)
		}
	})
}

// A part of many runs is spread over all of them; few are taken as they are.
func TestFewerRunsAreSpreadOverAll(t *testing.T) {
	var rs [][]int64
	n := 0
	for i := range 12_000 {
		r := make([]int64, 1+i%25)
		r[0] = int64(i)
		rs, n = append(rs, r), n+len(r)
	}
	rs = append(rs, make([]int64, 40*longestRun)) // nobody rested
	n += 40 * longestRun
	if got := fewer(rs, n); !reflect.DeepEqual(got, rs) {
		t.Error("as many as there are were not taken as they are")
	}
	some, early := 0, 0
	for _, r := range fewer(rs, n/10) {
		some += len(r)
		if r[0] < 6000 && len(r) < longestRun {
			early += len(r)
		}
	}
	if math.Abs(float64(some)/float64(n)-0.1) > 0.01 || math.Abs(float64(early)/78_000-0.1) > 0.01 {
		t.Errorf("%d of %d presses, %d of the first half", some, n, early)
	}
}

// longRecording is a native recording of fast turns with pulses, about so many events.
func longRecording(t testing.TB, events int) []byte {
	rig, o := encoder.Default(), scenarios.Practised()
	var steps []recording.Step
	for i := range events / 48 {
		steps = append(steps, recording.Step{Name: "fast turn", Way: int64(1 - 2*(i%2)), Rest: 5e8})
	}
	source := draw.NewTrial(7, "turned", events)
	_, l, err := sit(&rig, &o, source, steps)
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	w := recording.NewWriter(&text, recording.Device{})
	for _, e := range l.recorded(source, 20e3) {
		if err := w.Write(e); err != nil {
			t.Fatal(err)
		}
	}
	w.End()
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return text.Bytes()
}

// A fit of ten times the events takes at most ten times the memory, and little of it.
func TestAFitTakesLittleAnEvent(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	var m runtime.MemStats
	text := longRecording(t, 120_000)
	before := heap.Held()
	reader, err := recording.NewReader(bytes.NewReader(text), "turned")
	if err != nil {
		t.Fatal(err)
	}
	r, err := Read(reader, "turned")
	if err != nil {
		t.Fatal(err)
	}
	events := len(r.events.list)
	if each := float64(heap.Held()-before) / float64(events); each > 24 {
		t.Errorf("%.0f bytes an event are held of %d", each, events)
	}
	runtime.ReadMemStats(&m)
	made := m.TotalAlloc
	if _, err := Run(context.Background(), &Study{Recordings: []*Recording{r}}); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&m)
	all := m.TotalAlloc - made
	small, err := recordingOf("part", r.Device, kept(r.events.all()).part(0, events/10), r.Knob.Clockwise.Control, r.Knob.Counter.Control)
	if err != nil {
		t.Fatal(err)
	}
	made = m.TotalAlloc
	if _, err := Run(context.Background(), &Study{Recordings: []*Recording{small}}); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&m)
	few := m.TotalAlloc - made
	each := float64(int64(all)-int64(few)) / float64(events-events/10)
	t.Logf("%d events: %d MB made, %d MB for a tenth; %.0f bytes an event more", events, all>>20, few>>20, each)
	if each > 400 {
		t.Errorf("%.0f bytes are made an event", each)
	}
}
