package encoder_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
)

// limited are rigs that use a number, with a way to set it. Times are in ns.
type limited struct {
	key       string
	uses      func(*encoder.Rig)
	set       func(*encoder.Rig, float64)
	low, high float64
}

const (
	us, second = float64(time.Microsecond), float64(time.Second)
	milli      = float64(time.Millisecond)
)

func always(*encoder.Rig) {}

func pulses(r *encoder.Rig) { r.Firmware.Output = encoder.Buttons }

func keys(r *encoder.Rig) {
	r.Firmware.Output, r.System.Repeat = encoder.Keys, encoder.Repeat{Delay: time.Second, Rate: 10}
}

func axis(r *encoder.Rig) {
	r.Firmware.Output, r.Firmware.Axis = encoder.AxisOutput, encoder.Axis{Bits: 10, CountsPerDetent: 8}
}

func coarse(r *encoder.Rig) { r.Firmware.Coarse = encoder.Coarse{Above: 12, Steps: 10} }

func held(r *encoder.Rig) {
	r.Firmware.Hold, r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = 50*time.Millisecond, 0, 0, 0
}

func repeats(r *encoder.Rig) { r.Program.Hold = encoder.Hold{Delay: time.Second, Period: time.Second} }

var numbers = []limited{
	{"knob.detents", func(r *encoder.Rig) { r.Knob.Cycles = 1 }, func(r *encoder.Rig, v float64) { r.Knob.Detents, r.Knob.Cycles = int(v), max(1, int(v)) }, 1, 10_000},
	{"knob.bounce", always, func(r *encoder.Rig, v float64) { r.Knob.Bounce = time.Duration(v) }, 0, second},
	{"firmware.scan", always, func(r *encoder.Rig, v float64) { r.Firmware.Scan = time.Duration(v) }, us, second},
	{"firmware.debounce", always, func(r *encoder.Rig, v float64) { r.Firmware.Debounce = int(v) }, 1, 1000},
	{"firmware.counts_per_detent", pulses, func(r *encoder.Rig, v float64) { r.Firmware.CountsPerDetent = int(v) }, 1, 100},
	{"firmware.pulse", pulses, func(r *encoder.Rig, v float64) { r.Firmware.Pulse = time.Duration(v) }, us, 10 * second},
	{"firmware.gap", pulses, func(r *encoder.Rig, v float64) { r.Firmware.Gap = time.Duration(v) }, 0, 10 * second},
	{"firmware.queue", pulses, func(r *encoder.Rig, v float64) { r.Firmware.Queue = int(v) }, 0, 10_000},
	{"firmware.hold", held, func(r *encoder.Rig, v float64) { r.Firmware.Hold = time.Duration(v) }, milli, 10 * second},
	{"firmware.coarse.above", coarse, func(r *encoder.Rig, v float64) { r.Firmware.Coarse.Above = encoder.PerSecond(v) }, 0.1, 1000},
	{"firmware.coarse.steps", coarse, func(r *encoder.Rig, v float64) { r.Firmware.Coarse.Steps = int(v) }, 1, 10_000},
	{"firmware.axis.bits", axis, func(r *encoder.Rig, v float64) { r.Firmware.Axis.Bits = int(v) }, 1, 24},
	{"firmware.axis.counts_per_detent", axis, func(r *encoder.Rig, v float64) { r.Firmware.Axis.CountsPerDetent = int(v) }, 1, 100_000},
	{"usb.poll", always, func(r *encoder.Rig, v float64) { r.USB.Poll = time.Duration(v) }, us, second}, // of an ideal link; 125 µs in a file
	{"system.latency", always, func(r *encoder.Rig, v float64) { r.System.Latency = time.Duration(v) }, 0, 10 * second},
	{"system.repeat.delay", keys, func(r *encoder.Rig, v float64) { r.System.Repeat.Delay = time.Duration(v) }, 0, 10 * second},
	{"system.repeat.rate", keys, func(r *encoder.Rig, v float64) { r.System.Repeat.Rate = encoder.PerSecond(v) }, 0.1, 1000},
	{"program.frames", always, func(r *encoder.Rig, v float64) { r.Program.Frames = encoder.PerSecond(v) }, 0.1, 10_000},
	{"program.jitter", always, func(r *encoder.Rig, v float64) { r.Program.Jitter = v }, 0, 0.45},
	{"program.frame_list", always, func(r *encoder.Rig, v float64) { r.Program.FrameList = []time.Duration{time.Second, time.Duration(v)} }, 1, 60 * second},
	{"program.max_per_frame", always, func(r *encoder.Rig, v float64) { r.Program.MaxPerFrame = int(v) }, 1, 10_000},
	{"program.hold.delay", repeats, func(r *encoder.Rig, v float64) { r.Program.Hold.Delay = time.Duration(v) }, 0, 10 * second},
	{"program.hold.period", repeats, func(r *encoder.Rig, v float64) { r.Program.Hold.Period = time.Duration(v) }, milli, 10 * second},
	{"display.latency", always, func(r *encoder.Rig, v float64) { r.Display.Latency = time.Duration(v) }, 0, 10 * second},
}

