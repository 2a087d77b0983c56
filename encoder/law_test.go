package encoder_test

import (
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// law checks a law on at least 200 random rigs; each test says why it holds.
func law(t *testing.T, check func(random)) {
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		check(random{t})
		n++
	})
	for i := 0; n < 200; i++ { // -rapid.checks may ask for fewer
		rapid.Custom(func(t *rapid.T) bool { check(random{t}); return true }).Example(i)
		n++
	}
}

func (r random) account(rig *encoder.Rig, ts []turn) encoder.Account {
	p, err := encoder.NewPath(encoder.Setup{Rig: rig})
	if err != nil {
		r.Fatal(err)
	}
	run(p, ts, draw.NewTrial(1, "law", 0), 0)
	return p.Account()
}

// missedByFrames returns the detents that ended at the program's frames.
func (r random) missedByFrames(rig *encoder.Rig, ts []turn) int {
	p, err := encoder.NewPath(encoder.Setup{Rig: rig})
	if err != nil {
		r.Fatal(err)
	}
	run(p, ts, draw.NewTrial(1, "law", 0), 0)
	n := 0
	for i := range ts {
		if f := p.Fate(i); f == encoder.FrameMissed || f == encoder.MergedAtFrame {
			n++
		}
	}
	return n
}

// pulsing draws a rig with pulses and level sampling, on which every detent has
// one count of its own: a press without an owner could be merged in the place of
// one that has, and a detent with several is lost only when all of them are.
func (r random) pulsing() encoder.Rig {
	rig := r.rig(true)
	rig.Firmware.Decoder, rig.Firmware.CountsPerDetent = encoder.Table, 1
	rig.Firmware.Scan, rig.Firmware.Debounce, rig.Knob.MinState = 100*time.Microsecond, 1, 0.25
	rig.Firmware.Phase.At %= rig.Firmware.Scan
	rig.Firmware.Output = encoder.Buttons
	rig.Firmware.Hold, rig.Firmware.Axis = 0, encoder.Axis{}
	if rig.Firmware.On == 0 {
		rig.Firmware.On, rig.Firmware.Off, rig.Firmware.Queue = r.time("on", time.Millisecond, 60*time.Millisecond), r.time("off", 0, 60*time.Millisecond), 8
	}
	rig.System.Repeat = encoder.Repeat{}
	rig.Program.Sampling, rig.Program.Phase = encoder.State, r.phase("frame phase", 100*time.Millisecond)
	rig.Program.FrameList, rig.Program.Hold, rig.Program.Repeats = nil, encoder.Hold{}, 0
	rig.Program.MaxPerFrame, rig.Program.Excess = 0, 0
	rig.Program.Frames = encoder.PerSecond(r.whole("frame rate", 10, 60))
	rig.Program.Jitter = 0
	return rig
}

// With the phase fixed, k times the frame rate looks at every old instant and at
// others between: a press and a gap that some frame saw are seen by the same frame
// still.
func TestMoreFramesLoseNoMore(t *testing.T) {
	law(t, func(r random) {
		rig, ts := r.pulsing(), r.turns()
		k := r.whole("times", 2, 5)
		// Periods that divide exactly, so that the old instants are among the new.
		period := int64(1e9/float64(rig.Program.Frames)) / 60 * 60
		rig.Program.Frames, rig.Program.FrameList = 0, []time.Duration{time.Duration(period)}
		slow := r.missedByFrames(&rig, ts)
		rig.Program.FrameList = []time.Duration{time.Duration(period / int64(k))}
		if quick := r.missedByFrames(&rig, ts); quick > slow {
			r.Errorf("%d detents end at frames of %d ns, %d at %d times as many", slow, period, quick, k)
		}
	})
}

// A pulse of a frame plus a poll stays down, as the program sees it, for a frame
// at least, whatever poll carries it; and so does the gap.
func TestPulsesLongerThanAFrameAndAPollAreAllSeen(t *testing.T) {
	law(t, func(r random) {
		rig, ts := r.pulsing(), r.turns()
		rig.USB.Reports = encoder.StateReports
		long := rig.Program.Frames.Period() + rig.USB.Poll + time.Microsecond
		rig.Firmware.On, rig.Firmware.Off = long, long
		a := r.account(&rig, ts)
		if a.Merged+a.PollMissed+a.FrameMissed > 0 {
			r.Errorf("pulses and gaps of %v: %+v", long, a)
		}
	})
}

// Every pulse that a queue takes, a longer one takes too: the line is busy at the
// same times or longer, and there is never less room.
func TestLongerQueueDropsNoMore(t *testing.T) {
	law(t, func(r random) {
		rig, ts := r.pulsing(), r.turns()
		rig.Firmware.Reversal = encoder.KeepWaiting
		rig.Firmware.Overflow = encoder.DropNew
		before := r.account(&rig, ts)
		rig.Firmware.Queue += r.whole("more places", 1, 20)
		if after := r.account(&rig, ts); after.QueueDropped > before.QueueDropped {
			r.Errorf("%d dropped, with more places %d", before.QueueDropped, after.QueueDropped)
		}
	})
}

// Counts add up until a poll and a frame carry them all: nothing is lost where
// the decoder follows, as long as the knob does not turn back within a poll or a
// frame, which cancels counts.
func TestRelativeOutputLosesNothing(t *testing.T) {
	law(t, func(r random) {
		rig, ts := r.rig(false), r.turns()
		rig.Firmware.Output, rig.Firmware.CountsPerDetent = encoder.Relative, max(1, rig.Firmware.CountsPerDetent)
		rig.Firmware.Hold, rig.Firmware.Coarse = 0, encoder.Coarse{}
		rig.Firmware.Decoder, rig.Knob.Bounce = encoder.Table, 0
		rig.Firmware.Scan, rig.Firmware.Debounce, rig.Knob.MinState = 100*time.Microsecond, 1, 0.25
		rig.Firmware.Phase.At %= rig.Firmware.Scan
		rig.System.Repeat, rig.Program.Hold = encoder.Repeat{}, encoder.Hold{}
		for i := range ts {
			ts[i].dir = 1
		}
		if a := r.account(&rig, ts); a.Lost() > 0 {
			r.Errorf("%+v", a)
		}
	})
}
