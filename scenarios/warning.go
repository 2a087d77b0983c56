package scenarios

import (
	"fmt"
	"math"
	"time"

	"dialwright/encoder"
)

// Warning is something about a rig that will cost clicks, with its numbers.
type Warning struct {
	Link string // the link to blame
	Text string // one sentence
}

// Warnings returns what can be said of a rig without running it, for the
// person that turns its knob.
func Warnings(r *encoder.Rig, o *Operator) []Warning {
	var ws []Warning
	add := func(link, format string, a ...any) {
		ws = append(ws, Warning{Link: link, Text: fmt.Sprintf(format, a...)})
	}
	if least, most := r.ScanFor(FlickDegPerS(o)), r.Firmware.Scan; most > least {
		add("contact and scan", "a flick of %.0f°/s needs a scan every %s with %d equal readings; this one comes every %s",
			FlickDegPerS(o), micros(least), r.Firmware.Debounce, micros(most))
	}
	f := &r.Firmware
	if !f.Output.Lines() || f.Hold > 0 {
		return ws
	}
	frame := framePeriod(&r.Program)
	if r.USB.Reports == encoder.StateReports {
		if f.Pulse < r.USB.Poll {
			add("USB poll", "a pulse of %s is shorter than the poll of %s: %.0f %% of the pulses are never seen", TimeText(f.Pulse), TimeText(r.USB.Poll), missed(f.Pulse, r.USB.Poll))
		}
		if f.Gap < r.USB.Poll {
			add("USB poll", "a gap of %s is shorter than the poll of %s: %.0f %% of pulses that follow each other merge", TimeText(f.Gap), TimeText(r.USB.Poll), missed(f.Gap, r.USB.Poll))
		}
	}
	if r.Program.Sampling == encoder.State {
		if f.Pulse < frame {
			add("program sampling", "a pulse of %s is shorter than a frame of %s: %.0f %% of the pulses are never seen", TimeText(f.Pulse), millis(frame), missed(f.Pulse, frame))
		}
		if f.Gap < frame {
			add("program sampling", "a gap of %s is shorter than a frame of %s: up to %.0f %% of pulses that follow each other merge", TimeText(f.Gap), millis(frame), missed(f.Gap, frame))
		}
		if fast := FlickDegPerS(o) / PeakOverMean / 360 * float64(r.Knob.UnitsPerTurn()); fast > 1/(2*frame.Seconds()) {
			add("program sampling", "the program counts at most %.0f presses a second (one frame down, one up); the knob gives %.0f detents a second in a flick", 1/(2*frame.Seconds()), fast)
		}
	}
	if rate, fast := 1/(f.Pulse+f.Gap).Seconds(), FlickDegPerS(o)/PeakOverMean/360*float64(r.Knob.UnitsPerTurn()); fast > rate {
		add("pulses and queue", "%s on and %s off make at most %.1f pulses a second; the knob gives %.0f detents a second in a flick", TimeText(f.Pulse), TimeText(f.Gap), rate, fast)
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
