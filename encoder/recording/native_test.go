package recording_test

import (
	"encoding/binary"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	"dialwright/encoder/recording"

	"pgregory.net/rapid"
)

const knobCSV = "time_s,control,event\n0,wheel,1\n0.0125,wheel,-2\n1,btn288,press\n1.03,btn288,release\n"

var knobEvents = []recording.Event{
	{Time: 0, Control: "wheel", N: 1},
	{Time: 12_500_000, Control: "wheel", N: -2},
	{Time: 1e9, Control: "btn288", Kind: recording.Press},
	{Time: 1_030_000_000, Control: "btn288", Kind: recording.Release},
}

func TestTextIsReadAsWindowsAndSpreadsheetsWriteIt(t *testing.T) {
	german := strings.NewReplacer(",", ";", ".", ",").Replace(knobCSV)
	for name, text := range map[string]string{
		"as it is":                 knobCSV,
		"no last line end":         strings.TrimSuffix(knobCSV, "\n"),
		"CRLF":                     strings.ReplaceAll(knobCSV, "\n", "\r\n"),
		"byte-order mark":          "\ufeff" + knobCSV,
		"UTF-16LE with mark":       utf16(knobCSV, binary.LittleEndian, true),
		"UTF-16BE with mark":       utf16(knobCSV, binary.BigEndian, true),
		"UTF-16LE without mark":    utf16(knobCSV, binary.LittleEndian, false),
		"UTF-16BE without mark":    utf16(knobCSV, binary.BigEndian, false),
		"UTF-16LE, mark, CRLF":     utf16(strings.ReplaceAll(knobCSV, "\n", "\r\n"), binary.LittleEndian, true),
		"decimal comma":            german,
		"decimal comma, CRLF, BOM": "\ufeff" + strings.ReplaceAll(german, "\n", "\r\n"),
		"semicolons, points":       strings.ReplaceAll(knobCSV, ",", ";"),
		"tabs":                     strings.ReplaceAll(knobCSV, ",", "\t"),
		"quotes and blanks":        strings.ReplaceAll(strings.ReplaceAll(knobCSV, "wheel", ` "wheel" `), "btn288", "  btn288 "),
		"notes and empty lines":    "# made by hand\n\n" + knobCSV + "\n# the end\n",
		"capital header":           strings.Replace(knobCSV, "time_s,control,event", "Time_s,Control,Event", 1),
		"exponents":                strings.Replace(knobCSV, "0.0125", "1.25e-2", 1),
	} {
		got, r := read(t, text)
		if !slices.Equal(got, knobEvents) || r.Format != recording.Native {
			t.Errorf("%s: %v %v", name, r.Format, got)
		}
		one, err := recording.NewReader(iotest.OneByteReader(strings.NewReader(text)), name)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := one.All(); err != nil || !slices.Equal(got, knobEvents) {
			t.Errorf("%s, byte by byte: %v, %v", name, got, err)
		}
	}
}

// anyEvents draws events that a recording may hold.
func anyEvents(t *rapid.T) []recording.Event {
	control := rapid.OneOf(
		rapid.SampledFrom([]string{"wheel", "dial", "btn288", "key30", "report1.bit12", "event7/wheel"}),
		rapid.StringMatching(`[ -~äß→;,"]{1,30}`))
	var all []recording.Event
	now := int64(0)
	for range rapid.IntRange(0, 30).Draw(t, "events") {
		now += rapid.Int64Range(0, 1e12).Draw(t, "later")
		e := recording.Event{Time: now, Control: control.Draw(t, "control"), Kind: recording.Kind(rapid.IntRange(0, int(recording.Mark)).Draw(t, "kind"))}
		switch e.Kind {
		case recording.Count:
			e.N = rapid.Int64Range(-1<<39, 1<<39).Draw(t, "count")
		case recording.Level:
			e.N = rapid.Int64Range(0, 1).Draw(t, "level")
		case recording.Dropped:
			e.Control = ""
		}
		all = append(all, e)
	}
	return all
}

func TestWhatIsWrittenReadsBackTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		events := anyEvents(t)
		device := recording.Device{
			Name:         rapid.StringMatching(`([A-Za-z0-9:;#äß]([A-Za-z0-9 ]{0,10}[a-z])?)?`).Draw(t, "device"),
			RepeatDelay:  rapid.Int64Range(1, 1e9).Draw(t, "delay"),
			RepeatPeriod: rapid.Int64Range(1, 1e9).Draw(t, "period"),
		}
		var b strings.Builder
		w := recording.NewWriter(&b, device)
		for _, e := range events {
			if err := w.Write(e); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		r, err := recording.NewReader(strings.NewReader(b.String()), "written")
		if err != nil {
			t.Fatal(err)
		}
		got, err := r.All()
		if err != nil || !slices.Equal(got, events) || r.Device != device {
			t.Fatalf("wrote\n%s\n%v %+v\nread %v %+v, %v", b.String(), events, device, got, r.Device, err)
		}
	})
}

