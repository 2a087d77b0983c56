package fit

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
)

// What a recording cannot show is unknown, with a reason.
func TestWhatCannotBeSeenIsSaidUnknown(t *testing.T) {
	for n := range 40 {
		x := record(t, n)
		f := &x.rig.Firmware
		path := x.fit.r.Path
		for _, v := range slices.Concat(path, x.fit.r.Hand) {
			if !v.Known && v.Why == "" {
				t.Errorf("rig %d: %s is unknown without a reason", n, v.Key)
			}
			if v.Known && (math.IsNaN(v.Value) || v.Low > v.Value || v.High < v.Value) {
				t.Errorf("rig %d: %s is %g between %g and %g", n, v.Key, v.Value, v.Low, v.High)
			}
		}
		for _, key := range []string{"knob.bounce", "knob.min_state", "firmware.scan", "firmware.debounce", "firmware.decoder",
			"firmware.queue", "system.latency", "program.frames", "program.sampling", "display.latency"} {
			if path.has(key) {
				t.Errorf("rig %d: %s is claimed from behind the bus", n, key)
			}
		}
		if f.Output == encoder.Relative && (path.has("firmware.pulse") || path.has("firmware.gap") || path.has("usb.reports")) {
			t.Errorf("rig %d: counts have no pulses, and yet a time of them is claimed", n)
		}
		if x.first == 0 && (path.has("system.repeat.delay") || path.has("system.repeat.rate")) {
			t.Errorf("rig %d: nothing repeated, and yet a repeat is claimed", n)
		}
		if x.backToBack > 0.6 && f.Hold == 0 && x.fit.r.Hand.has("rate.fast") {
			t.Errorf("rig %d: %.0f %% of the pulses came back to back, and yet a pace of the hand is claimed", n, 100*x.backToBack)
		}
	}
}

// The intervals of an operator's quantities hold what is true nine times of ten; the
// time that a stroke needs to begin is part of what they must allow for.
func TestIntervalsOfThePersonHoldTheTruth(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	held, claims := 0, 0
	for n := range 100 {
		x := record(t, n)
		d := newDice("recorded", n)
		recordedRig(d)
		o := recordedOperator(d)
		perDeg := 360 / float64(x.rig.Knob.Detents)
		for key, truth := range map[string]float64{
			"reach": o.ReachDeg.Mean, "pace.fast": o.FastDegPerS.Mean, "regrip": 1e3 * o.Regrip.Mean.Seconds(),
		} {
			v, _ := x.fit.r.Hand.Get(key)
			if !v.Known || !x.fit.r.Path.has("knob.detents") {
				continue
			}
			claims++
			slack := 0.0
			if key == "reach" {
				slack = perDeg / 2 // strokes are whole detents
			}
			if v.Low-slack <= truth && truth <= v.High+slack {
				held++
			} else {
				t.Logf("rig %d: %s %.4g (%.4g to %.4g) is claimed, %.4g is true", n, key, v.Value, v.Low, v.High, truth)
			}
		}
	}
	t.Logf("%d of %d intervals hold the truth", held, claims)
	if claims < 60 || !atLeast(0.9, held, claims) {
		t.Errorf("%d of %d intervals hold the truth", held, claims)
	}
}

// A fit replays; the same fit with pulses half as long again does not.
func TestOnlyTheRightRigReplays(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	right, wrong, tried := 0, 0, 0
	for n := range 12 {
		x := record(t, n)
		if !x.fit.r.Path.has("firmware.pulse") || x.rig.Firmware.Hold > 0 {
			continue
		}
		tried++
		r := x.fit.Recordings[0]
		if err := x.fit.replay(context.Background(), r); err != nil {
			t.Fatal(err)
		}
		if x.fit.r.Replay.Holds {
			right++
		}
		t.Logf("rig %d: %s", n, x.fit.r.Replay.Verdict)
		x.fit.r.Rig.Firmware.Pulse += x.rig.Firmware.Pulse/2 + x.rig.USB.Poll
		if err := x.fit.replay(context.Background(), r); err != nil {
			t.Fatal(err)
		}
		if x.fit.r.Replay.Holds {
			wrong++
			t.Logf("rig %d, on wrong: %s", n, x.fit.r.Replay.Verdict)
		}
	}
	if tried < 6 || 10*right < 7*tried || wrong > 0 {
		t.Errorf("%d of %d fits replay, and %d wrong ones", right, tried, wrong)
	}
}

