package recording_test

import (
	"context"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"dialwright/encoder/recording"

	"pgregory.net/rapid"
)

// knobber makes the records of a person at a knob of two buttons (btn288
// clockwise, btn289 counter-clockwise) on a device that also has keys.
type knobber struct {
	recs []rec
	us   int64
}

func (k *knobber) send(code uint16, value int32) {
	k.recs = append(k.recs, rec{k.us, 1, code, value}, rec{k.us, 0, 0, 0})
}

// turn turns by n detents (counter-clockwise when negative), gap µs apart.
func (k *knobber) turn(n int, gap int64) {
	code := uint16(288)
	if n < 0 {
		code, n = 289, -n
	}
	for range n {
		k.send(code, 1)
		k.us += gap / 2
		k.send(code, 0)
		k.us += gap - gap/2
	}
}

func (k *knobber) rest(us int64) { k.us += us }

// typed types a word on the same device.
func (k *knobber) typed(keys ...uint16) {
	for _, key := range keys {
		k.send(key, 1)
		k.us += 40_000
		k.send(key, 0)
		k.us += 40_000
	}
}

// session does everything that a guided session asks for, once.
func (k *knobber) session() {
	k.turn(24, 500_000)
	k.rest(3e6)
	for i := range 6 {
		k.turn(24-48*(i%2), 30_000)
		k.rest(2e6)
	}
	for i := range 10 {
		k.turn(i-5+i/5, 60_000) // −5…−1, 1…5
		k.rest(2e6)
	}
}

// captured runs a capture on a fake device and returns the recording.
func captured(t testing.TB, c *recording.Capture, content string) ([]recording.Event, []recording.Notice, error) {
	t.Helper()
	var notices []recording.Notice
	c.Notice = func(n recording.Notice) {
		n.Done = slices.Clone(n.Done)
		notices = append(notices, n)
	}
	var b strings.Builder
	err := c.Run(context.Background(), recording.NewLive(strings.NewReader(content), "fake", 24), recording.NewWriter(&b, recording.Device{}))
	events, _ := read(t, b.String())
	return events, notices, err
}

func TestAGuidedSessionIsLearnedAndRecorded(t *testing.T) {
	var k knobber
	k.typed(35, 18, 38, 38, 24) // hello
	k.rest(2e6)                 // not a turn: asked for again
	k.turn(8, 80_000)
	k.rest(1e6)
	k.turn(8, 80_000) // the same way again: asked for again
	k.rest(1e6)
	k.turn(-8, 80_000)
	k.rest(1e6)
	k.session()
	k.turn(30, 30_000) // after the end

	events, notices, err := captured(t, &recording.Capture{Guided: true}, dump(k.recs, 24))
	if err != nil {
		t.Fatal(err)
	}
	last := notices[len(notices)-1]
	if want := (recording.Knob{Clockwise: recording.Direction{Control: "btn288"}, Counter: recording.Direction{Control: "btn289"}}); last.Knob != want {
		t.Errorf("learned %+v", last.Knob)
	}
	var names []string
	var counts []int64
	for _, d := range last.Done {
		names = append(names, d.Name)
		counts = append(counts, d.Counts)
	}
	var want []string
	for _, s := range recording.Steps() {
		want = append(want, s.Name)
	}
	if !slices.Equal(names, want) {
		t.Errorf("done %q", names)
	}
	if !slices.Equal(counts, []int64{24, 24, -24, 24, -24, 24, -24, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5}) {
		t.Errorf("counted %v", counts)
	}
	var marks []string
	presses := 0
	for _, e := range events {
		switch e.Kind {
		case recording.Mark:
			marks = append(marks, e.Control)
		case recording.Press:
			presses++
		}
	}
	if !slices.Equal(marks, want) || presses != 24*7+30 || events[0].Time != 0 {
		t.Errorf("marks %q, %d presses, begins at %d", marks, presses, events[0].Time)
	}
	agains := 0
	for i, n := range notices {
		if n.Again && (i == 0 || !notices[i-1].Again) {
			agains++
		}
	}
	if agains != 2 {
		t.Errorf("asked again %d times", agains)
	}
}

