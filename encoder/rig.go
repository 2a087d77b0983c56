package encoder

import (
	"math"
	"time"
)

// Rig is everything between the fingers and the number on the screen, in the
// order in which a click travels. A Rig describes; NewPath makes it run.
type Rig struct {
	Name     string
	Knob     Knob
	Firmware Firmware
	USB      USB
	System   System
	Program  Program
	Display  Display
}

// Default returns the rig that every key of a rig file defaults to: a part with
// 24 detents and 24 cycles behind button pulses, a full-speed USB poll and a
// program that looks at its buttons 30 times a second.
func Default() Rig {
	return Rig{
		Knob: Knob{Detents: 24, Cycles: 24, Bounce: 2 * time.Millisecond, MinState: 0.25},
		Firmware: Firmware{
			Scan: time.Millisecond, Debounce: 4, CountsPerDetent: 1,
			Pulse: 30 * time.Millisecond, Gap: 30 * time.Millisecond, Queue: 8,
		},
		USB:     USB{Poll: 8 * time.Millisecond},
		System:  System{Latency: time.Millisecond, Repeat: Repeat{Delay: 500 * time.Millisecond, Rate: 30}},
		Program: Program{Frames: 30, Jitter: 0.10},
		Display: Display{Latency: 50 * time.Millisecond},
	}
}

// Knob is the part under the fingers (stage 1).
type Knob struct {
	Detents  int           // clicks per turn; 0 is a smooth knob, whose unit is the quarter step
	Cycles   int           // quadrature periods per turn (the part's PPR)
	Bounce   time.Duration // the longest chatter of a contact after an edge
	MinState float64       // the shortest state as a share of the cycle, (0, 0.25]; 0 means 0.25
	Push     bool          // the shaft has a push switch
}

// EdgesPerDetent returns E = 4·Cycles/Detents, the quarter steps of one detent
// (1 on a smooth knob), and whether it is a whole number of at least 1.
func (k Knob) EdgesPerDetent() (e int, ok bool) {
	if k.Detents == 0 {
		return 1, k.Cycles > 0
	}
	if k.Detents < 0 || k.Cycles < 1 {
		return 0, false
	}
	return 4 * k.Cycles / k.Detents, 4*k.Cycles%k.Detents == 0 && 4*k.Cycles >= k.Detents
}

// UnitsPerTurn returns the detents per turn, or on a smooth knob the quarter
// steps.
func (k Knob) UnitsPerTurn() int {
	if k.Detents == 0 {
		return 4 * k.Cycles
	}
	return k.Detents
}

// Phase is the time of one tick of a periodic stage. The zero value is drawn
// anew for each trial.
type Phase struct {
	Fixed bool
	At    time.Duration
}

// PhaseAt returns a phase that is fixed: one tick of the stage comes at t.
func PhaseAt(t time.Duration) Phase { return Phase{Fixed: true, At: t} }

// PerSecond is a rate.
type PerSecond float64

// Period returns the time between two ticks, rounded once to whole nanoseconds.
func (r PerSecond) Period() time.Duration {
	return time.Duration(math.Round(1e9 / float64(r)))
}

// Firmware reads the contacts and drives an output (stages 2 and 3).
type Firmware struct {
	Scan            time.Duration // time between two readings of both contacts
	Phase           Phase
	Debounce        int // equal readings in a row that are believed; 1 is the reading itself
	Decoder         Decoder
	CountsPerDetent int // counts for each emission of the decoder; all outputs but Axis
	Output          Output

	Pulse, Gap time.Duration // length of a pulse and of the gap after it
	Queue      int           // pulses that may wait
	Overflow   Overflow
	Reversal   Reversal
	Hold       time.Duration // > 0: instead of pulses, a line stays pressed until no count came for so long
	Coarse     Coarse        // a second pair of output lines; zero = none

	Axis Axis // used by the Axis output
}

// Decoder turns accepted contact levels into counts.
type Decoder uint8

// The decoders: Table steps on the pair of levels, Edge counts rising edges of A.
const (
	Table Decoder = iota
	Edge
)

// String returns the word for a decoder.
func (d Decoder) String() string { return word(d, "table", "edge") }

// Output is how the firmware tells the computer.
type Output uint8

// The outputs.
const (
	Buttons Output = iota
	Keys
	Relative
	AxisOutput
)

// String returns the word for an output.
func (o Output) String() string { return word(o, "buttons", "keys", "relative", "axis") }

// Lines reports whether the output presses and releases lines, which polls, key
// repeat and frames then look at; the others report numbers.
func (o Output) Lines() bool { return o == Buttons || o == Keys }

// Overflow says what gives when a pulse finds no place to wait.
type Overflow uint8

// The overflows.
const (
	DropNew Overflow = iota
	DropOld
)

// String returns the word for an overflow.
func (o Overflow) String() string { return word(o, "drop-new", "drop-old") }