func TestWriterRefusesWhatNoReaderGives(t *testing.T) {
	for _, e := range []recording.Event{
		{Time: -1, Control: "wheel", N: 1},
		{Time: 1, Control: "", N: 1},
		{Time: 1, Control: "a\nb", N: 1},
		{Time: 1, Control: "\x1b[31m", N: 1},
		{Time: 1, Control: strings.Repeat("x", 101), N: 1},
		{Time: 1, Control: "wheel", N: 1 << 40},
		{Time: 1, Control: "a", Kind: recording.Level, N: 2},
		{Time: 1, Control: "wheel", Kind: 99},
	} {
		var b strings.Builder
		w := recording.NewWriter(&b, recording.Device{})
		if err := w.Write(e); err == nil {
			t.Errorf("%+v was written", e)
		}
		if w.Flush(); b.String() != "time_s,control,event\n" {
			t.Errorf("%+v left %q", e, b.String())
		}
	}
	w := recording.NewWriter(io.Discard, recording.Device{})
	w.Write(recording.Event{Time: 2, Control: "wheel", N: 1})
	if err := w.Write(recording.Event{Time: 1, Control: "wheel", N: 1}); err == nil {
		t.Error("time went back")
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestWriterSaysThatItCouldNotWrite(t *testing.T) {
	w := recording.NewWriter(full{}, recording.Device{})
	if err := w.Flush(); err == nil || !strings.Contains(err.Error(), "disk full") {
		t.Error(err)
	}
}

func TestFaultsNameThePlaceAndReadingGoesOn(t *testing.T) {
	text := "time_s,control,event\n" +
		"0,wheel,1\n" +
		"x,wheel,1\n" +
		"0.1,wheel\n" +
		"0.2,wheel,pres\n" +
		"0.3,,press\n" +
		"0.05,wheel,1\n" +
		"0.4,\"wheel,1\n" +
		"0.4,whe\x01el,1\n" +
		"0.5,wheel,1\n" +
		"0.6,whe"
	got, err := faulty(t, strings.NewReader(text))
	want := `knob.rec:3:1: time_s: found "x"; seconds from the start, such as 12.0345, would do
knob.rec:4: found "0.1,wheel"; three fields (time_s, control, event) would do, quotes closed
knob.rec:5:11: event: found "pres"; press, release or a signed whole number would do
knob.rec:6:5: control: found ""; a name of 1 to 100 bytes of printable characters would do
knob.rec:8: found "0.4,\"wheel,1"; three fields (time_s, control, event) would do, quotes closed
knob.rec:9:5: control: found "whe\x01el"; a name of 1 to 100 bytes of printable characters would do
knob.rec:11: found "0.6,whe", and there the file is cut off; three fields (time_s, control, event) would do, quotes closed`
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
	if !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Error("the cut does not show as io.ErrUnexpectedEOF")
	}
	if len(got) != 3 || got[2].Time != 5e8 {
		t.Errorf("read %v", got)
	}
}

func TestColumnsCountCharacters(t *testing.T) {
	_, err := faulty(t, strings.NewReader("time_s,control,event\n0,größe→,oops\n"))
	if err == nil || !strings.HasPrefix(err.Error(), "knob.rec:2:10: event:") {
		t.Error(err)
	}
}

func TestFilesThatAreNoRecordingAreRefused(t *testing.T) {
	for _, text := range []string{"", "\n \n", "\ufeff", "hello\nworld\n", "a,b,c\n1,2,3\n", "<html></html>", "0.5,wheel,1\n",
		"[{\"t_ms\":1}]", "\x00", "\x7fELF\x02\x01\x01\x00\x00\x00\x00\x00\x00\x00\x00\x00\x03\x00\x3e\x00\x01\x00\x00\x00"} {
		if _, err := recording.NewReader(strings.NewReader(text), "knob.rec"); err == nil {
			t.Errorf("%q was taken for a recording", text)
		} else if f := (*recording.Fault)(nil); !errors.As(err, &f) || f.File != "knob.rec" {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestLinesWithoutEndAreRefused(t *testing.T) {
	long := strings.Repeat("x", 200_000)
	got, err := faulty(t, strings.NewReader("time_s,control,event\n0,wheel,1\n0.5,"+long+",1\n1,wheel,1\n2,"+long))
	if len(got) != 2 || err == nil || !strings.HasPrefix(err.Error(), "knob.rec:3: found a line longer than 65536 bytes") {
		t.Errorf("%v, %v", got, err)
	}
}

func TestAnErrorOfTheDiskIsFinal(t *testing.T) {
	broken := io.MultiReader(strings.NewReader(knobCSV+strings.Repeat("2,wheel,1\n", 10_000)), iotest.ErrReader(errors.New("bad sector")))
	got, err := faulty(t, broken)
	if len(got) != 10_004 || err == nil || !strings.Contains(err.Error(), "knob.rec:10006: reading: bad sector") {
		t.Errorf("%d events, %v", len(got), err)
	}
}
