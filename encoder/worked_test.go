package encoder_test

import (
	"slices"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// still returns a rig without noise whose contacts are read every millisecond and
// believed at once, whose polls come every 8 ms and whose frames every 40 ms, all
// at 0; so every time below can be worked by hand.
func still() encoder.Rig {
	r := ideal()
	r.Firmware.Debounce = 1
	r.Firmware.Pulse, r.Firmware.Gap = 50*time.Millisecond, 50*time.Millisecond
	r.Program.Frames = 25
	r.Display.Latency = 0
	return r
}

// applied is a step as the worked examples give it, in ms.
type applied struct {
	at    float64
	dir   int8
	count int64
	value int64
	cause string
}

// works turns detents at whole milliseconds (negative: counter-clockwise) and
// returns the steps.
func works(t *testing.T, s encoder.Setup, start int64, detents ...int64) ([]applied, *encoder.Path) {
	t.Helper()
	p, err := encoder.NewPath(s)
	if err != nil {
		t.Fatal(err)
	}
	var got []applied
	p.Trace = func(e encoder.Event) {
		if e.Kind == encoder.Stepped {
			got = append(got, applied{float64(e.At) / 1e6, e.Dir, e.Count, e.Value, e.Cause.String()})
		}
	}
	p.Start(draw.NewTrial(1, "", 0), start)
	for _, at := range detents {
		dir := int8(1)
		if at < 0 {
			at, dir = -at, -1
		}
		p.Detent(at*ms, dir)
	}
	p.Finish()
	return got, p
}

func fates(p *encoder.Path) []string {
	var fs []string
	for i := range p.Account().Detents {
		fs = append(fs, p.Detents()[i].Fate.String())
	}
	return fs
}

// Hand-computed examples, one for each way through stages 3 to 6. A detent at 100
// ms is counted by the scan at 100 ms; its poll is the next multiple of 8, its
// delivery 1 ms later, its frame the next multiple of 40.
func TestWorkedExamples(t *testing.T) {
	span := encoder.Scale{Count: 11} // ten steps over an axis
	for _, x := range []struct {
		name    string
		change  func(*encoder.Rig)
		scale   encoder.Scale
		start   int64
		detents []int64
		steps   []applied
		fates   []string // none under a firmware hold, but
		presses int
		held    int64 // ms
	}{
		{
			name:    "one press: poll at 104, delivery at 105, frame at 120",
			detents: []int64{100},
			steps:   []applied{{120, 1, 1, 1, "detent"}},
			fates:   []string{"delivered"},
		},
		{
			// The first is down until 150 and the line rests until 200: polled then,
			// delivered at 201.
			name:    "a waiting pulse starts when the gap ends",
			detents: []int64{100, 125},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {240, 1, 1, 2, "detent"}},
			fates:   []string{"delivered", "delivered"},
		},
		{
			name:    "queue 0: a pulse in the gap is refused, one that may start does",
			change:  func(r *encoder.Rig) { r.Firmware.Queue = 0 },
			detents: []int64{100, 155, 205},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {240, 1, 1, 2, "detent"}},
			fates:   []string{"delivered", "queue-dropped", "delivered"},
		},
		{
			name:    "drop-old pushes the oldest out",
			change:  func(r *encoder.Rig) { r.Firmware.Queue, r.Firmware.Overflow = 1, encoder.DropOld },
			detents: []int64{100, 115, 130},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {240, 1, 1, 2, "detent"}},
			fates:   []string{"delivered", "queue-dropped", "delivered"},
		},
		{
			// The pulse of 115 is thrown away by the detent back at 130; that starts
			// at 200.
			name:    "clear throws the waiting pulse away, not the one in progress",
			change:  func(r *encoder.Rig) { r.Firmware.Reversal = encoder.ClearWaiting },
			detents: []int64{100, 115, -130},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {240, -1, 1, 0, "detent"}},
			fates:   []string{"delivered", "cleared", "delivered"},
		},
		{
			// On 3 ms from 105: no poll in [105, 108).
			name:    "a pulse between two polls is missed",
			change:  func(r *encoder.Rig) { r.Firmware.Pulse = 3 * time.Millisecond },
			detents: []int64{105},
			fates:   []string{"poll-missed"},
		},
		{
			// On 5 ms: the poll at 104 finds the line of 99 released at that instant, the
			// poll at 192 finds it pressed at that instant (delivered 193 to 201).
			name:    "a poll at the instant of a change sees it",
			change:  func(r *encoder.Rig) { r.Firmware.Pulse = 5 * time.Millisecond },
			detents: []int64{99, 192},
			steps:   []applied{{200, 1, 1, 1, "detent"}},
			fates:   []string{"poll-missed", "delivered"},
		},
		{
			// 93..113 and 114..134: the polls at 112 and 120 find the line down, and
			// none falls into the gap.
			name:    "a gap between two polls merges two presses",
			change:  func(r *encoder.Rig) { r.Firmware.Pulse, r.Firmware.Gap = 20*time.Millisecond, time.Millisecond },
			detents: []int64{93, 97},
			steps:   []applied{{120, 1, 1, 1, "detent"}},
			fates:   []string{"delivered", "merged"},
		},
		{
			// Pressed 122..142, delivered 129..145: no frame between 120 and 160.
			name:    "a press between two frames is missed",
			change:  func(r *encoder.Rig) { r.Firmware.Pulse = 20 * time.Millisecond },
			detents: []int64{122},
			fates:   []string{"frame-missed"},
		},
		{
			// 110..160 and 170..220, delivered 113 to 161 and 177 to 225: the frames 160
			// and 200 find the button down, and none falls into the gap.
			name:    "a gap between two frames merges two presses",
			change:  func(r *encoder.Rig) { r.Firmware.Gap = 10 * time.Millisecond },
			detents: []int64{110, 130},
			steps:   []applied{{120, 1, 1, 1, "detent"}},
			fates:   []string{"delivered", "merged"},
		},
		{
			// Pulses of 2 ms at 100, 110 and 120 make six changes, of which each poll
			// carries one: presses at 120, 168 and 216.
			name: "queued reports carry one change a poll",
			change: func(r *encoder.Rig) {
				r.Program.Sampling, r.USB.Reports, r.USB.Poll = encoder.Events, encoder.QueuedReports, 24*time.Millisecond
				r.Firmware.Pulse, r.Firmware.Gap = 2*time.Millisecond, 3*time.Millisecond
			},
			detents: []int64{100, 110, 120},
			steps:   []applied{{160, 1, 1, 1, "detent"}, {200, 1, 1, 2, "detent"}, {240, 1, 1, 3, "detent"}},
			fates:   []string{"delivered", "delivered", "delivered"},
		},
		{
			// Presses start at 100, 200 and 300; every press and release rides on a
			// poll of its own: 104, 152, 200, 256, 304.
			name:    "events applies what was delivered, however short",
			change:  func(r *encoder.Rig) { r.Program.Sampling, r.USB.Reports = encoder.Events, encoder.QueuedReports },
			detents: []int64{100, 125, 165},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {240, 1, 1, 2, "detent"}, {320, 1, 1, 3, "detent"}},
			fates:   []string{"delivered", "delivered", "delivered"},
		},
		{
			// Five presses of 2 ms and gaps of 8 ms reach the program at 101, 111, 121,
			// 131 and 141. One a frame is applied, the oldest first, and the rest are
			// carried: 120, 160, 200, 240, 280.
			name: "max_per_frame carries the excess",
			change: func(r *encoder.Rig) {
				r.Program.Sampling, r.Program.MaxPerFrame = encoder.Events, 1
				r.USB.Poll = time.Millisecond
				r.Firmware.Pulse, r.Firmware.Gap = 2*time.Millisecond, 8*time.Millisecond
			},
			detents: []int64{100, 110, 120, 130, 140},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {160, 1, 1, 2, "detent"}, {200, 1, 1, 3, "detent"}, {240, 1, 1, 4, "detent"}, {280, 1, 1, 5, "detent"}},
			fates:   []string{"delivered", "delivered", "delivered", "delivered", "delivered"},
		},
		{
			// The same with drop: the frame at 120 has 101 and 111 and keeps one; the
			// frame at 160 has 121, 131 and 141 and keeps one.
			name: "max_per_frame drops the excess",
			change: func(r *encoder.Rig) {
				r.Program.Sampling, r.Program.MaxPerFrame, r.Program.Excess = encoder.Events, 1, encoder.DropExcess
				r.USB.Poll = time.Millisecond
				r.Firmware.Pulse, r.Firmware.Gap = 2*time.Millisecond, 8*time.Millisecond
			},
			detents: []int64{100, 110, 120, 130, 140},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {160, 1, 1, 2, "detent"}},
			fates:   []string{"delivered", "frame-missed", "delivered", "frame-missed", "frame-missed"},
		},
		{
			// Line down 100 to 250 (hold of 100 ms after the count at 150). Delivered
			// at 105; the program's hold is due at 120+50 = 170, then every 30: the
			// frame at 200 has 170 and 200, the frame at 240 has 230. Released at the
			// poll 256.
			name: "a firmware hold and the program's own repeat",
			change: func(r *encoder.Rig) {
				r.Firmware.Hold = 100 * time.Millisecond
				r.Program.Hold = encoder.Hold{Delay: 50 * time.Millisecond, Period: 30 * time.Millisecond}
			},
			detents: []int64{100, 150},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {200, 1, 1, 2, "hold"}, {200, 1, 1, 3, "hold"}, {240, 1, 1, 4, "hold"}},
			presses: 1, held: 150,
		},
		{
			// Down 100 to 250: the count at 200, the very end of the hold, keeps it
			// down, the one back at 250 releases it at once and presses the other line,
			// until 350. Both changes ride on the poll 256, the frame is at 280.
			name:    "a firmware hold is kept down by a count at its end and ended by one back",
			change:  func(r *encoder.Rig) { r.Firmware.Hold = 100 * time.Millisecond },
			detents: []int64{100, 200, -250},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {280, -1, 1, 0, "detent"}},
			presses: 2, held: 250,
		},
		{
			// Down 100 to 400, delivered at 105, released at the poll 400, delivered at
			// 401: repeats at 105 + 100 + k·50 strictly before that, 205, 255, 305, 355.
			name: "a held key repeats",
			change: func(r *encoder.Rig) {
				r.Firmware.Output, r.Firmware.Hold = encoder.Keys, 300*time.Millisecond
				r.System.Repeat = encoder.Repeat{Delay: 100 * time.Millisecond, Rate: 20}
				r.Program.Sampling = encoder.Immediate
			},
			detents: []int64{100},
			steps:   []applied{{105, 1, 1, 1, "detent"}, {205, 1, 1, 2, "repeat"}, {255, 1, 1, 3, "repeat"}, {305, 1, 1, 4, "repeat"}, {355, 1, 1, 5, "repeat"}},
			presses: 1, held: 300,
		},
		{
			// 101..161 and 163..223: the polls at 160 and 168 find the key down and none
			// falls into the gap, so it is one press of 105 to 225, long enough for
			// repeats at 155 and 205. Two detents, three steps.
			name: "a short gap turns two pulses into a long press that repeats",
			change: func(r *encoder.Rig) {
				r.Firmware.Output, r.Firmware.Pulse, r.Firmware.Gap = encoder.Keys, 60*time.Millisecond, 2*time.Millisecond
				r.System.Repeat = encoder.Repeat{Delay: 50 * time.Millisecond, Rate: 20}
				r.Program.Sampling = encoder.Immediate
			},
			detents: []int64{101, 120},
			steps:   []applied{{105, 1, 1, 1, "detent"}, {155, 1, 1, 2, "repeat"}, {205, 1, 1, 3, "repeat"}},
			fates:   []string{"delivered", "merged"},
		},
		{
			// Delivered at 105, released at 200, delivered at 201. The program's hold is
			// due at 105 + 56 + k·20 strictly before that: 161, 181, not 201. The
			// system's repeat, due at 115, is ignored.
			name: "the program's own repeat, applied when due",
			change: func(r *encoder.Rig) {
				r.Firmware.Output, r.Firmware.Hold = encoder.Keys, 100*time.Millisecond
				r.System.Repeat = encoder.Repeat{Delay: 10 * time.Millisecond, Rate: 20}
				r.Program.Sampling = encoder.Immediate
				r.Program.Hold = encoder.Hold{Delay: 56 * time.Millisecond, Period: 20 * time.Millisecond}
			},
			detents: []int64{100},
			steps:   []applied{{105, 1, 1, 1, "detent"}, {161, 1, 1, 2, "hold"}, {181, 1, 1, 3, "hold"}},
			presses: 1, held: 100,
		},
		{
			// Pulses of 50 ms from 100 and 200, delivered 105 to 153 and 201 to 257, two
			// presses for the frames 120 and 240. The holds are due at 120 + 40 = 160,
			// when the button is up, and at 240 + 40 = 280, when it is up again.
			name: "the program's own repeat ends with a frame that finds the button up",
			change: func(r *encoder.Rig) {
				r.Program.Hold = encoder.Hold{Delay: 40 * time.Millisecond, Period: 10 * time.Millisecond}
			},
			detents: []int64{100, 125},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {240, 1, 1, 2, "detent"}},
			fates:   []string{"delivered", "delivered"},
		},
		{
			// 8 bits: 255 positions over ten steps, 25.5 a step. The start 5 is position
			// 127.5, halves up 128. Two counts of 38 units: 166 at the poll 104 is 6.51
			// steps, 7; 204 at the poll 152 is 8.
			name: "an axis",
			change: func(r *encoder.Rig) {
				r.Firmware.Output, r.Firmware.Axis = encoder.AxisOutput, encoder.Axis{Bits: 8, CountsPerDetent: 38}
			},
			scale: span, start: 5,
			detents: []int64{100, 150},
			steps:   []applied{{120, 1, 2, 7, "detent"}, {160, 1, 1, 8, "detent"}},
			fates:   []string{"delivered", "delivered"},
		},
		{
			// From 10, position 255: no room upwards.
			name: "an axis at its end",
			change: func(r *encoder.Rig) {
				r.Firmware.Output, r.Firmware.Axis = encoder.AxisOutput, encoder.Axis{Bits: 8, CountsPerDetent: 20}
			},
			scale: span, start: 10,
			detents: []int64{100, -150},
			steps:   []applied{{160, -1, 1, 9, "detent"}},
			fates:   []string{"clipped", "delivered"},
		},
		{
			// Counts at 90 and 100 and one back at 110 before the poll at 120; that
			// cancels the newer of them.
			name: "opposite relative counts of a poll cancel",
			change: func(r *encoder.Rig) {
				r.Firmware.Output = encoder.Relative
				r.USB.Poll = 40 * time.Millisecond
			},
			detents: []int64{90, 100, -110},
			steps:   []applied{{160, 1, 1, 1, "detent"}},
			fates:   []string{"delivered", "merged", "merged"},
		},
		{
			// 12 a second is 83.33 ms. 173 comes 83 ms after 90: a coarse press, worth
			// 10, which starts at 190; 257 comes 84 ms after 173: a fine one, at 290. The
			// one back at 330 is fine, at 390, and 400 comes 70 ms after it: coarse, at
			// 490.
			name: "the coarse pair",
			change: func(r *encoder.Rig) {
				r.Firmware.Coarse = encoder.Coarse{Above: 12, Steps: 10}
			},
			detents: []int64{90, 173, 257, -330, -400},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {200, 1, 10, 11, "detent"}, {320, 1, 1, 12, "detent"}, {400, -1, 1, 11, "detent"}, {520, -1, 10, 1, "detent"}},
			fates:   []string{"delivered", "delivered", "delivered", "delivered", "delivered"},
		},
		{
			// With a limit of 2 a second, 450 ms apart is above it but longer than 400
			// ms, a rest; 390 ms is not.
			name: "the coarse pair after a rest",
			change: func(r *encoder.Rig) {
				r.Firmware.Coarse = encoder.Coarse{Above: 2, Steps: 10}
			},
			detents: []int64{100, 550, 940},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {560, 1, 1, 2, "detent"}, {960, 1, 10, 12, "detent"}},
			fates:   []string{"delivered", "delivered", "delivered"},
		},
		{
			// Frames at 0, 10, 40, 65, 75, 105, 130, …: 65·k + 0, 10 and 40. The press
			// delivered at 121 is seen at 130, that of 305 at 325.
			name: "a frame list",
			change: func(r *encoder.Rig) {
				r.Program.FrameList = []time.Duration{10 * time.Millisecond, 30 * time.Millisecond, 25 * time.Millisecond}
			},
			detents: []int64{120, 300},
			steps:   []applied{{130, 1, 1, 1, "detent"}, {325, 1, 1, 2, "detent"}},
			fates:   []string{"delivered", "delivered"},
		},
		{
			// Scans at 0.4 + k, polls at 4.3 + 8·k, frames at 7 + 40·k: counted at 100.4,
			// just after the poll at 100.3, so polled at 108.3, delivered at 109.3, seen
			// at 127.
			name: "phases",
			change: func(r *encoder.Rig) {
				r.Firmware.Phase = encoder.PhaseAt(400 * time.Microsecond)
				r.USB.Phase, r.Program.Phase = encoder.PhaseAt(4300*time.Microsecond), encoder.PhaseAt(7*time.Millisecond)
			},
			detents: []int64{100},
			steps:   []applied{{127, 1, 1, 1, "detent"}},
			fates:   []string{"delivered"},
		},
		{
			name: "phases, without frames",
			change: func(r *encoder.Rig) {
				r.Firmware.Phase, r.USB.Phase, r.Program.Sampling = encoder.PhaseAt(400*time.Microsecond), encoder.PhaseAt(4300*time.Microsecond), encoder.Immediate
			},
			detents: []int64{100},
			steps:   []applied{{109.3, 1, 1, 1, "detent"}},
			fates:   []string{"delivered"},
		},
		{
			name:    "the ends wrap",
			scale:   encoder.Scale{Count: 4, Wrap: true},
			start:   3,
			detents: []int64{100},
			steps:   []applied{{120, 1, 1, 0, "detent"}},
			fates:   []string{"delivered"},
		},
		{
			name:    "a step at a stop is delivered though nothing moves",
			scale:   encoder.Scale{Count: 4},
			start:   3,
			detents: []int64{100},
			steps:   []applied{{120, 1, 1, 3, "detent"}},
			fates:   []string{"delivered"},
		},
	} {
		rig := still()
		if x.change != nil {
			x.change(&rig)
		}
		got, p := works(t, encoder.Setup{Rig: &rig, Scale: x.scale}, x.start, x.detents...)
		if !slices.Equal(got, x.steps) {
			t.Errorf("%s: steps %v, want %v", x.name, got, x.steps)
		}
		if a := p.Account(); rig.Firmware.Hold > 0 {
			if a.Presses != x.presses || a.Held != x.held*ms || a.Steps != len(x.steps) {
				t.Errorf("%s: %d presses of %d ns, %d steps", x.name, a.Presses, a.Held, a.Steps)
			}
		} else if !slices.Equal(fates(p), x.fates) {
			t.Errorf("%s: fates %v, want %v", x.name, fates(p), x.fates)
		}
	}
}

