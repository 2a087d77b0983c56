package encoder_test

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/part"
)

// still returns a rig without noise whose contacts are read every millisecond and
// believed at once, whose polls come every 8 ms and whose frames every 40 ms, all
// at 0; so every time below can be worked by hand.
func still() encoder.Rig {
	r := ideal()
	r.Firmware.Debounce = 1
	r.Firmware.On, r.Firmware.Off = 50*time.Millisecond, 50*time.Millisecond
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
		fs = append(fs, p.Fate(i).String())
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
		fates   []string
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
			change:  func(r *encoder.Rig) { r.Firmware.On = 3 * time.Millisecond },
			detents: []int64{105},
			fates:   []string{"poll-missed"},
		},
		{
			// 93..113 and 114..134: the polls at 112 and 120 find the line down, and
			// none falls into the gap.
			name:    "a gap between two polls merges two presses",
			change:  func(r *encoder.Rig) { r.Firmware.On, r.Firmware.Off = 20*time.Millisecond, time.Millisecond },
			detents: []int64{93, 97},
			steps:   []applied{{120, 1, 1, 1, "detent"}},
			fates:   []string{"delivered", "merged"},
		},
		{
			// Pressed 122..142, delivered 129..145: no frame between 120 and 160.
			name:    "a press between two frames is missed",
			change:  func(r *encoder.Rig) { r.Firmware.On = 20 * time.Millisecond },
			detents: []int64{122},
			fates:   []string{"frame-missed"},
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
			// Five presses of 2 ms and gaps of 8 ms reach the program between 105
			// and 145; the frame at 120 has two of them, one a frame is applied and
			// the rest carried: 120, 160, 200, 240, 280.
			name: "max_per_frame carries the excess",
			change: func(r *encoder.Rig) {
				r.Program.Sampling, r.Program.MaxPerFrame = encoder.Events, 1
				r.USB.Poll = time.Millisecond
				r.Firmware.On, r.Firmware.Off = 2*time.Millisecond, 8*time.Millisecond
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
				r.Firmware.On, r.Firmware.Off = 2*time.Millisecond, 8*time.Millisecond
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
		},
		{
			// 8 bits: 255 positions over ten steps. The start 5 is position
			// round(5·25.5) = 128 (halves up). Two counts of 20 units: 148 at the poll
			// 104 is round(148/25.5) = 6; 168 at the poll 152 is round(6.588) = 7.
			name: "an axis",
			change: func(r *encoder.Rig) {
				r.Firmware.Output, r.Firmware.Axis = encoder.AxisOutput, encoder.Axis{Bits: 8, CountsPerDetent: 20}
			},
			scale: span, start: 5,
			detents: []int64{100, 150},
			steps:   []applied{{120, 1, 1, 6, "detent"}, {160, 1, 1, 7, "detent"}},
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
			// 90 and 110 are 20 ms apart, above 12 a second: the second is a coarse
			// press, worth 10, and starts at 190. After a rest it is a fine one again.
			name: "the coarse pair",
			change: func(r *encoder.Rig) {
				r.Firmware.Coarse = encoder.Coarse{Above: 12, Steps: 10}
			},
			detents: []int64{90, 110, 600},
			steps:   []applied{{120, 1, 1, 1, "detent"}, {200, 1, 10, 11, "detent"}, {640, 1, 1, 12, "detent"}},
			fates:   []string{"delivered", "delivered", "delivered"},
		},
		{
			// Frames at 0, 10, 40, 50, 80, 90, …: the press 105..129 is seen at 120.
			name: "a frame list",
			change: func(r *encoder.Rig) {
				r.Program.FrameList = []time.Duration{10 * time.Millisecond, 30 * time.Millisecond}
			},
			detents: []int64{98},
			steps:   []applied{{120, 1, 1, 1, "detent"}},
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
		if x.fates != nil && !slices.Equal(fates(p), x.fates) {
			t.Errorf("%s: fates %v, want %v", x.name, fates(p), x.fates)
		}
	}
}

// Edges of a detent come late where the part's shortest state is short: with 0.08
// of the cycle, E = 4 and a gap of 40 ms the edges lie at 100 − 30 + 0.68·10, 100 −
// 20, 100 − 10 + 0.68·10 and 100 ms.
func TestShortestStateDelaysEverySecondEdge(t *testing.T) {
	rig := still()
	rig.Knob.MinState = 0.08
	rig.Knob.Detents, rig.Knob.Cycles = 24, 24
	rig.Firmware.Scan = 100 * time.Microsecond
	smoothed := rig
	smoothed.Knob.Detents = 0 // counts every edge
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	if got := p.Late(); got != 680 {
		t.Errorf("edges come %d thousandths late, want 680", got)
	}
	q, err := encoder.NewPath(encoder.Setup{Rig: &smoothed})
	if err != nil {
		t.Fatal(err)
	}
	var at []int64
	q.Trace = func(e encoder.Event) {
		if e.Kind == encoder.Counted {
			at = append(at, e.At)
		}
	}
	q.Start(draw.NewTrial(1, "", 0), 0)
	for _, us := range []int64{76800, 80000, 96800, 100000} {
		q.Turn(+1, []int64{us * 1000})
	}
	q.Finish()
	if !slices.Equal(at, []int64{76.8e6, 80e6, 96.8e6, 100e6}) {
		t.Errorf("edges counted at %v", at)
	}
}

// Rows B1 and B2: a key held T gives floor((T−delay)·rate)+1 repeats, for every
// typematic rate within 0.051 a second of the published one (tables of encoder/part)
// and for the default of every system.
func TestHeldKeyRepeatsAsPublished(t *testing.T) {
	repeats := func(r encoder.Repeat, hold time.Duration) int {
		rig := still()
		rig.Firmware.Output, rig.Firmware.Hold = encoder.Keys, hold
		rig.Firmware.On, rig.Firmware.Off = 0, 0
		rig.USB.Poll, rig.System.Latency = time.Millisecond, 0
		rig.System.Repeat = r
		rig.Program.Sampling = encoder.Immediate
		_, p := works(t, encoder.Setup{Rig: &rig}, 0, 100)
		return p.Account().Extra.Repeat
	}
	f, err := os.Open("part/typematic.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil || len(rows) != 33 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for code := range 32 {
		published, err := strconv.ParseFloat(rows[code+1][3], 64)
		if err != nil {
			t.Fatal(err)
		}
		r := part.Typematic(byte(code))
		const long = 100 * time.Second
		got := float64(repeats(r, r.Delay+long)-1) / long.Seconds()
		if math.Abs(got-published) > 0.051 {
			t.Errorf("typematic code %d repeats %.3f a second, published %.1f", code, got, published)
		}
	}
	for _, s := range part.Systems() {
		for _, hold := range []time.Duration{300 * time.Millisecond, 777 * time.Millisecond, 2501 * time.Millisecond} {
			want := 0
			if hold > s.Repeat.Delay {
				// Strictly before the release.
				want = int((hold-s.Repeat.Delay-1)/s.Repeat.Rate.Period()) + 1
			}
			if got := repeats(s.Repeat, hold); got != want {
				t.Errorf("%s: a key held %v repeats %d times, want %d", s.Name, hold, got, want)
			}
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
