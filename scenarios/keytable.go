package scenarios

import (
	"fmt"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/part"
)

type rig = encoder.Rig

// table is every key of a rig file, in the order of the file.
var table = []Key{
	preset("knob.part", "a part whose data sheet gives detents, cycles, bounce and min_state", "part", part.Names(), part.Named,
		func(*rig) {}, func(r *rig, p part.Part) {
			push := r.Knob.Push
			r.Knob = p.Knob()
			r.Knob.Push = push
		}),
	optional("knob.detents", "clicks per turn; none is a smooth knob", Whole, func(r *rig) *int { return &r.Knob.Detents }),
	number("knob.cycles", "quadrature periods per turn (the part's PPR)", Whole, func(r *rig) *int { return &r.Knob.Cycles }),
	number("knob.bounce", "the longest chatter of a contact after an edge", Time, func(r *rig) *time.Duration { return &r.Knob.Bounce }),
	minState(),
	{Name: "knob.push", About: "the shaft has a push switch", Quantity: Switch,
		get: func(r *rig) string { return fmt.Sprint(r.Knob.Push) },
		put: func(r *rig, s string) *Fault { r.Knob.Push = s == "true"; return nil },
		copy: func(to, from *rig) {
			to.Knob.Push = from.Knob.Push
		}},

	number("firmware.scan", "time between two readings of the contacts", Time, func(r *rig) *time.Duration { return &r.Firmware.Scan }),
	phase("firmware.phase", "the time of one scan; drawn per trial when absent", func(r *rig) *encoder.Phase { return &r.Firmware.Phase }),
	number("firmware.debounce", "equal readings in a row that are believed; 1 is the reading itself", Whole, func(r *rig) *int { return &r.Firmware.Debounce }),
	mode("firmware.decoder", "table steps on the pair of levels, edge counts rising edges of A", func(r *rig) *encoder.Decoder { return &r.Firmware.Decoder }),
	number("firmware.counts_per_detent", "counts for each emission of the decoder", Whole, func(r *rig) *int { return &r.Firmware.CountsPerDetent }).
		when(func(r *rig) bool { return !axis(r) }, "it belongs to every output but axis, which has its own axis.counts_per_detent"),
	mode("firmware.output", "how the firmware tells the computer", func(r *rig) *encoder.Output { return &r.Firmware.Output }),
	number("firmware.pulse", "length of a pulse", Time, func(r *rig) *time.Duration { return &r.Firmware.Pulse }).when(pulses, forPulses),
	number("firmware.gap", "gap after a pulse", Time, func(r *rig) *time.Duration { return &r.Firmware.Gap }).when(pulses, forPulses),
	number("firmware.queue", "pulses that may wait", Whole, func(r *rig) *int { return &r.Firmware.Queue }).when(pulses, forPulses),
	mode("firmware.overflow", "what gives when a pulse finds no place to wait", func(r *rig) *encoder.Overflow { return &r.Firmware.Overflow }).when(pulses, forPulses),
	mode("firmware.reversal", "what becomes of waiting pulses when the knob turns back", func(r *rig) *encoder.Reversal { return &r.Firmware.Reversal }).when(pulses, forPulses),
	optional("firmware.hold", "instead of pulses: a line stays pressed until no count came for so long", Time, func(r *rig) *time.Duration { return &r.Firmware.Hold }).when(lines, forLines),
	without("firmware.coarse", "none: no second pair of output lines", func(r *rig) { r.Firmware.Coarse = encoder.Coarse{} }).when(pulses, forPulses),
	optional("firmware.coarse.above", "turning rate above which the second pair of lines is pulsed", Rate, func(r *rig) *encoder.PerSecond { return &r.Firmware.Coarse.Above }).when(pulses, forPulses).
		ruled(together("firmware.coarse.steps", hasCoarse, func(r *rig) bool { return r.Firmware.Coarse.Steps != 0 })),
	optional("firmware.coarse.steps", "steps that the program binds the second pair to", Whole, func(r *rig) *int { return &r.Firmware.Coarse.Steps }).when(pulses, forPulses).
		ruled(together("firmware.coarse.above", func(r *rig) bool { return r.Firmware.Coarse.Steps != 0 }, hasCoarse)),
	optional("firmware.axis.bits", "the axis has two to this power values", Whole, func(r *rig) *int { return &r.Firmware.Axis.Bits }).when(axis, forAxis).
		ruled(func(r *rig) *Fault { return missing(r.Firmware.Axis.Bits, "10 would do") }),
	optional("firmware.axis.counts_per_detent", "units of the axis that a count moves it by", Whole, func(r *rig) *int { return &r.Firmware.Axis.CountsPerDetent }).when(axis, forAxis).
		ruled(func(r *rig) *Fault { return missing(r.Firmware.Axis.CountsPerDetent, "8 would do") }),

	number("usb.poll", "time between two USB interrupt transfers", Time, func(r *rig) *time.Duration { return &r.USB.Poll }),
	phase("usb.phase", "the time of one poll; drawn per trial when absent", func(r *rig) *encoder.Phase { return &r.USB.Phase }),
	mode("usb.reports", "a poll carries the levels of the instant, or one queued change", func(r *rig) *encoder.Reports { return &r.USB.Reports }).when(lines, forLines),

	number("system.latency", "what the operating system adds", Time, func(r *rig) *time.Duration { return &r.System.Latency }),
	preset("system.repeat", "the key repeat of a system as it comes, or none", "system", part.SystemNames(), part.SystemNamed,
		func(r *rig) { r.System.Repeat = encoder.Repeat{} }, func(r *rig, s part.System) { r.System.Repeat = s.Repeat }).when(keys, forKeys),
	number("system.repeat.delay", "key repeat (typematic) delay", Time, func(r *rig) *time.Duration { return &r.System.Repeat.Delay }).when(keys, forKeys),
	optional("system.repeat.rate", "key repeat (typematic) rate; none is no key repeat", Rate, func(r *rig) *encoder.PerSecond { return &r.System.Repeat.Rate }).when(keys, forKeys),

	number("program.frames", "passes of the program's main loop", Rate, func(r *rig) *encoder.PerSecond { return &r.Program.Frames }).when(steady, forSteady),
	number("program.jitter", "how far a frame may be early or late, of the frame period", Share, func(r *rig) *float64 { return &r.Program.Jitter }).when(steady, forSteady),
	phase("program.phase", "the time of one frame; drawn per trial when absent", func(r *rig) *encoder.Phase { return &r.Program.Phase }).when(framed, forFrames),
	frameList(),
	mode("program.sampling", "how the program learns of presses", func(r *rig) *encoder.Sampling { return &r.Program.Sampling }),
	optional("program.max_per_frame", "presses that a frame applies at most", Whole, func(r *rig) *int { return &r.Program.MaxPerFrame }).when(queued, forQueued),
	mode("program.excess", "what becomes of presses above max_per_frame", func(r *rig) *encoder.Excess { return &r.Program.Excess }).when(queued, forQueued),
	mode("program.repeats", "what the program makes of the system's key repeats", func(r *rig) *encoder.Repeats { return &r.Program.Repeats }).
		when(func(r *rig) bool { return keys(r) && r.Program.Sampling != encoder.State && r.Program.Hold.Period == 0 },
			"it belongs to output keys under sampling events or immediate without program.hold"),
	without("program.hold", "none: the program does not repeat by itself", func(r *rig) { r.Program.Hold = encoder.Hold{} }).when(lines, forLines),
	number("program.hold.delay", "a button that stays down so long begins to repeat", Time, func(r *rig) *time.Duration { return &r.Program.Hold.Delay }).when(lines, forLines),
	optional("program.hold.period", "time between two of the program's own repeats", Time, func(r *rig) *time.Duration { return &r.Program.Hold.Period }).when(lines, forLines).
		ruled(together("program.hold.delay", func(r *rig) bool { return r.Program.Hold.Period != 0 }, func(r *rig) bool { return r.Program.Hold.Delay != 0 })),

	number("display.latency", "from the value to its light", Time, func(r *rig) *time.Duration { return &r.Display.Latency }),
}

