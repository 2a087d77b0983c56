package fit

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dialwright/encoder"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
)

// readBack reads an operator's file.
func readBack(t *testing.T, text []byte) scenarios.Operator {
	t.Helper()
	path := filepath.Join(t.TempDir(), "me.yaml")
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	o, err := (&file.Loader{}).Operator(path)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return *o
}

// An operator's file has what was found and nothing else, and reads back as the
// fitted operator.
func TestTheOperatorsFileHasOnlyWhatWasFound(t *testing.T) {
	novice := scenarios.Operators()[0]
	claimed := 0
	for n := range 24 {
		x := record(t, n)
		r := x.fit.r
		r.Study = x.fit.Study
		for _, from := range []*scenarios.Operator{nil, &novice} {
			r.Study.Operator, r.Operator = from, scenarios.Practised()
			if from != nil {
				r.Operator = *from
			}
			x.fit.operatorValues()
			text, err := r.OperatorFile()
			if err != nil {
				t.Fatal(err)
			}
			if got := readBack(t, text); got != r.Operator {
				t.Fatalf("rig %d: %+v is read back, want %+v\n%s", n, got, r.Operator, text)
			}
			if from != nil {
				continue
			}
			for _, key := range []string{"reach", "regrip", "pace_noise", "noise", "fixation", "confirm", "gain_error"} {
				has := slices.ContainsFunc(strings.Split(string(text), "\n"), func(l string) bool { return strings.HasPrefix(l, key+":") })
				if known := r.Hand.has(key); has != known {
					t.Errorf("rig %d: %s is found: %v, and in the file: %v\n%s", n, key, known, has, text)
				}
				if has {
					claimed++
				}
			}
		}
	}
	if claimed == 0 {
		t.Error("nothing was ever found")
	}
}

// What the recording hides is tried in replays, and not written.
func TestAPaceThatDoesNotShowIsNotWritten(t *testing.T) {
	hidden := 0
	for n := range 30 {
		x := record(t, n)
		if x.fit.r.Hand.has("pace.fast") {
			continue
		}
		hidden++
		want := x.fit.r.Operator.FastDegPerS
		if err := x.fit.replay(context.Background(), x.fit.Recordings[0]); err != nil {
			t.Fatal(err)
		}
		if got := x.fit.r.Operator.FastDegPerS; got != want {
			t.Errorf("rig %d: nothing shows the fast pace, and yet %g instead of %g is written", n, got.Mean, want.Mean)
		}
		if hidden == 3 {
			return
		}
	}
	t.Error("no recording hides the pace")
}

// A file of a fit that does not replay says so.
func TestAFileOfAFitThatDoesNotReplaySaysSo(t *testing.T) {
	r := &Result{Study: &Study{}, Operator: scenarios.Practised(), Rig: scenarios.Rig{Rig: encoder.Default()}}
	for _, x := range []struct {
		replay *Replay
		says   string
	}{
		{nil, ""},
		{&Replay{Holds: true, Verdict: "replays: all is well"}, ""},
		{&Replay{Replays: 63, Verdict: "does not replay: the intervals between reports differ (distance 0.41, p 0.025)"}, "not to be believed: this fit does not replay"},
		{&Replay{Verdict: "not replayed: 3 intervals are too few"}, "not to be believed as it stands: not replayed"},
	} {
		r.Replay = x.replay
		for name, of := range map[string]func() ([]byte, error){"operator": r.OperatorFile, "rig": r.RigFile} {
			text, err := of()
			if err != nil {
				t.Fatal(err)
			}
			if says := strings.Contains(string(text), "not to be believed"); says != (x.says != "") || !strings.Contains(string(text), x.says) {
				t.Errorf("%s, %+v:\n%s", name, x.replay, text)
			}
			for line := range strings.Lines(string(text)) {
				if len([]rune(line)) > 82 {
					t.Errorf("%s: a line of %d columns: %s", name, len([]rune(line)), line)
				}
			}
			if name == "operator" {
				readBack(t, text)
			}
		}
	}
}

// More clicks than were turned are no loss below nothing.
func TestMoreThanWasTurnedIsSaid(t *testing.T) {
	var events []recording.Event
	for i := range int64(41) {
		events = append(events, recording.Event{Time: 1e9 + i*40e6, Control: "wheel", Kind: recording.Count, N: 1})
	}
	heard, err := newRecording("wheel", recording.Device{}, events)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Run(context.Background(), &Study{Recordings: []*Recording{heard}, Turned: 24})
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	page := r.Page()
	if err := page.Print(&text, columns.Width); err != nil {
		t.Fatal(err)
	}
	if s := text.String(); !strings.Contains(s, "17 too many") || !strings.Contains(s, "more was seen than turned") || strings.Contains(s, "lost -") || strings.Contains(s, " -71") {
		t.Error(s)
	}
	if l := r.Report().Lost[0]; l.Share != nil || l.LowLost != nil || l.Seen != 41 {
		t.Errorf("%+v", l)
	}
	if strings.Contains(r.Replay.Verdict, "-71") {
		t.Error(r.Replay.Verdict)
	}
}
