package scenarios

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"dialwright/encoder"
)

// Warning is something about a rig that will cost clicks, with its numbers.
type Warning struct {
	Link Link   // to blame
	Text string // one sentence
}

// LongestSet is the longest lag that the simulated people were set on: that of the
// study by MacKenzie, Ware, INTERCHI '93 (row A2 of `dialwright evidence`).
const LongestSet = 225 * time.Millisecond

// Lag returns how late one click shows on an idle path, on average over the phases
// of its samplers.
func Lag(r *encoder.Rig) time.Duration {
	sum := time.Duration(0)
	for _, l := range lags(r) {
		sum += l.late
	}
	return sum
}

// late is what one link adds to the lag of a click.
type late struct {
	link Link
	late time.Duration
}

func lags(r *encoder.Rig) []late {
	ls := []late{
		{ContactAndScan, time.Duration(r.Firmware.Debounce)*r.Firmware.Scan - r.Firmware.Scan/2},
		{USBPoll, r.USB.Poll / 2},
		{OperatingSystem, r.System.Latency},
		{ProgramSampling, framePeriod(&r.Program) / 2},
		{DisplayLag, r.Display.Latency},
	}
	if r.Program.Sampling == encoder.Immediate {
		ls[3].late = 0
	}
	return ls
}

// Backlog returns how far the pulses fall behind a hand that turns on and on with
// its fastest full strokes: those that wait when a stroke ends, as a time. Where even
// the pauses between strokes do not empty the queue, it is a full one.
func Backlog(r *encoder.Rig, o *Operator) time.Duration {
	f := &r.Firmware
	if f.Output != encoder.Buttons && f.Output != encoder.Keys || f.Hold > 0 {
		return 0
	}
	pulse := (f.Pulse + f.Gap).Seconds()
	detents := o.ReachDeg.Mean / 360 * float64(r.Knob.UnitsPerTurn()) * float64(max(1, f.CountsPerDetent))
	stroke := o.Begin.Mean.Seconds() + o.ReachDeg.Mean/o.FastDegPerS.Mean
	waiting := detents - stroke/pulse
	if stroke+o.Regrip.Mean.Seconds() < detents*pulse {
		waiting = float64(f.Queue)
	}
	waiting = math.Round(min(max(0, waiting), float64(f.Queue)))
	return time.Duration(waiting) * (f.Pulse + f.Gap)
}

// beyond says where a path is later than anything the people were set on.
func beyond(r *encoder.Rig, o *Operator) (ws []Warning) {
	const then = "the people were set on at most %s, so what is said of them here is further from any measurement"
	if lag := Lag(r); lag > LongestSet {
		most := slices.MaxFunc(lags(r), func(a, b late) int { return cmp.Compare(a.late, b.late) })
		ws = append(ws, Warning{most.link, fmt.Sprintf("a click shows %s late; "+then, millis(lag), Spoken(LongestSet))})
	}
	if back := Backlog(r, o); back > LongestSet {
		ws = append(ws, Warning{PulsesAndQueue, fmt.Sprintf("after a fast stroke pulses of %s are still waiting; "+then, millis(back), Spoken(LongestSet))})
	}
	return ws
}

// Beyond says in a sentence each which rigs of a panel, set as a profile says, are
// later than anything the people were set on. instead, where it is not nil, stands
// for every rig of the panel.
func Beyond(p *Panel, instead *Rig, profile *Profile, o *Operator) (said []string) {
	for _, k := range p.Knobs {
		for _, rig := range []*Rig{cmp.Or(instead, k.Inner), cmp.Or(instead, k.Outer)} {
			if rig == nil {
				continue
			}
			set, err := Apply(profile, rig.Rig)
			if err != nil {
				continue // that knob stays plain
			}
			for _, w := range beyond(&set, o) {
				if s := fmt.Sprintf("%s, %s: %s", rig.Name, w.Link, w.Text); !slices.Contains(said, s) {
					said = append(said, s)
				}
			}
		}
	}
	return said
}