func hasCoarse(r *rig) bool { return r.Firmware.Coarse.Above != 0 }

func missing(v int, would string) *Fault {
	if v == 0 {
		return &Fault{Found: "is missing", Would: would}
	}
	return nil
}

// minState is a key of its own: absent is a quarter, and the model counts it in
// thousandths.
func minState() Key {
	k := number("knob.min_state", "the shortest state as a share of the cycle", Fraction, func(r *rig) *float64 { return &r.Knob.MinState })
	get := k.get
	k.get = func(r *rig) string {
		if r.Knob.MinState == 0 {
			return "0.25"
		}
		return get(r)
	}
	put := k.put
	k.put = func(r *rig, s string) *Fault {
		if v, _ := Fraction.Parse(s); !thousandths(v) {
			return &Fault{Found: Shown(s) + " is finer than a thousandth", Would: "at most three decimals would do"}
		}
		return put(r, s)
	}
	return k.ruled(func(r *rig) *Fault {
		if !thousandths(r.Knob.MinState) {
			return &Fault{Found: get(r) + " is finer than a thousandth", Would: "at most three decimals would do"}
		}
		return nil
	})
}

// frameList can be read and dropped like other keys, but its times come from a
// file that only a rig file can name.
func frameList() Key {
	k := Key{Name: "program.frame_list", About: "a CSV file of measured frame times with the header frame_ms", Quantity: Word, Absent: true}
	k.get = func(r *rig) string {
		if r.Program.FrameList == nil {
			return none
		}
		return fmt.Sprintf("%d frame times", len(r.Program.FrameList))
	}
	k.put = func(r *rig, s string) *Fault {
		if s != none {
			return &Fault{Found: Shown(s), Would: "none would do here; a list of frame times is named in the rig file"}
		}
		r.Program.FrameList = nil
		return nil
	}
	k.copy = func(to, from *rig) { to.Program.FrameList = from.Program.FrameList }
	return k.when(framed, forFrames)
}