// Reversal says what becomes of waiting pulses when the knob turns back.
type Reversal uint8

// The reversals.
const (
	KeepWaiting Reversal = iota
	ClearWaiting
)

// String returns the word for a reversal.
func (r Reversal) String() string { return word(r, "keep", "clear") }

// Coarse is a second pair of output lines, pulsed instead of the first above a
// turning rate. Steps is what the program binds it to.
type Coarse struct {
	Above PerSecond
	Steps int
}

// Axis is an absolute position of 2^Bits values; a count moves it by
// CountsPerDetent.
type Axis struct {
	Bits            int
	CountsPerDetent int
}

// USB is the bus between the firmware and the system (stage 4).
type USB struct {
	Poll    time.Duration
	Phase   Phase
	Reports Reports
}

// Reports is what a poll carries of the output lines.
type Reports uint8

// The reports: State carries the levels of the instant, Queued one change a poll.
const (
	StateReports Reports = iota
	QueuedReports
)

// String returns the word for reports.
func (r Reports) String() string { return word(r, "state", "queued") }

// System is the operating system (stage 5).
type System struct {
	Latency time.Duration
	Repeat  Repeat // used by the Keys output; a zero Rate is no key repeat
}

// Repeat is the key repeat (typematic delay and rate).
type Repeat struct {
	Delay time.Duration
	Rate  PerSecond
}

// Program is the program that owns the number (stages 6 and 8).
type Program struct {
	Frames      PerSecond
	Jitter      float64 // of the frame period, 0 to 0.45, either way
	Phase       Phase
	FrameList   []time.Duration // measured frame times, repeated; instead of Frames and Jitter
	Sampling    Sampling
	MaxPerFrame int // presses that a frame applies under Events; 0 is no limit
	Excess      Excess
	Repeats     Repeats
	Hold        Hold // the program's own repeat; a zero Period is none
}

// Sampling is how the program learns of presses.
type Sampling uint8

// The samplings.
const (
	State Sampling = iota
	Events
	Immediate
)

// String returns the word for a sampling.
func (s Sampling) String() string { return word(s, "state", "events", "immediate") }

// Excess says what becomes of presses above MaxPerFrame.
type Excess uint8

// The excesses.
const (
	CarryExcess Excess = iota
	DropExcess
)

// String returns the word for an excess.
func (e Excess) String() string { return word(e, "carry", "drop") }

// Repeats says what the program makes of the system's key repeats.
type Repeats uint8

// The repeats.
const (
	ApplyRepeats Repeats = iota
	IgnoreRepeats
)

// String returns the word for repeats.
func (r Repeats) String() string { return word(r, "apply", "ignore") }

// Hold is a repeat that the program makes itself while a button stays down.
type Hold struct {
	Delay, Period time.Duration
}

// Display is the screen (after stage 8).
type Display struct {
	Latency time.Duration
}

// Scale is the run of numbers that a knob dials, counted in task steps.
type Scale struct {
	Low   int64 // the first number, in steps from zero; landing needs it
	Count int64 // how many numbers; 0 is no range
	Wrap  bool  // beyond the last comes the first; otherwise the ends stop
}

// Add returns the number that lies delta steps from v; numbers count from the
// start of the range.
func (s Scale) Add(v, delta int64) int64 {
	v += delta
	switch {
	case s.Count == 0:
		return v
	case uint64(v) < uint64(s.Count):
		return v
	case s.Wrap:
		v %= s.Count
		if v < 0 {
			v += s.Count
		}
		return v
	}
	return min(max(v, 0), s.Count-1)
}

// Distance returns the signed steps from one number to another, the shorter way
// round where the scale wraps (upwards when both ways are equally long).
func (s Scale) Distance(from, to int64) int64 {
	d := to - from
	if s.Wrap && s.Count > 0 {
		if d >= s.Count || d <= -s.Count {
			d %= s.Count
		}
		if d < 0 {
			d += s.Count
		}
		if 2*d > s.Count {
			d -= s.Count
		}
	}
	return d
}

// Home is where the acceleration of a profile lives.
type Home uint8

// The homes. In the program a step becomes larger; in the firmware a count
// becomes more pulses.
const (
	InProgram Home = iota
	InFirmware
)

// String returns the word for a home.
func (h Home) String() string { return word(h, "program", "firmware") }

// ScanFor returns the longest scan with which the firmware can follow a turning
// speed: `debounce` readings must fall into the part's shortest state.
// (f > debounce·PPR·rpm/(60·d), d the shortest state as a share of the cycle;
// derived.)
func (r *Rig) ScanFor(degPerS float64) time.Duration {
	share := r.Knob.MinState
	if share == 0 {
		share = 0.25
	}
	state := share / (degPerS / 360 * float64(r.Knob.Cycles)) // seconds
	return time.Duration(state / float64(r.Firmware.Debounce) * 1e9)
}
