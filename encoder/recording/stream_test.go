package recording_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"dialwright/encoder/recording"

	"pgregory.net/rapid"
)

// However the bytes of a recording come, a stream is read as the file is.
func TestAStreamIsReadAsTheFile(t *testing.T) {
	for name := range bulk(0) {
		rapid.Check(t, func(t *rapid.T) {
			b, err := io.ReadAll(bulk(rapid.IntRange(1, 40).Draw(t, "events"))[name])
			if err != nil {
				t.Fatal(err)
			}
			content := string(b)
			record := map[string]int{"input_event": 24, "js_event": 8}[name]
			if record == 0 && rapid.Bool().Draw(t, "marked") {
				content = "\xef\xbb\xbf" + content
			}
			whole, err := recording.NewReader(strings.NewReader(content), "file")
			if err != nil {
				t.Fatal(err)
			}
			want, err := whole.All()
			if err != nil {
				t.Fatal(err)
			}
			chunk := rapid.IntRange(1, 200).Draw(t, "bytes at once")
			if record > 0 {
				chunk = record * (1 + chunk/record) // as the system gives them
			}
			r, err := recording.NewStream(&halting{content, chunk}, "stream")
			if err != nil {
				t.Fatal(err)
			}
			if got, err := r.All(); err != nil || !slices.Equal(got, want) {
				t.Fatalf("%s: %v, %v; want %v", name, got, err, want)
			}
		})
	}
	for _, content := range []string{"", "\n\n", "time_s,x\n", "a word"} {
		if r, err := recording.NewStream(iotest.OneByteReader(strings.NewReader(content)), "stream"); err == nil {
			t.Errorf("%q is read as %v", content, r.Format)
		}
	}
	broken := errors.New("unplugged")
	if _, err := recording.NewStream(iotest.ErrReader(broken), "stream"); !errors.Is(err, broken) {
		t.Errorf("a broken stream: %v", err)
	}
}

// halting gives n bytes at a time.
type halting struct {
	rest string
	n    int
}

func (h *halting) Read(p []byte) (int, error) {
	if h.rest == "" {
		return 0, io.EOF
	}
	n := copy(p, h.rest[:min(h.n, len(h.rest))])
	h.rest = h.rest[n:]
	return n, nil
}

// A stream that is not at its end gives the events that have come.
func TestAStreamGivesEventsAsTheyCome(t *testing.T) {
	report := dump([]rec{{5e6, 1, 288, 1}, {5e6, 0, 0, 0}}, 24)
	for name, content := range map[string]string{
		"records of 24 bytes": report,
		"records of 16 bytes": dump([]rec{{5e6, 1, 288, 1}, {5e6, 0, 0, 0}}, 16),
		"js_event":            jsDump([4]int64{7, 0, 0x81, 0}, [4]int64{9, 1, 1, 0}),
		"native":              "time_s,control,event\n0,btn288,press\n",
		"evemu":               evemuText([]rec{{5e6, 1, 288, 1}, {5e6, 0, 0, 0}}),
		"json":                `{"t_ms":0,"control":"dial","event":1}` + "\n",
	} {
		out, in := io.Pipe()
		go in.Write([]byte(content)) // and nothing more
		r, err := recording.NewStream(out, "stream")
		if err != nil {
			t.Fatal(err)
		}
		if e, err := r.Next(); err != nil || e.Control == "" {
			t.Errorf("%s: %+v, %v", name, e, err)
		}
		out.Close()
	}
}

// recorded runs a capture of a reader and returns what it wrote.
func recorded(ctx context.Context, c *recording.Capture, r *recording.Reader) (string, error) {
	var b strings.Builder
	err := c.Run(ctx, r, recording.NewWriter(&b, recording.Device{}))
	return b.String(), err
}

