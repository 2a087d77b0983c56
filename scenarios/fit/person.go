package fit

import (
	"fmt"
	"math"
)

// tooRegular and tooLossy are beyond what recordings of pulses say about the hand:
// the path's own rhythm, and its losses, stand between.
const (
	tooRegular = 0.25 // share of the intervals that came back to back
	tooLossy   = 0.10 // share of the clicks that were lost
)

// person finds what the bursts say about the hand.
func (f *fitting) person() {
	s := &f.strokes
	perDetent, lost := f.perDetent(), f.lostShare()
	if f.r.Contacts != nil {
		perDetent, lost = 1, 0
	}
	why := ""
	switch {
	case f.r.Contacts != nil && f.rest == 0, f.rest == 0 && !f.train.hold && f.train.limited == 0:
		why = "no pause stands out from the time between two clicks"
	case f.r.Contacts != nil:
	case f.train.hold:
		why = "the firmware holds its line instead of pulsing, so single clicks are not seen"
	case f.train.limited > tooRegular:
		why = "the pulses come as fast as the firmware makes them, not as fast as the knob turns; a trace of the contacts shows the hand"
	case f.train.regular > 1.4*tooRegular:
		why = "the pulses come so evenly that the firmware may be what sets their pace; a trace of the contacts shows the hand"
	case f.train.merged > 0.1:
		why = "several pulses come as one press"
	case lost > tooLossy:
		why = sprintPercent("%s of the clicks are lost before the recorder", lost)
	}
	if why == "" && len(s.bursts) < leastBursts {
		why = "too few bursts"
	}
	lengths, pauses, rates := s.lengths(false), s.pauses(), s.rates()
	for i := range lengths {
		lengths[i] /= perDetent * (1 - lost)
	}
	for i := range rates {
		rates[i] /= perDetent * (1 - lost)
	}
	claim := func(key, unit string, x []float64, what string) {
		switch {
		case why != "":
			f.hand(unknown(key, unit, "%s", why))
		case len(x) < leastBursts:
			f.hand(unknown(key, unit, "too few %s: %d", what, len(x)))
		default:
			m := meanOf(x)
			f.hand(known(key, unit, m.value, m.value-m.margin(), m.value+m.margin(), "%d %s", len(x), what))
		}
	}
	claim("burst", "detents", lengths, "bursts")
	claim("pause", "s", pauses, "pauses between bursts")
	claim("rate.fast", "per_s", rates, "bursts of 4 clicks or more")
	f.slow(perDetent)
	f.operator(why, perDetent*(1-lost))
}

// slow finds the pace of turning click by click.
func (f *fitting) slow(perDetent float64) {
	s := &f.strokes
	if len(s.slow) < 6 {
		f.hand(unknown("rate.slow", "per_s", "no slow turn was recorded"))
		return
	}
	m := middle(s.slow)
	rate := 1 / m.value / perDetent
	margin := m.margin() / m.value * rate
	f.hand(known("rate.slow", "per_s", rate, rate-margin, rate+margin, "%d intervals of the slow turn", len(s.slow)))
}

// turn finds the detents of a turn: the clicks of a session's slow turn, unless they
// cannot be all.
func (f *fitting) turn() {
	s := &f.strokes
	if len(s.slow) < 6 {
		f.path(unknown("knob.detents", "", "no slow turn was recorded; the rig's %d are taken", f.r.Rig.Knob.Detents))
		return
	}
	n := float64(s.turn) / f.perDetent()
	most := 0.0
	for _, span := range f.spans {
		if span.kind == fastTurn {
			most = max(most, float64(f.seen(span))/f.perDetent())
		}
	}
	switch t := math.Round(n); {
	case n != t || most > t+2:
		f.path(unknown("knob.detents", "", "the slow turn showed %.3g clicks and a fast one %.3g", n, most))
	case f.train.singles > 0 && f.train.lengths == 1 && f.train.on.value < 1.5*f.grid.period:
		f.path(unknown("knob.detents", "", "the slow turn showed %.0f clicks, but pulses as short as a poll may be missed", t))
	case f.train.hold && f.train.slowHeld:
		f.path(unknown("knob.detents", "", "the firmware holds its line from click to click, even in the slow turn"))
	default:
		f.path(known("knob.detents", "", t, t-1, t+1, "the clicks of one slow turn"))
	}
}

