package trial

import (
	"cmp"

	"dialwright/encoder"
	"dialwright/scenarios/hand"
)

// Result is what was measured of one trial. Times are in ns from the target's
// appearance.
type Result struct {
	Start, Target int64 // numbers, as indexes of the task
	TimeToTarget  int64 // until the displayed number last entered the tolerance; the limit for a timeout
	Confirmed     int64 // until the person had confirmed it and pressed the key that says so
	Timeout       bool
	FinalError    int64 // steps off at the end; 0 unless timeout

	Overshoot int64           // largest excursion past the tolerance over all dials, in steps of its dial
	ByDial    [maxDials]int64 // the same, dial by dial
	Past      int64           // Overshoot in steps of the whole number
	First     int64           // by how many steps of its dial the number stood past (> 0) or short of the target after the first stroke that could end there
	PastAt    int64           // when the number was first past the tolerance; 0 if never
	Reversals int
	Strokes   int
	Regrips   int
	Pushes    int
	Travel    int64 // ns until the end of the first stroke that could end at the target
	Backlog   int   // most pulses that waited at once
	RunOn     int64 // steps that came after the knob had stopped, where Bench.RunOn asks for them
	Alarms    int   // passed, see scenarios.Passing
	Account   encoder.Account
}

// Overshot says whether the trial went past its target.
func (r *Result) Overshot() bool { return r.Overshoot >= 1 }

// Seconds returns the time to target; +Inf stands for a timeout in samples, so
// callers that want that ask Timeout first.
func (r *Result) Seconds() float64 { return float64(r.TimeToTarget) / 1e9 }

// add takes over what a dial's person and path have counted.
func (b *Bench) add(r *Result, i int, d hand.Done, p *encoder.Path) {
	r.Strokes += d.Strokes
	r.Regrips += d.Regrips
	r.Pushes += d.Pushes
	if d.First != 0 {
		r.First = d.First
	}
	r.Travel = max(r.Travel, d.Travel)
	r.Account.Add(p.Account())
	b.gaveUp = cmp.Or(b.gaveUp, p.Err())
	r.Backlog = max(r.Backlog, p.WorstBacklog())
	detents := p.Detents()
	for k := 1; k < len(detents); k++ {
		if detents[k].Dir != detents[k-1].Dir {
			r.Reversals++
		}
	}
	if b.RunOn {
		r.RunOn = max(r.RunOn, runOn(p, b.dials[i].Scale, int64(b.dials[i].setup.Rig.Display.Latency)))
	}
}

// stopped is the time without a detent after which the knob has stopped: no pace
// of turning on is so slow.
const stopped = 250e6

// runOn returns the most task steps that came to the screen later than the display's
// latency after the knob had stopped.
func runOn(p *encoder.Path, s encoder.Scale, latency int64) (most int64) {
	detents, shown, next := p.Detents(), p.Shown(-1), 0 // next: the detent before which a change comes
	ran := int64(0)
	for _, c := range p.Changes() {
		at := c.At - latency
		for next < len(detents) && detents[next].At < at {
			next, ran = next+1, 0
		}
		d := s.Distance(shown, c.Value)
		shown = c.Value
		if next == 0 || next < len(detents) && (detents[next].At == at || detents[next].At-detents[next-1].At < stopped) {
			continue
		}
		ran += max(d, -d)
		most = max(most, ran)
	}
	return most
}

// measure follows the number on the screen through a dial. whole is the whole
// number before it.
func (b *Bench) measure(r *Result, i int, d hand.Done, start, target, whole int64) {
	x := &b.dials[i]
	course := NewCourse(x.Scale, start, target)
	way := b.cell.Task.Passing(r.Start, r.Target)
	for _, c := range x.run.Path.Changes() {
		if c.At > d.At && d.Timeout {
			break
		}
		wide := x.Tolerance
		if d.Pushes > 0 && (d.FineFrom == 0 || c.At < d.FineFrom) {
			wide = max(wide, x.run.Multiple/2)
		}
		course.To(c.At, c.Value, wide, x.Tolerance)
		if len(b.cell.Task.Alarms) > 0 {
			way.Show(whole + (c.Value-start)*x.Place)
		}
	}
	r.Alarms += way.Alarms
	if r.PastAt == 0 {
		r.PastAt = course.PastAt
	}
	r.ByDial[i] = max(r.ByDial[i], course.Past)
	if course.Past > r.Overshoot {
		r.Overshoot = course.Past
		r.Past = course.Past * x.Place
	}
	if at, ok := course.Reached(); ok {
		r.TimeToTarget = max(r.TimeToTarget, at)
	}
	if d.Timeout {
		e := outside(course.off, x.Tolerance) * x.Place
		r.FinalError = max(e, -e)
	}
}
