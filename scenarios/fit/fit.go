// Package fit finds out what rig and what person are behind a knob that was measured.
//
// Whoever has a knob that disappoints seldom knows its firmware. But the knob can be
// watched: a recorder on the computer hears when buttons go down and up or counts
// arrive, a logic analyser sees the two contacts, and without any recorder one can
// turn a known number of clicks and read how far the number moved. From such
// observations Run finds the times of the pulses, the USB poll, the system's key
// repeat, what is lost at which turning speed, what the part does and how fast it must
// be read, and how the person turns: clicks of a stroke, pauses, slow and fast pace.
// Every finding is a Value with an interval that holds the truth about 19 times of 20,
// or it is unknown with the reason. What is not known stays as in the rig and the
// operator that the fit starts from.
//
// A recording may have a million events: they are kept in 16 bytes each, and of more than
// 50,000 presses the period of pulses is looked for in some of the runs, spread over all.
//
// A fit is believed only if it replays: the fitted person turns the fitted rig, and
// the recording must look like one of these replays (Replay). For a count test the
// counts are laid beside those of many random rigs (Family): the ones that show the
// same explain it, and vote on the link that loses the clicks.
//
// # A knob measured in five minutes
//
// Count. This needs no recorder, on any system. Switch acceleration off, one step a
// click. Note the number, turn so many clicks in about such a time, look again: slowly,
// at two easy paces, and in one flick:
//
//	dialwright fit --count 'turned 24 in 12s shown 24' --count 'turned 24 in 4.8s shown 24' \
//	  --count 'turned 24 in 2.4s shown 17' --count 'turned 12 in 400ms shown 5'
//
// The count suspects; a recording knows. On Linux, dialwright capture asks for one slow
// turn, a few fast ones, and some dialing, and keeps nothing but the knob. If you counted
// the clicks of the fast turns, add --turned 144: then what is lost is known for sure.
// Elsewhere record with what there is; the kind of file is found out:
//
//   - a web page that logs a gamepad's buttons, one JSON object a line:
//     {"t_ms": 1034.5, "buttons": [0, 1]}; or HID reports: {"t_ms": 1034.5, "data": [1, 0]}
//   - a logic analyser, or a microcontroller that prints microseconds, on the two
//     contacts: CSV time_us,a,b. It also tells the bounce, and which scan and debounce
//     would do
//   - any other program that can write CSV time_s,control,event, the event being press,
//     release, or a signed count
//   - the knob on a Linux machine for a minute: evemu, libinput's recorder, or
//     cat /dev/input/event5 > knob.bin
//
// The rest of the rig, which no recording shows, is in the file for you to fill in.
//
// # Numbers that were dialed
//
// Numbers dialed on the workbench's page (scenarios.Dialings) show what no recording
// does: the target, every click, and what the screen showed. Simulated people dial the
// same numbers, on the same paths with the same settings, and are changed until what is
// seen of them is on average what was seen: when the first click came, how many gaps of
// which length, where the knob first rested, turning back, overshoots, and what came
// after the number stood. Recorded and simulated dialings are measured by one rule. All
// people meet the same random numbers, so the search is the same every time.
//
//   - All quantities that dialings could show are looked for at once, each held by what
//     people differ in: its logarithm is normal around the operator that the fit starts
//     from, with a standard deviation of 0.3; ours.
//   - One whose 95 % interval is wider than half its value is not claimed, and goes back
//     to that operator; the others are then found again. Their intervals allow for the
//     kept ones being off by as much as people differ.
//   - What somebody does between reading a number and moving shows as one sum, so that
//     is what is claimed. A file has the fixation so that the sum holds.
//   - Intervals come from how much pairs of dialings differ from one another, by
//     Student's t; pairs, since both dialings of one have the same numbers.
//   - How well it predicts: the people fitted to every second pair dial the others, and
//     the other way round: people with what was found, and with the rest of the operator
//     that the fit starts from, as --write-operator writes them. A prediction is missed
//     where what was measured is off it by more than both leave open; that the rest is
//     somebody else's is no excuse.
//   - Practice, wrong, given up and looked away from are counted, and left out. Fewer
//     than ten pairs are refused.
//
// Getting better from dialing to dialing is not modelled: it makes halves of every second
// pair alike, and the person an average one.
//
// # What a fit does not say
//
// A recording behind the bus says nothing of the contacts before it, nor of the
// program and the display behind it; where the path sets the rhythm, it says nothing
// of the hand. A fit knows of one person, so how people differ stays as it was.
package fit

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
)