// Warnings returns what can be said of a rig without running it, for the
// person that turns its knob.
func Warnings(r *encoder.Rig, o *Operator) []Warning {
	ws := beyond(r, o)
	add := func(link Link, format string, a ...any) {
		ws = append(ws, Warning{Link: link, Text: fmt.Sprintf(format, a...)})
	}
	if least, most := r.ScanFor(FlickDegPerS(o)), r.Firmware.Scan; most > least {
		add(ContactAndScan, "a flick of %.0f°/s needs a scan every %s with %d equal readings; this one comes every %s",
			FlickDegPerS(o), micros(least), r.Firmware.Debounce, micros(most))
	}
	f := &r.Firmware
	if !f.Output.Lines() || f.Hold > 0 {
		return ws
	}
	frame := framePeriod(&r.Program)
	if r.USB.Reports == encoder.StateReports {
		if f.Pulse < r.USB.Poll {
			add(USBPoll, "a pulse of %s is shorter than the poll of %s: %.0f %% of the pulses are never seen", Spoken(f.Pulse), Spoken(r.USB.Poll), missed(f.Pulse, r.USB.Poll))
		}
		if f.Gap < r.USB.Poll {
			add(USBPoll, "a gap of %s is shorter than the poll of %s: %.0f %% of pulses that follow each other merge", Spoken(f.Gap), Spoken(r.USB.Poll), missed(f.Gap, r.USB.Poll))
		}
	}
	if r.Program.Sampling == encoder.State {
		if f.Pulse < frame {
			add(ProgramSampling, "a pulse of %s is shorter than a frame of %s: %.0f %% of the pulses are never seen", Spoken(f.Pulse), millis(frame), missed(f.Pulse, frame))
		}
		if f.Gap < frame {
			add(ProgramSampling, "a gap of %s is shorter than a frame of %s: up to %.0f %% of pulses that follow each other merge", Spoken(f.Gap), millis(frame), missed(f.Gap, frame))
		}
		if fast := FlickDegPerS(o) / PeakOverMean / 360 * float64(r.Knob.UnitsPerTurn()); fast > 1/(2*frame.Seconds()) {
			add(ProgramSampling, "the program counts at most %.0f presses a second (one frame down, one up); the knob gives %.0f detents a second in a flick", 1/(2*frame.Seconds()), fast)
		}
	}
	if rate, fast := 1/(f.Pulse+f.Gap).Seconds(), FlickDegPerS(o)/PeakOverMean/360*float64(r.Knob.UnitsPerTurn()); fast > rate {
		add(PulsesAndQueue, "%s on and %s off make at most %.1f pulses a second; the knob gives %.0f detents a second in a flick", Spoken(f.Pulse), Spoken(f.Gap), rate, fast)
	}
	return ws
}

// PeakOverMean is the peak speed of a minimum-jerk movement over its mean
// (Flash, Hogan, J. Neurosci. 5 (1985) 1688–1703; from memory, the peak derived).
const PeakOverMean = 1.875

// FlickDegPerS returns the peak turning speed of the operator's fastest stroke,
// for the average person.
func FlickDegPerS(o *Operator) float64 { return o.FastDegPerS.Mean * PeakOverMean }

func framePeriod(p *encoder.Program) time.Duration {
	if len(p.FrameList) == 0 {
		return p.Frames.Period()
	}
	sum := time.Duration(0)
	for _, d := range p.FrameList {
		sum += d
	}
	return sum / time.Duration(len(p.FrameList))
}

// missed is the share, in percent, of intervals of length w into which no tick
// of a sampler of period p falls.
func missed(w, p time.Duration) float64 { return 100 * (1 - w.Seconds()/p.Seconds()) }

func millis(d time.Duration) string {
	return fmt.Sprintf("%.3g ms", math.Round(float64(d)/1e4)/100)
}

func micros(d time.Duration) string {
	if d < time.Millisecond {
		return fmt.Sprintf("%.0f µs", float64(d)/1e3)
	}
	return millis(d)
}
