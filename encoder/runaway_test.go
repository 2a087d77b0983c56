package encoder_test

import (
	"errors"
	"runtime"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// A rig that would be at work for hours, or for ever, is given up within the events of
// a trial, and the keys that are to blame are named. (Issue 18, point 2.)
func TestRunawaysAreGivenUp(t *testing.T) {
	tall, err := accel.Acceleration{Curve: accel.Constant{Gain: 255}}.Compile()
	if err != nil {
		t.Fatal(err)
	}
	held := func(s encoder.Sampling) func(*encoder.Setup) {
		return func(x *encoder.Setup) {
			f := &x.Rig.Firmware
			f.Queue, f.CountsPerDetent, f.Pulse = 10_000, 100, 10*time.Second
			x.Rig.Program.Sampling = s
			x.Rig.Program.Hold = encoder.Hold{Period: time.Millisecond}
		}
	}
	repeated := func(x *encoder.Setup) {
		f := &x.Rig.Firmware
		f.Output, f.Queue, f.CountsPerDetent, f.Pulse = encoder.Keys, 10_000, 100, 10*time.Second
		x.Rig.System.Repeat = encoder.Repeat{Delay: time.Millisecond, Rate: 1000}
		x.Rig.Program.Sampling, x.Rig.Program.Frames, x.Rig.Program.MaxPerFrame = encoder.Events, 0.1, 1
	}
	chatters := func(x *encoder.Setup) {
		x.Rig.Knob.Bounce, x.Rig.Firmware.Scan = time.Second, time.Microsecond
	}
	counts := func(x *encoder.Setup) {
		x.Rig.Firmware.CountsPerDetent = 100
		x.Gain, x.Home = tall, encoder.InFirmware
	}
	for name, x := range map[string]struct {
		change func(*encoder.Setup)
		keys   []string
	}{
		"a program's repeat through ten thousand pulses, by state":  {held(encoder.State), []string{"program.hold.period 1ms", "firmware.pulse 10s", "firmware.queue 10000"}},
		"a program's repeat through ten thousand pulses, by events": {held(encoder.Events), []string{"program.hold.period 1ms", "firmware.pulse 10s", "firmware.queue 10000"}},
		"a program's repeat through ten thousand pulses, at once":   {held(encoder.Immediate), []string{"program.hold.period 1ms", "firmware.pulse 10s", "firmware.queue 10000"}},
		"a key that repeats through ten thousand pulses":            {repeated, []string{"system.repeat.rate 1000/s", "firmware.pulse 10s", "firmware.queue 10000"}},
		"the same at once": {func(s *encoder.Setup) {
			repeated(s)
			s.Rig.Program.Sampling = encoder.Immediate
		}, []string{"system.repeat.rate 1000/s", "firmware.pulse 10s"}},
		"presses that last as long as two polls of a second": {func(s *encoder.Setup) {
			repeated(s)
			s.Rig.Firmware.Pulse, s.Rig.USB.Poll, s.Rig.USB.Reports = time.Millisecond, time.Second, encoder.QueuedReports
		}, []string{"system.repeat.rate 1000/s", "usb.poll 1s"}},
		"chatter of a second, read every microsecond": {chatters, []string{"knob.bounce 1s", "firmware.scan 1µs", "firmware.debounce 4"}},
		"the same, counted by edges": {func(s *encoder.Setup) {
			chatters(s)
			s.Rig.Firmware.Decoder, s.Rig.Firmware.Debounce = encoder.Edge, 1
		}, []string{"knob.bounce 1s", "firmware.scan 1µs", "firmware.debounce 1"}},
		"25,500 pulses a detent": {counts, []string{"firmware.counts_per_detent 100", "acceleration"}},
		"25,500 relative counts a detent": {func(s *encoder.Setup) {
			counts(s)
			s.Rig.Firmware.Output = encoder.Relative
		}, []string{"firmware.counts_per_detent 100", "acceleration"}},
	} {
		t.Run(name, func(t *testing.T) {
			rig := encoder.Default()
			rig.Name = "wild"
			s := encoder.Setup{Rig: &rig}
			x.change(&s)
			p, err := encoder.NewPath(s)
			if err != nil {
				t.Fatal(err)
			}
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			p.Start(draw.NewTrial(1, "runaway", 0), 0)
			for i := range int64(40) {
				p.Detent((i+1)*500*ms, +1)
				p.RunTo((i + 1) * 500 * ms)
			}
			given := p.Err()
			p.Finish()
			runtime.GC()
			runtime.ReadMemStats(&after)
			if given == nil {
				given = p.Err()
			}
			if given == nil {
				t.Fatalf("not given up, after %d events", p.Events())
			}
			var runaway *encoder.Runaway
			if !errors.As(given, &runaway) || runaway.Rig != "wild" || p.Err() != given {
				t.Errorf("%#v, then %#v", given, p.Err())
			}
			for _, key := range x.keys {
				if !strings.Contains(given.Error(), key) {
					t.Errorf("%v does not name %s", given, key)
				}
			}
			if p.Events() > 1<<20 {
				t.Errorf("%d events", p.Events())
			}
			if held := (int64(after.HeapAlloc) - int64(before.HeapAlloc)) >> 20; held > 16 {
				t.Errorf("%d MB", held)
			}
			if !p.Empty() {
				t.Error("a path that was given up is not empty")
			}
			if a := p.Account(); a.Detents != 40 {
				t.Errorf("%+v", a)
			}
			p.Start(draw.NewTrial(1, "runaway", 0), 0)
			if p.Err() != nil || p.Events() != 0 {
				t.Error("the next trial is given up before it begins")
			}
			runtime.KeepAlive(p)
		})
	}
}

// What a trial may cost grows with its detents: a long turn of a knob that costs as much
// as any that can be had is no runaway.
func TestALongTurnIsNoRunaway(t *testing.T) {
	rig := encoder.Default()
	rig.Firmware.Scan = time.Microsecond
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	p.Start(draw.NewTrial(1, "long", 0), 0)
	for i := range int64(2000) {
		p.Detent((i+1)*50*ms, +1)
	}
	if p.Finish(); p.Err() != nil || p.Events() < 1<<19 {
		t.Errorf("%v, %d events", p.Err(), p.Events())
	}

	// What fills memory grows with the first of them only.
	rig = encoder.Default()
	rig.Firmware.Pulse = 1500 * time.Millisecond
	rig.Program = encoder.Program{Sampling: encoder.Immediate, Hold: encoder.Hold{Period: time.Millisecond}} // 1500 steps a pulse
	if p, err = encoder.NewPath(encoder.Setup{Rig: &rig}); err != nil {
		t.Fatal(err)
	}
	for detents, whole := range map[int64]bool{200: true, 2000: false} {
		p.Start(draw.NewTrial(1, "long", 0), 0)
		for i := range detents {
			p.Detent((i+1)*2000*ms, +1)
		}
		if p.Finish(); (p.Err() == nil) != whole || len(p.Changes()) < 250_000 || len(p.Changes()) > 1_500_000 {
			t.Errorf("%d detents: %v, %d changes", detents, p.Err(), len(p.Changes()))
		}
	}
}
