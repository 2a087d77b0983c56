package export

import (
	"fmt"
	"io"
	"math/bits"
	"slices"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// Header writes the C99 header of a profile's acceleration. What else is in the
// profile stands in its comment, with gains at the rates that get through some rigs; none
// are any. The same profile and rigs give the same bytes.
func Header(w io.Writer, p *scenarios.Profile, on ...*scenarios.Rig) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	_, err = io.WriteString(w, headerText(header{g, p, on}))
	return err
}

// license is the BSD Zero Clause License.
const license = "Copyright (c) the dialwright authors\n" +
	"Permission to use, copy, modify, and/or distribute this software for any purpose with or without fee is hereby granted.\n" +
	`THE SOFTWARE IS PROVIDED "AS IS" AND THE AUTHOR DISCLAIMS ALL WARRANTIES WITH REGARD TO THIS SOFTWARE INCLUDING ALL IMPLIED WARRANTIES OF MERCHANTABILITY AND FITNESS. IN NO EVENT SHALL THE AUTHOR BE LIABLE FOR ANY SPECIAL, DIRECT, INDIRECT, OR CONSEQUENTIAL DAMAGES OR ANY DAMAGES WHATSOEVER RESULTING FROM LOSS OF USE, DATA OR PROFITS, WHETHER IN AN ACTION OF CONTRACT, NEGLIGENCE OR OTHER TORTIOUS ACTION, ARISING OUT OF OR IN CONNECTION WITH THE USE OR PERFORMANCE OF THIS SOFTWARE.`

// header is what the templates ask.
type header struct {
	*accel.Gain
	profile *scenarios.Profile
	on      []*scenarios.Rig
}

// License is the licence, line by line.
func (h header) License() []string { return comment(license) }

// Cautions are the cautions, line by line.
func (h header) Cautions() []string { return comment(strings.Join(scenarios.Cautions, "\n")) }

// About says which profile it is, and what of it is not in the header.
func (h header) About() []string {
	p := h.profile
	home := "the program, or a firmware that knows the number"
	if h.SendsPulses() {
		home = "the firmware: as many pulses as steps"
	}
	text := []string{"Profile " + short(p.Name) + ", made for " + home + "."}
	text = append(text, h.inShort()...)
	for _, s := range h.profile.Settings {
		text = append(text, "The profile also sets, not here: "+short(s.Key)+" "+short(s.Value)+".")
	}
	if n := h.profile.PressCoarse; n > 0 {
		text = append(text, fmt.Sprintf("Not here either: after a push of the knob a step counts %d.", n))
	}
	return comment(strings.Join(text, "\n"))
}

// inShort says what the acceleration does, rig by rig where that differs.
func (h header) inShort() (list []string) {
	var does []string
	by := map[string][]string{}
	for _, r := range h.on {
		if _, err := scenarios.Apply(h.profile, r.Rig); err != nil {
			continue // it cannot have the profile
		}
		s := acceleration(h.profile, &r.Rig)
		if by[s] == nil {
			does = append(does, s)
		}
		by[s] = append(by[s], short(r.Name))
	}
	switch len(does) {
	case 0:
		return []string{"In short: " + acceleration(h.profile, nil) + "."}
	case 1:
		return []string{"In short: " + does[0] + "."}
	}
	for _, s := range does {
		list = append(list, "In short, on "+strings.Join(by[s], ", ")+": "+s+".")
	}
	return list
}

// short makes what somebody wrote fit into a comment or a card: one line, not too
// long.
func short(s string) string {
	const long = 120
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > long {
		return string(r[:long]) + "..."
	}
	return s
}

// SendsPulses says that the steps leave as pulses and nobody knows the number.
func (h header) SendsPulses() bool { return h.profile.Home == encoder.InFirmware }

// Tick is the unit of the clock.
func (h header) Tick() string {
	if h.TicksPerSecond == 1_000_000 {
		return "microsecond"
	}
	return "millisecond"
}

// WrapsAfter is how long 2^32 ticks are.
func (h header) WrapsAfter() string {
	if h.TicksPerSecond == 1_000_000 {
		return "71 minutes"
	}
	return "49 days"
}

// StepBits is the size of a number that holds the most steps of a detent.
func (h header) StepBits() int {
	factor := uint32(0)
	if h.HasCurve() {
		factor = uint32(h.Table[0].Value)
	}
	for _, f := range h.Factor {
		factor = max(factor, uint32(f))
	}
	if most := max(h.Flat, h.Base*factor); (most+255)>>8 < 1<<16 {
		return 16
	}
	return 32
}