// operator turns what was seen of the hand into the quantities of an operator's
// file.
func (f *fitting) operator(why string, perDetent float64) {
	o, s := &f.r.Operator, &f.strokes
	detents, sure := f.detents()
	deg := 360 / detents
	if slow, _ := f.r.Hand.Get("rate.slow"); slow.Known {
		f.hand(known("pace.slow", "deg_per_s", slow.Value*deg, slow.Low*deg, slow.High*deg, "rate.slow with %s", sure))
	} else {
		f.hand(unknown("pace.slow", "deg_per_s", "%s", slow.Why))
	}
	full := s.lengths(true)
	begin := o.Begin.Mean.Seconds()
	lasted := func(b stroke) (whole, lead, tail float64) {
		n := float64(b.Notches) / perDetent
		first, last := ends(n)
		span := float64(b.End-b.Start) / 1e9
		whole = span / (last - first)
		return whole, whole * first, whole * (1 - last)
	}
	pacesIf := func(begin float64) (paces []float64) {
		for _, b := range s.bursts {
			if b.rate() > 0 {
				whole, _, _ := lasted(b)
				paces = append(paces, float64(b.Notches)/perDetent/max(whole-begin, whole/4))
			}
		}
		return paces
	}
	paces := pacesIf(begin)
	var regrips []float64
	for i, b := range s.bursts {
		if b.rate() == 0 {
			continue
		}
		_, lead, _ := lasted(b)
		if b.pause > 0 && s.bursts[i-1].rate() > 0 {
			_, _, tail := lasted(s.bursts[i-1])
			regrips = append(regrips, 1e3*max(0, b.pause-lead-tail))
		}
	}
	switch m := meanOf(full); {
	case why != "":
		f.hand(unknown("reach", "deg", "%s", why))
	case len(full) < leastBursts:
		f.hand(unknown("reach", "deg", "%d bursts that may have used the whole reach are too few", len(full)))
	default:
		k := deg / perDetent
		f.hand(known("reach", "deg", m.value*k, (m.value-m.margin())*k, (m.value+m.margin())*k, "%d full bursts, with %s", len(full), sure))
	}
	if why != "" || len(paces) < leastBursts {
		if why == "" {
			why = "too few bursts of 4 clicks or more"
		}
		for _, x := range [][2]string{{"pace.fast", "deg_per_s"}, {"pace_noise", "share"}, {"regrip", "ms"}} {
			f.hand(unknown(x[0], x[1], "%s", why))
		}
	} else {
		m, fewer, more := meanOf(paces), meanOf(pacesIf(0.6*begin)), meanOf(pacesIf(1.4*begin))
		f.hand(known("pace.fast", "deg_per_s", m.value*deg, (fewer.value-fewer.margin())*deg, (more.value+more.margin())*deg,
			"%d bursts as minimum-jerk strokes that take %.0f ms to begin, with %s", len(paces), begin*1e3, sure))
		if len(paces) < 8 {
			f.hand(unknown("pace_noise", "share", "%d bursts are too few", len(paces)))
		} else {
			cv := math.Round(1e4*spread(paces)/m.value) / 1e4
			low, high := spreadInterval(cv, len(paces))
			f.hand(known("pace_noise", "share", cv, low, high, "the spread of the paces of %d bursts", len(paces)))
		}
		if len(regrips) < leastBursts {
			f.hand(unknown("regrip", "ms", "%d pauses between long bursts are too few", len(regrips)))
		} else {
			m := meanOf(regrips)
			f.hand(known("regrip", "ms", m.value, m.value-m.margin(), m.value+m.margin(), "%d pauses, less what the strokes need to begin and end", len(regrips)))
		}
	}
	f.hand(unknown("reaction, decide, act, fixation, noise", "", "they show only where the target and the number are known; the operator's are taken"))
}

func sprintPercent(format string, share float64) string {
	return fmt.Sprintf(format, fmt.Sprintf("%.0f %%", 100*share))
}