// The guided session says three fast turns each way and ten times dial and stop.
func TestTheGuidedSessionIsOneSlowSixFastAndTenDials(t *testing.T) {
	tally := map[string]int{}
	names := map[string]bool{}
	for _, s := range recording.Steps() {
		kind, _, _ := strings.Cut(s.Name, " ")
		tally[kind+map[int64]string{1: "+", -1: "-", 0: ""}[s.Way]]++
		names[s.Name] = true
	}
	if len(names) != 17 || tally["slow+"] != 1 || tally["fast+"] != 3 || tally["fast-"] != 3 || tally["dial"] != 10 {
		t.Error(tally)
	}
}

func TestAStepDoneWrongIsAskedForAgainAndItsLastMarkCounts(t *testing.T) {
	knob, err := recording.NewKnob("btn288", "btn289")
	if err != nil {
		t.Fatal(err)
	}
	var k knobber
	k.turn(-24, 500_000) // the wrong way
	k.rest(3e6)
	k.turn(2, 500_000) // a touch
	k.rest(3e6)
	k.turn(24, 500_000)
	k.rest(3e6)
	events, notices, err := captured(t, &recording.Capture{Knob: knob, Guided: true}, dump(k.recs, 24))
	if err != nil {
		t.Fatal(err)
	}
	last := notices[len(notices)-1]
	if len(last.Done) != 1 || last.Done[0].Counts != 24 || last.Step.Name != "fast turn clockwise 1" || last.Again {
		t.Errorf("%+v", last)
	}
	var marks []int64
	for _, e := range events {
		if e.Kind == recording.Mark && e.Control == "slow turn" {
			marks = append(marks, e.Time)
		}
	}
	if len(marks) != 3 || marks[2] != last.Done[0].Start-0 {
		t.Errorf("marks at %v, the step began at %d", marks, last.Done[0].Start)
	}
}

// Whatever is typed beside the knob, before, during and after the learning, no
// trace of it is in the recording: not a code, not a time.
func TestTypedTextIsNeverStored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := func() []uint16 { return rapid.SliceOfN(rapid.Uint16Range(2, 0xff), 0, 12).Draw(t, "word") }
		times := map[int64]bool{}
		var k knobber
		k.us = 1
		typed := func() {
			from := len(k.recs)
			k.typed(word()...)
			for _, r := range k.recs[from:] {
				times[r.us] = true
			}
			k.rest(1)
		}
		typed()
		k.rest(1e6)
		for range 2 {
			k.turn(10, 80_000)
			k.rest(1e6)
			k.turn(-10, 80_000)
			k.rest(1e6)
		}
		for range rapid.IntRange(0, 5).Draw(t, "turns") {
			typed()
			k.turn(rapid.IntRange(-5, 5).Draw(t, "detents"), 30_000)
		}
		var b strings.Builder
		c := recording.Capture{}
		r := recording.NewLive(strings.NewReader(dump(k.recs, 24)), "fake", 24)
		if err := c.Run(context.Background(), r, recording.NewWriter(&b, recording.Device{})); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(b.String()) {
			if !strings.Contains(line, ",btn288,") && !strings.Contains(line, ",btn289,") && line != "time_s,control,event\n" {
				t.Fatalf("stored %q", line)
			}
		}
	})
}

func TestAWordIsNotLearnedAsAKnob(t *testing.T) {
	var k knobber
	k.typed(30, 31, 32, 30, 33, 30, 34, 30, 35, 30, 36, 30, 37, 38) // six of one letter among others
	k.rest(1e6)
	_, notices, err := captured(t, &recording.Capture{}, dump(k.recs, 24))
	if last := notices[len(notices)-1]; err != nil || last.Lesson != recording.TurnClockwise || !last.Again {
		t.Errorf("%+v, %v", last, err)
	}
}