// Accelerates says whether the gain depends on the rate.
func (h header) Accelerates() bool { return h.Flat == 0 }

// HasCurve says whether the gain comes from a table of intervals.
func (h header) HasCurve() bool { return h.Table != nil }

// HasLadder says whether it comes from steps with hysteresis.
func (h header) HasLadder() bool { return h.Factor != nil }

// IsAverage says that the rate is an exponential average.
func (h header) IsAverage() bool { return h.Accelerates() && h.From == accel.Average }

// IsWindow says that the rate is a count in a sliding window.
func (h header) IsWindow() bool { return h.Accelerates() && h.From == accel.Window }

// HasTables says whether there are tables at all.
func (h header) HasTables() bool { return h.Accelerates() }

// LooksUp says whether a table of straight pieces is among them.
func (h header) LooksUp() bool { return h.HasCurve() || h.IsAverage() }

// Keeps says that a reversal keeps the estimate.
func (h header) Keeps() bool { return h.Reversal == accel.Keep }

// Carries says that a fraction of a step waits for the next detent.
func (h header) Carries() bool { return h.Steps == accel.Carry }

// MayStandStill says that the estimate may still be rate 0 on a later detent.
func (h header) MayStandStill() bool { return h.Keeps() || h.IsWindow() }

// UnitsPerSecond is how many units of an interval a second has.
func (h header) UnitsPerSecond() int64 {
	if h.Shift < 0 {
		return h.TicksPerSecond >> -h.Shift
	}
	return h.TicksPerSecond << h.Shift
}

// Estimate is the C expression of the new estimate.
func (h header) Estimate() string {
	interval := "gap"
	switch {
	case h.Shift < 0:
		interval = fmt.Sprintf("(gap >> %d)", -h.Shift)
	case h.Shift > 0:
		interval = fmt.Sprintf("(gap << %d)", h.Shift)
	}
	switch h.From {
	case accel.Average:
		return "dial_average(s->estimate, (uint16_t)" + interval + ")"
	case accel.Window:
		return "dial_counted(s, now)"
	}
	return "(uint16_t)" + interval
}

// Remembered is how many detents the window holds at most.
func (h header) Remembered() int { return len(h.Spaced) - 1 }

// Ring is how many places its ring has, a power of two.
func (h header) Ring() int { return 1 << bits.Len(uint(h.Remembered()-1)) }

// RingMask takes a place round the ring.
func (h header) RingMask() int { return h.Ring() - 1 }

func ats(t accel.Falling) []uint16    { return column(t, func(k accel.Knot) uint16 { return k.At }) }
func values(t accel.Falling) []uint16 { return column(t, func(k accel.Knot) uint16 { return k.Value }) }
func widths(t accel.Falling) []uint16 {
	return column(t, func(k accel.Knot) uint16 { return uint16(k.Shift) })
}

func column(t accel.Falling, of func(accel.Knot) uint16) []uint16 {
	var list []uint16
	for _, k := range t {
		list = append(list, of(k))
	}
	return list
}

// numbers writes a C initialiser, ten a line.
func numbers(list []uint16) string {
	var out strings.Builder
	out.WriteByte('{')
	for i, n := range list {
		switch {
		case i == 0:
			out.WriteString("\n    ")
		case i%10 == 0:
			out.WriteString(",\n    ")
		default:
			out.WriteString(", ")
		}
		fmt.Fprintf(&out, "%dU", n)
	}
	out.WriteString("\n}")
	return out.String()
}

// comment makes the lines of a C comment: at most 76 columns of printable ASCII in
// which nothing opens or ends a comment, is a trigraph or continues a line. What
// has no place there is written as its code point.
func comment(text string) []string {
	const width = 76
	var lines []string
	for paragraph := range strings.SplitSeq(text, "\n") {
		line := ""
		for _, word := range strings.Fields(harmless(paragraph)) {
			for piece := range slices.Chunk([]byte(word), width) {
				switch {
				case line == "":
					line = string(piece)
				case len(line)+1+len(piece) > width:
					lines, line = append(lines, line), string(piece)
				default:
					line += " " + string(piece)
				}
			}
		}
		lines = append(lines, line)
	}
	return lines
}

// harmless is comment for a word or a sentence.
func harmless(s string) string {
	var out strings.Builder
	last := rune(0)
	for _, r := range s {
		if last == '*' && r == '/' || last == '/' && r == '*' || last == '?' && r == '?' {
			out.WriteByte(' ')
		}
		if last = r; r < ' ' || r > '~' || r == '\\' {
			fmt.Fprintf(&out, "(U+%04X)", r)
		} else {
			out.WriteRune(r)
		}
	}
	return out.String()
}
