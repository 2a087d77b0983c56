package encoder_test

import (
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// law checks a law on at least 400 random rigs; each test says why it holds.
func law(t *testing.T, check func(random)) {
	t.Helper()
	encoder.CheckOften(t, 400, func(t *rapid.T) { check(random{t}) })
}

// turned runs a turn from number 0 and returns the path, its trial finished. The
// draws are the same for all rigs and turns: phases that matter are the rig's.
func (r random) turned(s encoder.Setup, ts []turn) *encoder.Path {
	p, err := encoder.NewPath(s)
	if err != nil {
		r.Fatal(err)
	}
	run(p, ts, draw.NewTrial(1, "law", 0), 0)
	return p
}

// lostToFrames returns the detents that ended at the program's frames.
func lostToFrames(p *encoder.Path) int {
	n := 0
	for i := range p.Account().Detents {
		if f := p.Detents()[i].Fate; f == encoder.FrameMissed || f == encoder.MergedAtFrame {
			n++
		}
	}
	return n
}

// follow makes the firmware quick enough for every turn of turns(): ten scans and
// more in the shortest state, each believed, no chatter. So every detent has one
// count of its own, and no count is without one.
func (r random) follow(rig *encoder.Rig) {
	rig.Knob.Bounce, rig.Firmware.Decoder = 0, encoder.Table
	rig.Firmware.Scan, rig.Firmware.Debounce = 40*time.Microsecond, 1
	rig.Firmware.Phase = r.phase("quick scan phase", rig.Firmware.Scan)
}

// pulsing draws a rig with pulses and level sampling on which every detent has one
// pulse: one without an owner could be seen in the place of one that has, and a
// detent with several is lost only when all of them are. Frames are `period` apart,
// which 2, 3, 4 and 5 divide.
func (r random) pulsing() (rig encoder.Rig, period time.Duration) {
	rig = r.rig(true)
	r.follow(&rig)
	f, g := &rig.Firmware, &rig.Program
	f.CountsPerDetent = 1
	if !f.Output.Lines() {
		f.Output, f.Axis = encoder.Buttons, encoder.Axis{}
		rig.USB.Reports = encoder.Reports(r.whole("pulse reports", 0, 1))
	}
	if f.Pulse == 0 {
		f.Hold = 0
		f.Pulse, f.Gap = r.time("pulse", time.Millisecond, 60*time.Millisecond), r.time("gap", 0, 60*time.Millisecond)
		f.Queue = r.whole("places", 0, 8)
	}
	period = time.Duration(r.whole("60 µs in a frame", 60, 2000)) * 60 * time.Microsecond
	*g = encoder.Program{Sampling: encoder.State, FrameList: []time.Duration{period}, Phase: r.phase("phase", 120*time.Millisecond)}
	return rig, period
}

// With the phase fixed, k times the frame rate keeps every old frame and puts k−1
// between two. A step is a frame that finds a button down which the frame before
// found up: between two old frames that differ so, one of the new pairs must differ
// so too. With one pulse a detent, the steps are the detents that frames do not
// lose; a constant gain changes no time. (A gain in the firmware would: its pulses
// share a detent.)
func TestMoreFramesLoseNoMore(t *testing.T) {
	lost := 0
	law(t, func(r random) {
		rig, period := r.pulsing()
		ts := r.turns()
		gain, err := accel.Acceleration{Curve: accel.Constant{Gain: float64(r.whole("gain", 1, 5))}}.Compile()
		if err != nil {
			r.Fatal(err)
		}
		s := encoder.Setup{Rig: &rig, Gain: gain}
		k := r.whole("times", 2, 5)
		slow := lostToFrames(r.turned(s, ts))
		rig.Program.FrameList = []time.Duration{period / time.Duration(k)}
		if quick := lostToFrames(r.turned(s, ts)); quick > slow {
			r.Errorf("%d detents end at frames of %v, %d at %d times as many", slow, period, quick, k)
		}
		lost += slow
	})
	if lost < 200 {
		t.Errorf("only %d detents end at frames: the rigs are too tame", lost)
	}
}

// A pulse of w seconds is down in the polls for w less a poll at least, that is for
// a frame and more, so some frame falls into it; and so into the gap behind it.
func TestPulsesLongerThanAFrameAndAPollAreAllSeen(t *testing.T) {
	seen := 0
	law(t, func(r random) {
		rig, period := r.pulsing()
		ts := r.turns()
		rig.USB.Reports = encoder.StateReports
		longer := func(what string) time.Duration {
			return period + rig.USB.Poll + 1 + rapid.SampledFrom([]time.Duration{0, time.Microsecond, 3 * time.Millisecond, 50 * time.Millisecond}).Draw(r.T, what)
		}
		rig.Firmware.Pulse, rig.Firmware.Gap = longer("pulse longer by"), longer("gap longer by")
		a := r.turned(encoder.Setup{Rig: &rig}, ts).Account()
		if a.Merged+a.PollMissed+a.FrameMissed+a.Illegal > 0 {
			r.Errorf("pulses of %v and gaps of %v, frames of %v: %+v", rig.Firmware.Pulse, rig.Firmware.Gap, period, a)
		}
		seen += a.Delivered
	})
	if seen < 1000 {
		t.Errorf("only %d detents are delivered: the rigs are too tame", seen)
	}
}

// A pulse is refused, or pushes another out, when all places are taken. With more
// places at least as many pulses wait at every instant, all are as long, so the
// line is busy at every instant at which it was before: induction over the arrivals
// gives never fewer free places. A reversal that clears breaks this (a longer queue
// has more to throw away), so all are kept.
func TestLongerQueueDropsNoMore(t *testing.T) {
	dropped := 0
	law(t, func(r random) {
		rig, _ := r.pulsing()
		ts := r.turns()
		rig.Firmware.Reversal = encoder.KeepWaiting
		rig.Firmware.Queue = r.whole("short queue", 0, 10)
		before := r.turned(encoder.Setup{Rig: &rig}, ts).Account()
		rig.Firmware.Queue += r.whole("more places", 1, 20)
		after := r.turned(encoder.Setup{Rig: &rig}, ts).Account()
		if after.QueueDropped > before.QueueDropped {
			r.Errorf("%d dropped, with more places %d", before.QueueDropped, after.QueueDropped)
		}
		dropped += before.QueueDropped
	})
	if dropped < 200 {
		t.Errorf("only %d detents are dropped: the rigs are too tame", dropped)
	}
}

// Relative counts add up until a poll and a frame carry them all. Where the decoder
// follows, the number moves by the detents, clockwise less counter-clockwise, and
// no detent has another fate than delivered or merged (opposite counts of one poll
// or frame cancel); turned one way, all are delivered.
func TestRelativeOutputLosesNothing(t *testing.T) {
	law(t, func(r random) {
		rig, ts := r.rig(false), r.turns()
		r.follow(&rig)
		rig.Firmware.Output, rig.Firmware.Axis = encoder.Relative, encoder.Axis{}
		rig.Firmware.Hold, rig.Firmware.Coarse = 0, encoder.Coarse{}
		rig.USB.Reports, rig.System.Repeat, rig.Program.Hold = encoder.StateReports, encoder.Repeat{}, encoder.Hold{}
		if r.yes("one way") {
			for i := range ts {
				ts[i].dir = ts[0].dir
			}
		}
		p := r.turned(encoder.Setup{Rig: &rig}, ts)
		a, net := p.Account(), int64(0)
		oneWay := true
		for _, t := range ts {
			net += int64(t.dir)
			oneWay = oneWay && t.dir == ts[0].dir
		}
		if got, want := p.Shown(1<<60), net*int64(rig.Firmware.CountsPerDetent); got != want {
			r.Errorf("the number moved by %d, turned by %d", got, want)
		}
		if a.Delivered+a.Merged != len(ts) || oneWay && a.Merged > 0 || a.Extra.Sum() > 0 {
			r.Errorf("%+v", a)
		}
	})
}
