package scenarios

import (
	"fmt"
	"math"
	"time"

	"dialwright/encoder"
)

// Warning is something about a rig that will cost clicks, with its numbers.
type Warning struct {
	Link Link   // to blame
	Text string // one sentence
}

// Warnings returns what can be said of a rig without running it, for the
// person that turns its knob.
func Warnings(r *encoder.Rig, o *Operator) []Warning {
	var ws []Warning
	add := func(link Link, format string, a ...any) {
		ws = append(ws, Warning{Link: link, Text: fmt.Sprintf(format, a...)})
	}
	if least, most := r.ScanFor(FlickDegPerS(o)), r.Firmware.Scan; most > least {
		add(ContactAndScan, "a flick of %.0f°/s needs a scan every %s with %d equal readings; this one comes every %s",
			FlickDegPerS(o), micros(least), r.Firmware.Debounce, micros(most))
	}
	f := &r.Firmware
	if f.Output != encoder.Buttons && f.Output != encoder.Keys || f.Hold > 0 {
		return ws
	}
	frame := framePeriod(&r.Program)
	if r.USB.Reports == encoder.StateReports {
		if f.On < r.USB.Poll {
			add(USBPoll, "a pulse of %s is shorter than the poll of %s: %.0f %% of the pulses are never seen", TimeText(f.On), TimeText(r.USB.Poll), missed(f.On, r.USB.Poll))
		}
		if f.Off < r.USB.Poll {
			add(USBPoll, "a gap of %s is shorter than the poll of %s: %.0f %% of pulses that follow each other merge", TimeText(f.Off), TimeText(r.USB.Poll), missed(f.Off, r.USB.Poll))
		}
	}
	if r.Program.Sampling == encoder.State {
		if f.On < frame {
			add(ProgramSampling, "a pulse of %s is shorter than a frame of %s: %.0f %% of the pulses are never seen", TimeText(f.On), millis(frame), missed(f.On, frame))
		}
		if f.Off < frame {
			add(ProgramSampling, "a gap of %s is shorter than a frame of %s: up to %.0f %% of pulses that follow each other merge", TimeText(f.Off), millis(frame), missed(f.Off, frame))
		}
		if fast := FlickDegPerS(o) / PeakOverMean / 360 * float64(r.Knob.UnitsPerTurn()); fast > 1/(2*frame.Seconds()) {
			add(ProgramSampling, "the program counts at most %.0f presses a second (one frame down, one up); the knob gives %.0f detents a second in a flick", 1/(2*frame.Seconds()), fast)
		}
	}
	if rate, fast := 1/(f.On+f.Off).Seconds(), FlickDegPerS(o)/PeakOverMean/360*float64(r.Knob.UnitsPerTurn()); fast > rate {
		add(PulsesAndQueue, "%s on and %s off make at most %.1f pulses a second; the knob gives %.0f detents a second in a flick", TimeText(f.On), TimeText(f.Off), rate, fast)
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
