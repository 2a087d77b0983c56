package fit

import (
	"math"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// dice are numbers for a random rig.
type dice struct {
	s draw.Stream
	i int64
}

func newDice(what string, n int) *dice {
	return &dice{s: draw.NewTrial(2026, what, n).Stream(draw.Recording + 0x80)}
}

func (d *dice) between(low, high float64) float64 {
	d.i++
	return low + (high-low)*float64(d.s.Unit(d.i))/draw.Share
}

func (d *dice) wide(low, high float64) float64 { return low * math.Pow(high/low, d.between(0, 1)) }

// time returns a time between two numbers of ms, to a tenth of one, spread evenly on
// a logarithmic scale.
func (d *dice) time(low, high float64) time.Duration {
	return time.Duration(math.Round(10*d.wide(low, high))) * 100 * time.Microsecond
}

func (d *dice) of(n int) int {
	d.i++
	return int(d.s.Below(d.i, int64(n)))
}

// recordedRig draws a rig whose recording is fitted. The ranges:
//
//	part       9, 12, 15, 16, 18, 20, 24, 30 or 36 detents, 2, 4 or 8 quarter steps each,
//	           bounce 0.2–3 ms, shortest state 0.15–0.25
//	firmware   scan 0.05–1 ms, debounce 1–6, decoder table
//	output     buttons 50 %, keys 30 % (half of them held 80–200 ms), relative 20 %
//	pulses     on 6–80 ms, off 4–80 ms, queue 0, 1, 2, 4, 8, 16 or 32, both overflows,
//	           reversal clears in one of three
//	USB        poll 1, 2, 4, 8 (twice), 10 or 16 ms; in one of four changes queue
//	system     repeat delay 200–700 ms, rate 8–40 per s
//	program    20–90 frames per s, all samplings (matters only to how a person dials)
func recordedRig(d *dice) encoder.Rig {
	r := encoder.Default()
	part := [][2]int{{24, 24}, {30, 15}, {18, 9}, {20, 20}, {12, 24}, {36, 36}, {16, 16}, {9, 18}, {15, 15}}[d.of(9)]
	r.Knob.Detents, r.Knob.Cycles = part[0], part[1]
	r.Knob.Bounce = d.time(0.2, 3)
	r.Knob.MinState = math.Round(d.between(150, 250)) / 1000
	r.Firmware.Scan = time.Duration(d.wide(50e3, 1e6))
	r.Firmware.Debounce = 1 + d.of(6)
	r.Firmware.Output = []encoder.Output{
		encoder.Buttons, encoder.Buttons, encoder.Buttons, encoder.Buttons, encoder.Buttons,
		encoder.Keys, encoder.Keys, encoder.Keys, encoder.Relative, encoder.Relative,
	}[d.of(10)]
	r.Firmware.Pulse, r.Firmware.Gap = d.time(6, 80), d.time(4, 80)
	r.Firmware.Queue = []int{0, 1, 2, 4, 8, 16, 32}[d.of(7)]
	r.Firmware.Overflow = encoder.Overflow(d.of(2))
	if d.of(3) == 0 {
		r.Firmware.Reversal = encoder.ClearWaiting
	}
	if r.Firmware.Output == encoder.Keys && d.of(2) == 0 {
		r.Firmware.Hold = d.time(80, 200)
	}
	r.USB.Poll = []time.Duration{1, 2, 4, 8, 8, 10, 16}[d.of(7)] * time.Millisecond
	if d.of(4) == 0 && r.Firmware.Output != encoder.Relative {
		r.USB.Reports = encoder.QueuedReports
	}
	r.System.Repeat = encoder.Repeat{Delay: d.time(200, 700), Rate: encoder.PerSecond(d.between(8, 40))}
	r.Program.Frames = encoder.PerSecond(d.between(20, 90))
	r.Program.Sampling = encoder.Sampling(d.of(3))
	return r
}

// recordedOperator draws a person: reach 70–150°, slow 50–100°/s, fast 200–600°/s,
// pace noise 6–18 %, stroke noise 10–30 %, 60–140 ms to begin a stroke, regrip
// 170–350 ms; the rest as practised.
func recordedOperator(d *dice) scenarios.Operator {
	o := scenarios.Practised()
	o.ReachDeg.Mean = d.between(70, 150)
	o.SlowDegPerS.Mean = d.between(50, 100)
	o.FastDegPerS.Mean = d.between(200, 600)
	o.PaceNoise.Mean = d.between(0.06, 0.18)
	o.Noise.Mean = d.between(0.1, 0.3)
	o.Begin.Mean = time.Duration(d.between(60e6, 140e6))
	o.Regrip.Mean = time.Duration(d.between(170e6, 350e6))
	return o
}

// countedRig draws a rig for count tests. The ranges:
//
//	part       18, 20, 24, 30 or 36 detents, 2 or 4 quarter steps each, bounce 0.5–3 ms,
//	           shortest state 0.12–0.25
//	firmware   scan 0.1–4 ms, debounce 1–6, decoder table
//	output     buttons 60 %, keys 20 %, relative 20 %
//	pulses     pulse and gap 6–80 ms, queue 0–32 (0–3 in a third), both overflows
//	USB        poll 1, 2, 4, 8, 10 or 16 ms; in one of four changes queue
//	system     repeat delay 250–700 ms, rate 10–35 per s
//	program    15–90 frames per s; levels 50 %, events 25 %, immediate 25 %
func countedRig(d *dice) encoder.Rig {
	r := encoder.Default()
	part := [][2]int{{24, 24}, {30, 15}, {18, 9}, {20, 20}, {36, 36}}[d.of(5)]
	r.Knob.Detents, r.Knob.Cycles = part[0], part[1]
	r.Knob.Bounce = d.time(0.5, 3)
	r.Knob.MinState = math.Round(d.between(120, 250)) / 1000
	r.Firmware.Scan, r.Firmware.Debounce = time.Duration(d.wide(100e3, 4e6)), 1+d.of(6)
	r.Firmware.Output = []encoder.Output{encoder.Buttons, encoder.Buttons, encoder.Buttons, encoder.Keys, encoder.Relative}[d.of(5)]
	r.Firmware.Pulse, r.Firmware.Gap = d.time(6, 80), d.time(6, 80)
	if r.Firmware.Queue = d.of(33); d.of(3) == 0 {
		r.Firmware.Queue = d.of(4)
	}
	r.Firmware.Overflow = encoder.Overflow(d.of(2))
	r.USB.Poll = []time.Duration{1, 2, 4, 8, 10, 16}[d.of(6)] * time.Millisecond
	if d.of(4) == 0 {
		r.USB.Reports = encoder.QueuedReports
	}
	r.System.Repeat = encoder.Repeat{Delay: d.time(250, 700), Rate: encoder.PerSecond(d.between(10, 35))}
	r.Program.Frames = encoder.PerSecond(d.between(15, 90))
	r.Program.Sampling = []encoder.Sampling{encoder.State, encoder.State, encoder.Events, encoder.Immediate}[d.of(4)]
	return r
}
