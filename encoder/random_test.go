package encoder_test

import (
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// turn is one detent of a random turn.
type turn struct {
	at  int64
	dir int8
}

// random draws rigs and turns of every kind. Times are whole milliseconds or
// halves so often that events at the same instant are common.
type random struct{ *rapid.T }

func (r random) whole(what string, low, high int) int {
	return rapid.IntRange(low, high).Draw(r.T, what)
}

func (r random) yes(what string) bool { return rapid.Bool().Draw(r.T, what) }

func (r random) time(what string, low, high time.Duration) time.Duration {
	unit := rapid.SampledFrom([]time.Duration{time.Millisecond, time.Millisecond, 500 * time.Microsecond, time.Microsecond}).Draw(r.T, what+" in")
	return time.Duration(r.whole(what, int(low/unit), int(high/unit))) * unit
}

func (r random) phase(what string, most time.Duration) encoder.Phase {
	return encoder.PhaseAt(r.time(what, 0, most))
}

// anyOf draws one of the modes that there are, some of them more often.
func anyOf[M encoder.Mode](r random, what string, often ...M) M {
	return rapid.SampledFrom(append(encoder.Modes[M](), often...)).Draw(r.T, what)
}

// rig draws a rig. A deterministic one has no bounce, no jitter and fixed phases.
func (r random) rig(deterministic bool) encoder.Rig {
	one := func(v []int) int { return rapid.SampledFrom(v).Draw(r.T, "choice") }
	g := encoder.Rig{Name: "random"}
	part := rapid.SampledFrom([][2]int{{24, 24}, {30, 15}, {12, 24}, {24, 6}, {18, 9}, {16, 12}, {0, 24}}).Draw(r.T, "part")
	g.Knob = encoder.Knob{Detents: part[0], Cycles: part[1], MinState: float64(one([]int{250, 250, 80, 50, 200})) / 1000}
	if !deterministic {
		g.Knob.Bounce = r.time("bounce", 0, 6*time.Millisecond)
	}
	f := &g.Firmware
	f.Scan = rapid.SampledFrom([]time.Duration{time.Millisecond, 500 * time.Microsecond, 100 * time.Microsecond, 2 * time.Millisecond, 7 * time.Millisecond, 16667 * time.Microsecond}).Draw(r.T, "scan")
	f.Debounce = one([]int{1, 1, 2, 4, 7})
	f.Decoder = anyOf(r, "decoder", encoder.Table)
	f.Output = anyOf[encoder.Output](r, "output")
	f.CountsPerDetent = 1
	if f.Output != encoder.AxisOutput {
		f.CountsPerDetent = one([]int{1, 1, 1, 2, 3})
	}
	pulses := f.Output.Lines()
	switch {
	case f.Output == encoder.AxisOutput:
		f.Axis = encoder.Axis{Bits: r.whole("bits", 4, 12), CountsPerDetent: r.whole("axis counts", 1, 20)}
	case pulses && r.whole("hold", 0, 4) == 0:
		f.Hold = r.time("hold for", time.Millisecond, 200*time.Millisecond)
	case pulses:
		f.Pulse = r.time("on", time.Millisecond, 60*time.Millisecond)
		f.Gap = r.time("off", 0, 60*time.Millisecond)
		f.Queue = one([]int{0, 1, 2, 8, 40})
		f.Overflow = anyOf[encoder.Overflow](r, "overflow")
		f.Reversal = anyOf[encoder.Reversal](r, "reversal")
		if r.whole("coarse", 0, 2) == 0 {
			f.Coarse = encoder.Coarse{Above: encoder.PerSecond(r.whole("above", 2, 40)), Steps: r.whole("coarse steps", 2, 10)}
		}
	}
	g.USB.Poll = rapid.SampledFrom([]time.Duration{time.Millisecond, 8 * time.Millisecond, 10 * time.Millisecond, 32 * time.Millisecond, 125 * time.Microsecond}).Draw(r.T, "poll")
	if pulses {
		g.USB.Reports = anyOf[encoder.Reports](r, "reports")
	}
	g.System.Latency = r.time("latency", 0, 5*time.Millisecond)
	if f.Output == encoder.Keys && r.yes("repeat") {
		g.System.Repeat = encoder.Repeat{Delay: r.time("repeat delay", 10*time.Millisecond, 300*time.Millisecond), Rate: encoder.PerSecond(r.whole("repeat rate", 5, 60))}
	}
	m := &g.Program
	m.Sampling = anyOf[encoder.Sampling](r, "sampling")
	if m.Sampling != encoder.Immediate {
		if r.whole("list", 0, 4) == 0 {
			for range r.whole("frame times", 1, 5) {
				m.FrameList = append(m.FrameList, r.time("frame", 5*time.Millisecond, 80*time.Millisecond))
			}
		} else {
			m.Frames = encoder.PerSecond(one([]int{20, 25, 30, 50, 60, 100, 125}))
			if !deterministic {
				m.Jitter = float64(r.whole("jitter", 0, 45)) / 100
			}
		}
	}
	if pulses {
		if m.Sampling != encoder.State && r.whole("program hold", 0, 3) > 0 {
			m.Repeats = anyOf[encoder.Repeats](r, "repeats")
		} else {
			m.Hold = encoder.Hold{Delay: r.time("hold delay", 0, 200*time.Millisecond), Period: r.time("hold period", 2*time.Millisecond, 60*time.Millisecond)}
		}
		if m.Sampling == encoder.Events {
			m.MaxPerFrame = one([]int{0, 0, 1, 2})
			m.Excess = anyOf[encoder.Excess](r, "excess")
		}
	}
	g.Display.Latency = r.time("display", 0, 100*time.Millisecond)
	if deterministic || r.yes("fixed phases") {
		f.Phase = r.phase("scan phase", f.Scan)
		g.USB.Phase = r.phase("poll phase", g.USB.Poll)
		if m.Sampling != encoder.Immediate {
			m.Phase = r.phase("frame phase", 40*time.Millisecond)
		}
	}
	return g
}

// scale draws the numbers of a task and where it starts.
func (r random) scale() (s encoder.Scale, start int64) {
	s = encoder.Scale{Low: int64(r.whole("low", -50, 50)), Count: int64(r.whole("count", 2, 400)), Wrap: r.yes("wrap")}
	return s, int64(r.whole("start", 0, int(s.Count)-1))
}

// turns draws bursts of up to 60 detents a second with pauses and reversals.
func (r random) turns() []turn {
	var ts []turn
	at := int64(20 * time.Millisecond)
	for range r.whole("bursts", 1, 4) {
		dir := int8(2*r.whole("direction", 0, 1) - 1)
		gap := int64(r.time("interval", 17*time.Millisecond, 120*time.Millisecond))
		for range r.whole("detents", 1, 15) {
			at += gap
			ts = append(ts, turn{at, dir})
		}
		at += int64(r.time("pause", 0, 700*time.Millisecond))
	}
	return ts
}

// gain draws an acceleration and where it lives.
func (r random) gain() (*accel.Gain, encoder.Home) {
	if r.yes("plain") {
		return nil, encoder.InProgram
	}
	a := accel.Acceleration{Curve: accel.Linear{Per: 10, Factor: float64(r.whole("factor", 1, 4)), Cap: 10}}
	if r.yes("average") {
		a.Rate = accel.Rate{From: accel.Average, Over: 120 * time.Millisecond}
	}
	if r.yes("landing") {
		a.Landing = 3
	}
	g, err := a.Compile()
	if err != nil {
		r.Fatal(err)
	}
	return g, anyOf[encoder.Home](r, "home")
}

// path draws everything and runs a turn through it.
func (r random) path(rig *encoder.Rig, ts []turn) *encoder.Path {
	s, start := r.scale()
	g, home := r.gain()
	p, err := encoder.NewPath(encoder.Setup{Rig: rig, Gain: g, Home: home, Scale: s})
	if err != nil {
		r.Fatal(err)
	}
	run(p, ts, draw.NewTrial(1, "random", r.whole("trial", 0, 1<<20)), start)
	return p
}

func run(p *encoder.Path, ts []turn, trial draw.Trial, start int64) {
	p.Start(trial, start)
	for _, t := range ts {
		p.Detent(t.at, t.dir)
	}
	p.Finish()
}