// Edges of a detent come late where the part's shortest state is short (model.md,
// stage 1). Detents at 100 and 200 ms, so g = 40 ms; with min_state 0.08 an edge with
// an odd number of edges after it comes 1 − 4·0.08 = 0.68 quarter steps late. The
// edge decoder shows the edges at which A rises: the first of four clockwise, the
// second of four counter-clockwise.
//
//	E = 4: 10 ms a quarter step. Edge 1 at 100 − 30 + 6.8 = 76.8, edge 2 at 80.
//	E = 2: 20 ms. Clockwise edge 1 at 100 − 20 + 13.6 = 93.6 (then A falls in the
//	       next detent); counter-clockwise edge 2 at 100.
//	E = 8: 5 ms. Clockwise edges 1 and 5 at 100 − 35 + 3.4 = 68.4 and 100 − 15 + 3.4
//	       = 88.4; counter-clockwise edges 2 and 6 at 70 and 90.
//	E = 1: no shift.
func TestShortestStateDelaysEverySecondEdge(t *testing.T) {
	for _, x := range []struct {
		cycles, detents int
		dir             int8
		want            []float64 // ms
	}{
		{24, 24, +1, []float64{76.8, 176.8}},
		{24, 24, -1, []float64{80, 180}},
		{15, 30, +1, []float64{93.6}},
		{15, 30, -1, []float64{100}},
		{24, 12, +1, []float64{68.4, 88.4, 168.4, 188.4}},
		{24, 12, -1, []float64{70, 90, 170, 190}},
		{6, 24, +1, []float64{100}},
		{6, 24, -1, []float64{200}},
	} {
		rig := still()
		rig.Knob = encoder.Knob{Cycles: x.cycles, Detents: x.detents, MinState: 0.08}
		rig.Firmware.Scan, rig.Firmware.Decoder = 100*time.Microsecond, encoder.Edge
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		p.Trace = func(e encoder.Event) {
			if e.Kind == encoder.Counted {
				got = append(got, float64(e.At)/1e6)
				if e.Dir != x.dir {
					t.Errorf("%+v: a count of direction %d", x, e.Dir)
				}
			}
		}
		p.Start(draw.NewTrial(1, "", 0), 0)
		p.Detent(100*ms, x.dir)
		p.Detent(200*ms, x.dir)
		p.Finish()
		if !slices.Equal(got, x.want) {
			t.Errorf("%+v: A rises at %v ms", x, got)
		}
	}
}

// A person's gain reaches the number from either home, at the same turning speed.
func TestGainInFirmwareAndInProgramMoveTheSame(t *testing.T) {
	g, err := accel.Acceleration{Curve: accel.Constant{Gain: 3}}.Compile()
	if err != nil {
		t.Fatal(err)
	}
	for _, home := range []encoder.Home{encoder.InProgram, encoder.InFirmware} {
		rig := still()
		_, p := works(t, encoder.Setup{Rig: &rig, Gain: g, Home: home}, 0, 100, 500, 900)
		if got := p.Shown(1 << 60); got != 9 {
			t.Errorf("home %d: three slow detents at gain 3 move by %d", home, got)
		}
	}
}