func TestWhatBrokeOffSaysSo(t *testing.T) {
	knob, err := recording.NewKnob("dial")
	if err != nil {
		t.Fatal(err)
	}
	one := dump([]rec{{0, 2, 7, 1}, {0, 0, 0, 0}}, 24)
	unplugged := errors.New("no such device")
	for name, c := range map[string]struct {
		from    io.Reader
		guided  bool
		partial string
	}{
		"whole":     {strings.NewReader(one), false, ""},
		"guided":    {strings.NewReader(one), true, "ended after 0 of 17 steps"},
		"unplugged": {io.MultiReader(strings.NewReader(one), iotest.ErrReader(unplugged)), false, "fake: byte 48: reading: no such device"},
		"noise":     {strings.NewReader(one + strings.Repeat("\xff", 24*30)), false, "given up after 20 faults in the source"},
		"nothing":   {iotest.ErrReader(unplugged), false, ""},
	} {
		text, err := recorded(context.Background(), &recording.Capture{Knob: knob, Guided: c.guided}, recording.NewLive(c.from, "fake", 24))
		if (err == nil) != (name == "whole" || name == "guided") {
			t.Errorf("%s: %v", name, err)
		}
		r, err := recording.NewReader(strings.NewReader(text), name)
		if err != nil {
			t.Fatal(err)
		}
		if all, err := r.All(); err != nil || r.Partial != c.partial || (len(all) > 0) != (name != "nothing") {
			t.Errorf("%s: partial %q, %v, %v", name, r.Partial, all, err)
		}
	}
}

// Length and counts are told of the recording; after the time asked for, it is
// whole, whatever comes then.
func TestACaptureEndsWhenItsTimeIsUp(t *testing.T) {
	knob, _ := recording.NewKnob("dial")
	var recs []rec
	for i := range int64(100) {
		recs = append(recs, rec{3e6 + i*100_000, 2, 7, 1}, rec{3e6 + i*100_000, 1, 30, 1}, rec{3e6 + i*100_000, 0, 0, 0})
	}
	for _, live := range []bool{false, true} {
		var last recording.Notice
		c := recording.Capture{Knob: knob, Most: 2e9, Live: live, Notice: func(n recording.Notice) { last = n }}
		text, err := recorded(context.Background(), &c, recording.NewLive(strings.NewReader(dump(recs, 24)), "fake", 24))
		if err != nil || strings.Count(text, "dial") != 21 || strings.Contains(text, "partial") {
			t.Errorf("%d events, %v", strings.Count(text, "dial"), err)
		}
		if last.Events != 21 || last.Counts != 21 || last.Others < 20 || last.Length != 2.1e9 {
			t.Errorf("%+v", last)
		}
	}
}

func TestACaptureKeepsWhatTheSourceSaysOfItsDevice(t *testing.T) {
	knob, _ := recording.NewKnob("dial")
	from := "# device: desk\n# repeat_delay_ms: 250\n# repeat_period_ms: 33\ntime_s,control,event\n1,wheel,1\n2,dial,1\n2.5,dial,1\n"
	r, err := recording.NewReader(strings.NewReader(from), "from")
	if err != nil {
		t.Fatal(err)
	}
	text, err := recorded(context.Background(), &recording.Capture{Knob: knob}, r)
	want := "# device: desk\n# repeat_delay_ms: 250\n# repeat_period_ms: 33\ntime_s,control,event\n0,dial,1\n0.5,dial,1\n"
	if err != nil || text != want {
		t.Errorf("%q, %v", text, err)
	}
}

// fullDisk is a disk without room.
type fullDisk struct{ room int }

var errFull = errors.New("no space left")

func (f *fullDisk) Write(p []byte) (int, error) {
	if f.room -= len(p); f.room < 0 {
		return 0, errFull
	}
	return len(p), nil
}

func TestAFullDiskIsSaidOnce(t *testing.T) {
	knob, _ := recording.NewKnob("dial")
	var recs []rec
	for i := range int64(20_000) {
		recs = append(recs, rec{i * 100, 2, 7, 1}, rec{i * 100, 0, 0, 0})
	}
	for _, room := range []int{0, 100_000} {
		c := recording.Capture{Knob: knob}
		err := c.Run(context.Background(), recording.NewLive(strings.NewReader(dump(recs, 24)), "fake", 24),
			recording.NewWriter(&fullDisk{room}, recording.Device{}))
		if !errors.Is(err, errFull) || strings.Count(fmt.Sprint(err), "no space") != 1 {
			t.Errorf("%d bytes of room: %v", room, err)
		}
	}
}