// A rig runs with every number at the ends of its range, and with none beyond, which is
// named. (Where 0 means that there is none of it, less than that is beyond.)
func TestEveryNumberHasEnds(t *testing.T) {
	for _, x := range numbers {
		step := 1.0
		if strings.HasSuffix(x.key, "rate") || strings.HasSuffix(x.key, "above") || strings.HasSuffix(x.key, "frames") || strings.HasSuffix(x.key, "jitter") {
			step = 0.01
		}
		below := x.low - step
		if below == 0 && (x.key == "knob.detents" || x.key == "firmware.counts_per_detent" || x.key == "program.max_per_frame") {
			below = -1
		}
		for v, wrong := range map[float64]bool{x.low: false, x.high: false, below: true, x.high + step: true} {
			r := encoder.Default()
			x.uses(&r)
			x.set(&r, v)
			_, err := encoder.NewPath(encoder.Setup{Rig: &r, Scale: encoder.Scale{Count: 11}})
			if wrong != (err != nil) || err != nil && !strings.Contains(err.Error(), x.key) {
				t.Errorf("%s of %g: %v", x.key, v, err)
			}
		}
		if b, ok := encoder.BoundOf(x.key); !ok || b.High != x.high || b.Low != x.low && x.key != "usb.poll" && !b.Above {
			t.Errorf("%s: %+v, want %g to %g", x.key, b, x.low, x.high)
		}
	}
	if b, _ := encoder.BoundOf("usb.poll"); b.Low != 125*us || b.Holds(us) || !b.Runs(us) || b.Runs(us-1) || !b.Holds(125*us) {
		t.Errorf("a poll: %+v", b)
	}
	if b, _ := encoder.BoundOf("knob.min_state"); b.Holds(0) || !b.Holds(0.25) || b.Holds(math.NaN()) || b.Runs(math.NaN()) {
		t.Errorf("a shortest state: %+v", b)
	}
	for key, most := range map[string]float64{"firmware.phase": 60 * second, "usb.phase": 60 * second, "program.phase": 60 * second, "knob.cycles": 100_000} {
		if b, ok := encoder.BoundOf(key); !ok || b.High != most {
			t.Errorf("%s: %+v", key, b)
		}
	}
	if _, ok := encoder.BoundOf("firmware.output"); ok {
		t.Error("an output is a number")
	}
}

// What a rig does not use is not looked at.
func TestWhatIsNotUsedHasNoEnds(t *testing.T) {
	for key, change := range map[string]func(*encoder.Rig){
		"pulses of counts":            func(r *encoder.Rig) { r.Firmware.Output, r.Firmware.Pulse, r.Firmware.Queue = encoder.Relative, 0, -1 },
		"a queue under a hold":        func(r *encoder.Rig) { held(r); r.Firmware.Queue = -1 },
		"an axis of buttons":          func(r *encoder.Rig) { r.Firmware.Axis.Bits = 99 },
		"repeats of buttons":          func(r *encoder.Rig) { r.System.Repeat = encoder.Repeat{Rate: 1e9, Delay: -1} },
		"frames of immediate":         func(r *encoder.Rig) { r.Program.Sampling, r.Program.Frames = encoder.Immediate, 0 },
		"frames beside a list":        func(r *encoder.Rig) { r.Program.FrameList, r.Program.Frames = []time.Duration{time.Second}, 0 },
		"the delay of no hold":        func(r *encoder.Rig) { r.Program.Hold.Delay = -1 },
		"no coarse pair":              func(r *encoder.Rig) { r.Firmware.Coarse = encoder.Coarse{} },
		"counts a detent of an axis":  func(r *encoder.Rig) { axis(r); r.Firmware.CountsPerDetent = 999 },
		"no limit of steps a frame":   func(r *encoder.Rig) { r.Program.MaxPerFrame = 0 },
		"a smooth knob":               func(r *encoder.Rig) { r.Knob.Detents = 0 },
		"the usual shortest state":    func(r *encoder.Rig) { r.Knob.MinState = 0 },
		"a single count for a detent": func(r *encoder.Rig) { r.Firmware.CountsPerDetent = 0 },
	} {
		r := encoder.Default()
		change(&r)
		if _, err := encoder.NewPath(encoder.Setup{Rig: &r, Scale: encoder.Scale{Count: 11}}); err != nil {
			t.Errorf("%s: %v", key, err)
		}
	}
	r := encoder.Default()
	axis(&r)
	for count, wrong := range map[int64]bool{0: true, 1: true, 2: false} {
		if _, err := encoder.NewPath(encoder.Setup{Rig: &r, Scale: encoder.Scale{Count: count}}); wrong != (err != nil) {
			t.Errorf("an axis over %d numbers: %v", count, err)
		}
	}
	r = encoder.Default()
	r.Knob.Cycles, r.Knob.Detents = 7, 24
	if _, err := encoder.NewPath(encoder.Setup{Rig: &r, Scale: encoder.Scale{Count: 11}}); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("knob: %d cycles and %d detents", 7, 24)) {
		t.Errorf("seven cycles of 24 detents: %v", err)
	}
}