// Study is what a fit starts from.
type Study struct {
	Recordings []*Recording
	Turned     int                 // detents really turned: in the fast turns of a session, or in all of a free recording; 0 is not known
	Rig        *scenarios.Rig      // what is not identified stays as here; nil: encoder.Default
	Operator   *scenarios.Operator // likewise; nil: practised
	Counts     []Count
	Dialings   *scenarios.Dialings // with nothing beside them; nil: none
	Seed       uint64

	Progress func(done, all int) // of a fit of dialings, about; by several goroutines; nil: nobody asks
}

// Result is what recordings say about a rig and a person.
type Result struct {
	Study    *Study
	Path     Values // of the rig, in the order of the path
	Hand     Values // of the person, and what was seen of the hand
	Lost     []Loss // lost clicks against turning speed; nil where the true count is not known
	Replay   *Replay
	Contacts *Contacts  // nil without a trace of contacts
	Counts   *CountTest // nil without count tests
	Dialed   *Dialed    // nil without dialings
	Notes    []string
	Partial  bool // it was interrupted, and what comes after the findings of the recordings is missing

	Rig      scenarios.Rig      // with everything that was identified
	Operator scenarios.Operator // likewise
}

// Run fits. An error says that a recording cannot be used; when ctx ends, it is the
// cause, beside a partial result.
func Run(ctx context.Context, s *Study) (*Result, error) {
	f := &fitting{Study: s, r: &Result{Study: s}}
	if s.Dialings != nil {
		if err := f.dialed(ctx); err != nil {
			return nil, err
		}
		return f.r, nil
	}
	device, err := f.identify()
	if err != nil {
		return nil, err
	}
	rig, operator := f.r.Rig, f.r.Operator
	if device != nil {
		if err = f.replay(ctx, device); err != nil {
			f.r.Rig, f.r.Operator, f.r.Replay = rig, operator, nil
		}
	}
	switch {
	case err != nil || len(s.Counts) == 0:
	case f.r.Rig.Firmware.Output == encoder.AxisOutput:
		f.note("count tests of an axis are not simulated")
	default:
		err = f.count(ctx)
	}
	if err != nil && (ctx.Err() == nil || len(f.Recordings) == 0) {
		return nil, err
	}
	f.r.Partial = err != nil
	f.downstream()
	slices.SortStableFunc(f.r.Path, func(a, b Value) int { return cmp.Compare(place(a.Key), place(b.Key)) })
	return f.r, err
}

// identify finds what the recordings show and builds the rig and the operator from
// it. It returns the recording of the device, nil without one.
func (f *fitting) identify() (device *Recording, err error) {
	if f.Turned < 0 {
		return nil, fmt.Errorf("%d detents turned; 1 or more would do", f.Turned)
	}
	if len(f.Recordings)+len(f.Counts) == 0 {
		return nil, errors.New("no recording and no count test to fit")
	}
	if f.r.Rig.Rig = encoder.Default(); f.Study.Rig != nil {
		f.r.Rig = *f.Study.Rig
	}
	f.r.Operator = f.start()
	var contacts *Recording
	for _, r := range f.Recordings {
		slot := &device
		if r.Contacts() {
			slot = &contacts
		}
		if *slot != nil {
			return nil, fmt.Errorf("%s and %s are of the same kind; one recording of the device and one of the contacts would do", (*slot).Name, r.Name)
		}
		*slot = r
		f.notes(r)
	}
	if device != nil {
		f.device(device)
	}
	if contacts != nil {
		f.contacts(contacts)
	}
	if len(f.Recordings) > 0 {
		f.person()
	}
	return device, f.build()
}

// start is the operator that a fit starts from.
func (s *Study) start() scenarios.Operator {
	if s.Operator != nil {
		return *s.Operator
	}
	return scenarios.Practised()
}