func TestAWheelIsLearnedThoughTheMouseMoved(t *testing.T) {
	var recs []rec
	us := int64(0)
	for way := int32(1); way >= -1; way -= 2 {
		for range 8 {
			for range 5 {
				recs = append(recs, rec{us, 2, 0, 3}, rec{us, 2, 1, -2}, rec{us, 0, 0, 0})
				us += 8000
			}
			recs = append(recs, rec{us, 2, 8, -way}, rec{us, 2, 11, -120 * way}, rec{us, 0, 0, 0})
			us += 30_000
		}
		us += 1e6
	}
	_, notices, err := captured(t, &recording.Capture{}, dump(recs, 24))
	want := recording.Knob{Clockwise: recording.Direction{Control: "wheel", Sign: -1}, Counter: recording.Direction{Control: "wheel", Sign: 1}}
	if last := notices[len(notices)-1]; err != nil || last.Lesson != recording.Learned || last.Knob != want {
		t.Errorf("%+v, %v", last, err)
	}
}

func TestLearningBeginsAgainAfterTwoTurnsBackThatDoNotFit(t *testing.T) {
	var l recording.Learner
	now := int64(0)
	turn := func(control string, n int64) {
		for range 8 {
			l.Take(recording.Event{Time: now, Control: control, N: n})
			now += 50e6
		}
		now += 1e9
		l.Tick(now)
	}
	turn("abs2", 1) // leaned on something
	turn("dial", 1)
	turn("dial", 1)
	if l.Lesson != recording.TurnClockwise || !l.Again {
		t.Fatalf("%+v", l)
	}
	turn("dial", 1)
	turn("dial", -1)
	if l.Lesson != recording.Learned || l.Knob.Counter != (recording.Direction{Control: "dial", Sign: -1}) {
		t.Errorf("%+v", l)
	}
}

func TestOnlyTheNamedControlsAreRecordedWithLostEventsMarked(t *testing.T) {
	knob, err := recording.NewKnob("dial", "btn256")
	if err != nil {
		t.Fatal(err)
	}
	recs := []rec{
		{0, 0, 3, 0}, {0, 0, 0, 0}, // lost before anything was recorded
		{1e6, 1, 30, 1}, {1e6, 0, 0, 0},
		{2e6, 2, 7, 1}, {2e6, 1, 30, 0}, {2e6, 0, 0, 0},
		{3e6, 0, 3, 0}, {3e6, 0, 0, 0},
		{4e6, 1, 256, 1}, {4e6, 0, 0, 0},
	}
	events, notices, err := captured(t, &recording.Capture{Knob: knob}, dump(recs, 24)+"cut")
	if !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("%v", err)
	}
	if !slices.Equal(events, []recording.Event{
		{Time: 0, Control: "dial", N: 1},
		{Time: 1e9, Kind: recording.Dropped},
		{Time: 2e9, Control: "btn256", Kind: recording.Press},
	}) {
		t.Errorf("%v", events)
	}
	if last := notices[len(notices)-1]; last.Dropped != 2 || last.Counts != 1 {
		t.Errorf("%+v", last)
	}
}

func TestACaptureEndsWhenItIsInterrupted(t *testing.T) {
	knob, _ := recording.NewKnob("dial")
	out, in := io.Pipe()
	defer in.Close()
	ctx, stop := context.WithCancelCause(context.Background())
	interrupted := errors.New("interrupted")
	c := recording.Capture{Knob: knob, Live: true, Notice: func(n recording.Notice) {
		if n.Counts == 3 {
			stop(interrupted)
		}
	}}
	go in.Write([]byte(dump([]rec{{0, 2, 7, 3}, {0, 0, 0, 0}}, 24)))
	var b strings.Builder
	err := c.Run(ctx, recording.NewLive(out, "pipe", 24), recording.NewWriter(&b, recording.Device{}))
	if !errors.Is(err, interrupted) || b.String() != "time_s,control,event\n0,dial,3\n# partial: interrupted\n" {
		t.Errorf("%v, %q", err, b.String())
	}
}

