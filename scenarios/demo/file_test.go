package demo

import (
	"reflect"
	"slices"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// What the embedded files say, said once more in Go: they are read as their
// writer meant them.
func TestFilesAreReadAsTheyAreMeant(t *testing.T) {
	for _, want := range []*scenarios.Rig{leftPulse(), middleKeys(), rightRelative()} {
		if got := Rig(want.Name); !reflect.DeepEqual(got, want) {
			t.Errorf("%s is read\n%+v, want\n%+v", want.Name, got, want)
		}
	}
	if got, want := Panel("quillmoor"), quillmoor(); !reflect.DeepEqual(got, want) {
		t.Errorf("quillmoor is read\n%+v, want\n%+v", got, want)
	}
}

func TestEveryBuiltInRigPassesItsOwnCheck(t *testing.T) {
	for _, it := range Rigs() {
		r := Rig(it.Name)
		if _, err := encoder.NewPath(encoder.Setup{Rig: &r.Rig}); err != nil {
			t.Errorf("%s: %v", it.Name, err)
		}
		for _, s := range r.Adjustable.Settings {
			values, err := s.Choices()
			if err != nil {
				t.Errorf("%s: %v", it.Name, err)
			}
			if now := scenarios.Get(&r.Rig, s.Key); !slices.Contains(values, now) {
				t.Errorf("%s: %s is %s, which is none of %v", it.Name, s.Key, now, values)
			}
		}
	}
}

var (
	anyHome   = []scenarios.Home{encoder.InProgram, encoder.InFirmware}
	allCurves = accel.CurveWords()
)

func leftPulse() *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	r.Name = "left-pulse"
	r.Knob.Push = true
	r.Adjustable = scenarios.Adjustable{
		Settings: []scenarios.Range{
			{Key: "firmware.pulse", From: "10ms", To: "60ms", By: "5ms"},
			{Key: "firmware.gap", From: "10ms", To: "60ms", By: "5ms"},
			{Key: "firmware.queue", Values: []string{"0", "2", "4", "8", "16", "32"}},
			{Key: "firmware.reversal", Values: []string{"keep", "clear"}},
			{Key: "firmware.output", Values: []string{"buttons", "keys", "relative"}},
		},
		Homes: anyHome, Curves: allCurves,
	}
	return r
}

func middleKeys() *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	r.Name = "middle-keys"
	r.Knob = encoder.Knob{Cycles: 15, Detents: 30, Bounce: 3 * time.Millisecond, MinState: 0.25}
	r.Firmware.Output = encoder.Keys
	r.Firmware.Pulse, r.Firmware.Gap, r.Firmware.Queue = 20*time.Millisecond, 20*time.Millisecond, 16
	r.Program.Frames, r.Program.Sampling = 60, encoder.Events
	r.Adjustable = scenarios.Adjustable{
		Settings: []scenarios.Range{
			{Key: "firmware.pulse", From: "10ms", To: "60ms", By: "5ms"},
			{Key: "firmware.gap", From: "10ms", To: "60ms", By: "5ms"},
			{Key: "firmware.queue", Values: []string{"0", "4", "8", "16", "32"}},
			{Key: "firmware.reversal", Values: []string{"keep", "clear"}},
			{Key: "system.repeat.delay", From: "250ms", To: "1s", By: "250ms"},
			{Key: "program.repeats", Values: []string{"apply", "ignore"}},
		},
		Homes: anyHome, Curves: allCurves,
	}
	return r
}

func rightRelative() *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	r.Name = "right-relative"
	r.Knob.Push = true
	r.Firmware.Output = encoder.Relative
	r.Adjustable = scenarios.Adjustable{
		Settings: []scenarios.Range{{Key: "usb.poll", Values: []string{"1ms", "2ms", "4ms", "8ms"}}},
		Homes:    anyHome, Curves: allCurves,
	}
	return r
}

func quillmoor() *scenarios.Panel {
	left, right := leftPulse(), rightRelative()
	return &scenarios.Panel{
		Name: "quillmoor",
		Knobs: []scenarios.Knob{
			{Name: "radio", Rings: 2, Inner: left, Outer: left, Tasks: []scenarios.Use{{Task: Task("com-25"), PerHour: 12}}},
			{Name: "nav", Rings: 2, Inner: right, Outer: right, Tasks: []scenarios.Use{{Task: Task("nav"), PerHour: 4}}},
			{Name: "autopilot", Rings: 1, Inner: left, Selector: true, Tasks: []scenarios.Use{
				{Task: Task("heading"), PerHour: 20},
				{Task: Task("altitude"), PerHour: 6},
				{Task: Task("vertical-speed"), PerHour: 8},
			}},
			{Name: "altimeter", Rings: 1, Inner: middleKeys(), Tasks: []scenarios.Use{{Task: Task("altimeter-hpa"), PerHour: 3}}},
		},
	}
}