// Row A13: a real wheel, recorded.
func TestTheRealWheelIsFitted(t *testing.T) {
	path := filepath.Join("..", "..", "..", "shared", "data", "wheel_scroll.evemu")
	if _, err := os.Stat(path); err != nil {
		t.Skip("the shared data is not beside this clone")
	}
	r, err := recording.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	heard, err := Read(r, "wheel")
	if err != nil {
		t.Fatal(err)
	}
	res, err := Run(context.Background(), &Study{Recordings: []*Recording{heard}})
	if err != nil {
		t.Fatal(err)
	}
	get := func(vs Values, key string) Value {
		v, _ := vs.Get(key)
		if !v.Known && v.Word == "" {
			t.Errorf("%s is unknown: %s", key, v.Why)
		}
		return v
	}
	if v := get(res.Path, "firmware.output"); v.Word != "relative" {
		t.Errorf("output %s", v.Word)
	}
	// A13: reports come on a grid of about 8.6 ms; bursts of 4–7 notches; pauses of
	// 0.21–0.46 s.
	if v := get(res.Path, "usb.poll"); v.Value < 8.5 || v.Value > 8.7 {
		t.Errorf("poll %.3f ms", v.Value)
	}
	if v := get(res.Hand, "burst"); v.Value < 4 || v.Value > 7 {
		t.Errorf("bursts of %.2f", v.Value)
	}
	if v := get(res.Hand, "pause"); v.Value < 0.21 || v.Value > 0.46 {
		t.Errorf("pauses of %.3f s", v.Value)
	}
	if v, _ := res.Path.Get("knob.detents"); v.Known {
		t.Errorf("nobody turned it once around, and yet %.0f notches are claimed", v.Value)
	}
	if !res.Replay.Holds {
		t.Error(res.Replay.Verdict)
	}
}

// A free recording without marks gives pulses and poll too.
func TestARecordingWithoutMarksIsFitted(t *testing.T) {
	rig := encoder.Default()
	o := scenarios.Practised()
	s, err := NewSession(&rig, &o, draw.NewTrial(5, "free", 0), 20e3)
	if err != nil {
		t.Fatal(err)
	}
	events := slices.DeleteFunc(s.Events, func(e recording.Event) bool { return e.Kind == recording.Mark })
	r, err := newRecording("free", recording.Device{}, events)
	if err != nil {
		t.Fatal(err)
	}
	res, err := Run(context.Background(), &Study{Recordings: []*Recording{r}, Turned: len(s.Fates)})
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]float64{"firmware.pulse": 30, "firmware.gap": 30, "usb.poll": 8} {
		if v, _ := res.Path.Get(key); !v.Known || math.Abs(v.Value-want) > 2 {
			t.Errorf("%s: %+v, want %g", key, v, want)
		}
	}
	if len(res.Lost) != 1 || math.Abs(res.Lost[0].Share) > 0.03 {
		t.Errorf("lost %+v", res.Lost)
	}
}

// An interruption leaves what the recording showed, and no half of a replay; of count
// tests nothing.
func TestAnInterruptionLeavesWhatWasFound(t *testing.T) {
	rig := encoder.Default()
	o := scenarios.Practised()
	r, turned, err := Simulated(&scenarios.Rig{Rig: rig}, &o, 3)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	res, err := Run(ctx, &Study{Recordings: []*Recording{r}, Turned: turned})
	if !errors.Is(err, context.Canceled) || res == nil || !res.Partial || res.Replay != nil || !res.Path.has("firmware.pulse") {
		t.Errorf("%v %+v", err, res)
	}
	if res, err := Run(ctx, &Study{Counts: []Count{{48, 1600 * time.Millisecond, 31}}}); !errors.Is(err, context.Canceled) || res != nil {
		t.Errorf("%v %+v", err, res)
	}
}

// What cannot be fitted is refused in words.
func TestRecordingsThatCannotBeFittedAreRefused(t *testing.T) {
	if _, err := newRecording("still", recording.Device{}, []recording.Event{{Control: "abs3", Kind: recording.Mark}}); err == nil || !strings.Contains(err.Error(), "nothing in it turns") {
		t.Errorf("a recording of nothing: %v", err)
	}
	turn := func() *Recording {
		r, err := newRecording("wheel", recording.Device{}, []recording.Event{{Control: "wheel", Kind: recording.Count, N: 1}})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	for name, s := range map[string]*Study{
		"nothing":           {},
		"two of the device": {Recordings: []*Recording{turn(), turn()}},
		"turned below 0":    {Recordings: []*Recording{turn()}, Turned: -1},
	} {
		if _, err := Run(context.Background(), s); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	// One event is little, but no reason to fail.
	res, err := Run(context.Background(), &Study{Recordings: []*Recording{turn()}, Turned: 24})
	if err != nil || res.Replay.Holds {
		t.Errorf("one event: %v %+v", err, res)
	}
}