// On a running device a step ends though nothing comes any more.
func TestTimePassesOnARunningDevice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		knob, _ := recording.NewKnob("dial")
		out, in := io.Pipe()
		ctx, stop := context.WithTimeout(t.Context(), time.Minute)
		defer stop()
		done := 0
		c := recording.Capture{Knob: knob, Guided: true, Live: true, Notice: func(n recording.Notice) {
			if done = len(n.Done); done == 1 {
				stop()
			}
		}}
		go in.Write([]byte(dump([]rec{{0, 2, 7, 24}, {0, 0, 0, 0}}, 24)))
		began := time.Now()
		c.Run(ctx, recording.NewLive(out, "pipe", 24), recording.NewWriter(io.Discard, recording.Device{}))
		if took := time.Since(began); done != 1 || took < 2500*time.Millisecond || took > 2600*time.Millisecond {
			t.Errorf("%d steps done after %v", done, took)
		}
		in.Close()
	})
}

func TestKnobsAreNamedByOneRelativeControlOrTwoButtons(t *testing.T) {
	for names, want := range map[string]recording.Knob{
		"wheel":                {Clockwise: recording.Direction{Control: "wheel", Sign: 1}, Counter: recording.Direction{Control: "wheel", Sign: -1}},
		"rel9,btn256":          {Clockwise: recording.Direction{Control: "rel9", Sign: 1}, Counter: recording.Direction{Control: "rel9", Sign: -1}, Push: "btn256"},
		"btn288,btn289":        {Clockwise: recording.Direction{Control: "btn288"}, Counter: recording.Direction{Control: "btn289"}},
		"key30,key48,button12": {Clockwise: recording.Direction{Control: "key30"}, Counter: recording.Direction{Control: "key48"}, Push: "button12"},
	} {
		k, err := recording.NewKnob(strings.Split(names, ",")...)
		if err != nil || k != want {
			t.Errorf("%s: %+v, %v", names, k, err)
		}
	}
	for _, names := range []string{"", "btn288", "btn288,btn288", "btn288,wheel", "wheel,dial", "wheel,btn1,btn2", "btn1,btn2,btn1", "btn1,btn2,btn3,btn4"} {
		if k, err := recording.NewKnob(strings.Split(names, ",")...); err == nil {
			t.Errorf("%s: %+v", names, k)
		}
	}
	k, _ := recording.NewKnob("btn288", "btn289", "btn290")
	for e, want := range map[recording.Event]int64{
		{Control: "btn288", Kind: recording.Press}:   1,
		{Control: "btn289", Kind: recording.Press}:   -1,
		{Control: "btn288", Kind: recording.Release}: 0,
		{Control: "btn288", Kind: recording.Repeat}:  0,
		{Control: "btn290", Kind: recording.Press}:   0,
		{Control: "wheel", N: 3}:                     0,
	} {
		if got := k.Move(e); got != want {
			t.Errorf("%+v moves %d", e, got)
		}
	}
}

func TestTheMeterShowsTheLastSecond(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var m recording.Meter
		var at []int64
		var now, counts int64
		for range rapid.IntRange(0, 100).Draw(t, "moves") {
			now += rapid.Int64Range(0, 300e6).Draw(t, "later")
			n := rapid.Int64Range(-2, 2).Draw(t, "n")
			m.Move(now, n)
			counts += n
			for range max(n, -n) {
				at = append(at, now)
			}
		}
		now += rapid.Int64Range(0, 3e9).Draw(t, "then")
		var want int64
		for _, t := range at {
			if now/1e8-t/1e8 < 10 { // tenths of a second
				want++
			}
		}
		if got := m.Rate(now); got != want || m.Counts != counts || m.Travel != int64(len(at)) {
			t.Fatalf("rate %d, want %d; %+v", got, want, m)
		}
	})
}