// place is where a key stands on the path.
func place(key string) int {
	for i, k := range scenarios.Describe() {
		if k.Name == key {
			return i
		}
	}
	return 1000
}

// fitting is a fit under way.
type fitting struct {
	*Study
	r       *Result
	grid    grid
	train   train
	strokes strokes
	rest    int64 // ns, that tells a regrip from the time between two clicks; 0 where nothing does
	spans   []span
	knob    recording.Knob
}

func (f *fitting) source(what string, n int) draw.Trial { return draw.NewTrial(f.Seed, "fit "+what, n) }

func (f *fitting) note(format string, a ...any) {
	f.r.Notes = append(f.r.Notes, fmt.Sprintf(format, a...))
}

func (f *fitting) notes(r *Recording) {
	if r.About != "" {
		f.note("%s: %s", r.Name, r.About)
	}
	if r.Dropped > 0 {
		f.note("%s: the recorder lost events in %d places; counts and intervals across them are wrong", r.Name, r.Dropped)
	}
	if len(r.Others) > 0 {
		list := strings.Join(r.Others[:min(4, len(r.Others))], ", ")
		if len(r.Others) > 4 {
			list += " and others"
		}
		f.note("%s: %s moved too and were left out; --control names the knob's", r.Name, list)
	}
}

func (f *fitting) path(v Value) { f.r.Path = append(f.r.Path, v) }
func (f *fitting) hand(v Value) { f.r.Hand = append(f.r.Hand, v) }

// device fits what a recording behind the USB bus shows.
func (f *fitting) device(r *Recording) {
	f.spans, f.knob = r.spans(), r.Knob
	f.grid = findGrid(reports(f.spans), r.Knob.Clockwise.Sign != 0)
	f.output(r)
	f.poll()
	if r.Knob.Clockwise.Sign == 0 {
		all := r.presses(f.spans)
		f.train = findTrain(all, f.grid, func(n int) draw.Stream { return f.source("by hand alone", n).Stream(strokeNoise) })
		f.pulses()
		f.reports()
		f.repeat(r, all)
	}
	f.rest = r.findRest(f.spans)
	f.strokes = r.findStrokes(f.spans, f.rest)
	f.turn()
	f.losses(r)
}

// reports returns the times of the reports of all parts, rising.
func reports(spans []span) []int64 {
	heard := func(yield func(recording.Event) bool) {
		for _, s := range spans {
			for e := range s.events.all() {
				if e.Kind != recording.Repeat && !yield(e) {
					return
				}
			}
		}
	}
	last := int64(math.MinInt64)
	for e := range heard {
		if e.Time < last { // a file of several devices, one after the other
			later := func(a, b recording.Event) int { return cmp.Compare(a.Time, b.Time) }
			return recording.Reports(slices.Values(slices.SortedStableFunc(heard, later)))
		}
		last = e.Time
	}
	return recording.Reports(heard)
}

// detents returns the detents of a turn as far as they are known, and who says so.
func (f *fitting) detents() (float64, string) {
	if v, ok := f.r.Path.Get("knob.detents"); ok && v.Known {
		return v.Value, "the slow turn's detents"
	}
	return float64(f.r.Rig.Knob.UnitsPerTurn()), fmt.Sprintf("the rig's %d detents", f.r.Rig.Knob.UnitsPerTurn())
}

// perDetent returns how many counts the device gives for a detent.
func (f *fitting) perDetent() float64 {
	if v, ok := f.r.Path.Get("firmware.axis.counts_per_detent"); ok && v.Known {
		return v.Value
	}
	return float64(max(1, f.r.Rig.Firmware.CountsPerDetent))
}

func (f *fitting) output(r *Recording) {
	c := r.Knob.Clockwise.Control
	c = c[strings.LastIndexByte(c, '/')+1:]
	switch {
	case r.Knob.Clockwise.Sign == 0 && strings.HasPrefix(c, "key"):
		f.path(word("firmware.output", "keys", "the recording has key presses"))
	case r.Knob.Clockwise.Sign == 0:
		f.path(word("firmware.output", "buttons", "the recording has button presses"))
	case strings.HasPrefix(c, "abs"), strings.HasPrefix(c, "axis"):
		f.path(word("firmware.output", "axis", "the recording has positions"))
		f.axis(r)
	default:
		f.path(word("firmware.output", "relative", "the recording has counts"))
	}
}

// axis finds how many units one count moves an absolute position.
func (f *fitting) axis(r *Recording) {
	seen := map[int64]int{}
	most := int64(0)
	n := 0
	for _, s := range f.spans {
		for m := range s.events.all() {
			if d := r.Knob.Move(m); d != 0 {
				d = max(d, -d)
				n++
				if seen[d]++; seen[d] > seen[most] || seen[d] == seen[most] && d < most {
					most = d
				}
			}
		}
	}
	for d := range seen {
		if d%most != 0 {
			f.path(unknown("firmware.axis.counts_per_detent", "units", "positions change by amounts that are no multiples of the commonest, %d", most))
			return
		}
	}
	f.path(known("firmware.axis.counts_per_detent", "units", float64(most), float64(most), float64(most), "all %d movements are multiples of it", n))
	f.path(unknown("firmware.axis.bits", "", "a recording of movements does not show where the axis ends"))
}

// usual are the poll periods of USB, ms; a measured one that cannot be told from
// one of them is taken for it.
var usual = []float64{0.125, 0.25, 0.5, 1, 2, 4, 8, 16, 32}

func (f *fitting) poll() {
	g := &f.grid
	switch {
	case g.stamps > 0:
		f.path(unknown("usb.poll", "ms", "reports come at multiples of %s, and so do the time stamps: a poll would not show", scenarios.TimeText(time.Duration(g.stamps))))
		return
	case g.period == 0 && g.intervals < 8:
		f.path(unknown("usb.poll", "ms", "%d intervals between reports are too few", g.intervals))
		return
	case g.period == 0:
		f.path(unknown("usb.poll", "ms", "the %d intervals between reports show no common period: the time stamps are coarser than the poll, or few intervals are short", g.intervals))
		return
	}
	p := g.period / 1e6
	for _, u := range usual {
		if math.Abs(p-u) <= max(0.005*u, (g.high-g.low)/2e6) && math.Abs(p-u) < 0.02*u {
			p = u
		}
	}
	if g.wanders {
		f.path(known("usb.poll", "ms", p, g.low/1e6, g.high/1e6, "%d short intervals are multiples of it; over longer ones the reports wander off", g.intervals))
		return
	}
	f.path(known("usb.poll", "ms", p, g.low/1e6, g.high/1e6, "reports come at multiples of it, %d intervals", g.intervals))
}

// reports tells levels from queued changes by the gaps that are shorter than a poll:
// levels hide most of them.
func (f *fitting) reports() {
	t, poll := &f.train, f.grid.period
	off := t.period - t.on.value
	hides := t.limited * (1 - max(0, off)/max(poll, 1)) // share of the presses that levels would merge
	switch {
	case t.singles == 0:
	case t.period > 0 && poll > 0 && hides > 0.15 && t.merged < hides/5:
		f.path(word("usb.reports", "queued", "gaps of %.1f ms are shorter than a poll, and yet none is missing", max(0, off)/1e6))
	case t.merged > 0.05 && poll > 0 && !t.hold:
		f.path(word("usb.reports", "state", "%.0f %% of the presses are several pulses: gaps between polls are not seen", 100*t.merged))
	default:
		f.path(unknown("usb.reports", "", "levels and queued changes look alike where no gap is shorter than a poll"))
	}
}

// pulses says what is known of pulse and gap, or of a hold.
func (f *fitting) pulses() {
	t, poll := &f.train, f.grid.period
	if t.singles == 0 {
		f.path(unknown("firmware.pulse", "ms", "no press stands alone"))
		f.path(unknown("firmware.gap", "ms", "no press stands alone"))
		return
	}
	on, error := t.on.value/1e6, t.on.margin()/1e6
	if t.hold {
		f.path(known("firmware.hold", "ms", on, on-error, on+error, "presses last as long as the knob turns; %d presses of one click", t.singles))
		return
	}
	everyPress := "the mean of %d presses that stand alone"
	if poll > 0 && t.lengths == 1 && t.on.value < 1.5*poll {
		f.path(unknown("firmware.pulse", "ms", "every press lasts one poll: the pulse is not longer than %.3g ms, and may be shorter", (poll+t.on.se)/1e6))
	} else {
		f.path(known("firmware.pulse", "ms", on, on-error, on+error, everyPress, t.singles))
	}
	switch {
	case t.period > 0:
		off := max(0, t.period-t.on.value) / 1e6
		f.path(known("firmware.gap", "ms", off, max(0, t.low-t.on.value-t.on.margin())/1e6, max(0, t.high-t.on.value+t.on.margin())/1e6,
			"pulses back to back start every %.1f ms", t.period/1e6))
	case t.shortest > 0:
		f.path(unknown("firmware.gap", "ms", "the pulses hardly ever come back to back; it is at most %.3g ms, or clicks in between are refused", f.mostOff()/1e6))
	default:
		f.path(unknown("firmware.gap", "ms", "too few presses follow each other"))
	}
}

// mostOff is the longest gap that the shortest time between presses allows, ns.
func (f *fitting) mostOff() float64 {
	return max(0, f.train.shortest+f.grid.period-f.train.on.value)
}

// repeat finds the system's key repeat.
func (f *fitting) repeat(r *Recording, all []press) {
	if v, _ := f.r.Path.Get("firmware.output"); v.Word != "keys" {
		return
	}
	var first, next []float64
	for _, p := range all {
		if p.repeats == nil {
			continue
		}
		last := p.at
		for i, at := range *p.repeats {
			if i == 0 {
				first = append(first, float64(at-last)/1e6)
			} else {
				next = append(next, float64(at-last)/1e6)
			}
			last = at
		}
	}
	switch d := float64(r.Device.RepeatDelay) / 1e6; {
	case len(first) > 0:
		m := middle(first)
		f.path(known("system.repeat.delay", "ms", m.value, m.value-m.margin(), m.value+m.margin(), "the first repeat of %d presses", len(first)))
	case d > 0:
		f.path(known("system.repeat.delay", "ms", d, d, d, "as the device says; no press was long enough to show it"))
	default:
		f.path(unknown("system.repeat.delay", "ms", "no key was down long enough: %.0f ms at most, and nothing repeated", float64(f.train.longest)/1e6))
	}
	switch p := float64(r.Device.RepeatPeriod) / 1e6; {
	case len(next) > 0:
		m := middle(next)
		f.path(known("system.repeat.rate", "per_s", 1e3/m.value, 1e3/(m.value+m.margin()), 1e3/max(m.value-m.margin(), m.value/2), "%d intervals between repeats", len(next)))
	case p > 0:
		f.path(known("system.repeat.rate", "per_s", 1e3/p, 1e3/p, 1e3/p, "as the device says; no press was long enough to show it"))
	default:
		f.path(unknown("system.repeat.rate", "per_s", "no key was down long enough to repeat twice"))
	}
}

// downstream says of the rest of the path why it is unknown.
func (f *fitting) downstream() {
	if len(f.Recordings) == 0 {
		return
	}
	say := func(why string, keys ...string) {
		for _, key := range keys {
			if _, said := f.r.Path.Get(key); !said && slices.Contains(scenarios.Keys(&f.r.Rig.Rig), key) {
				f.path(unknown(key, "", "%s", why))
			}
		}
	}
	if f.r.Contacts == nil {
		say("behind the firmware nothing is seen of the contacts; a trace of a and b shows them", "knob.bounce", "knob.min_state")
		say("behind the firmware nothing is seen of how it reads the contacts", "firmware.scan", "firmware.debounce", "firmware.decoder")
	} else {
		say("a trace of the contacts shows what would do, not what the firmware does", "firmware.scan", "firmware.debounce", "firmware.decoder")
	}
	say("nothing shows how many pulses wait", "firmware.queue")
	say("the recording ends before it; --count tells something of what the program shows",
		"system.latency", "program.frames", "program.sampling", "display.latency")
}
