package fit

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat"

	"dialwright/encoder"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
	"dialwright/scenarios/paired"
)

// Replay is the comparison of a recording with recordings that the fitted person
// makes on the fitted rig. A fit that does not replay is not to be believed.
type Replay struct {
	D         float64 // Kolmogorov–Smirnov distance of the intervals between reports
	P         float64 // of replays that lie as far from the other replays as the recording does
	Intervals int     // of the recording
	Replays   int
	Turned    int             // detents, where the true count is known
	Lost      float64         // share of them, in the recording
	Simulated paired.Estimate // the same share, in the replays
	Holds     bool
	Verdict   string // one sentence
}

// Sizes of a replay; ours.
const (
	pooledReplays   = 24   // replays that make the expected intervals
	comparedReplays = 39   // further ones that show how far one may be from them
	mostReplayed    = 3000 // counts of a free recording that are replayed
	leastReplay     = 12   // intervals without which nothing is compared
	visibleDistance = 0.1  // distance below which nobody would notice
)

// replay plays the fit against the recording.
func (f *fitting) replay(ctx context.Context, r *Recording) error {
	spans, part := f.begin()
	real := f.reportIntervals(r.Knob, spans)
	p := &Replay{Intervals: len(real)}
	f.r.Replay = p
	if len(real) < leastReplay {
		p.Verdict = fmt.Sprintf("not replayed: %d intervals are too few", len(real))
		return nil
	}
	p.Turned, p.Lost = f.r.fast()
	m := &mirror{fitting: f, real: real, part: part, steps: f.plan()}
	if err := m.search(ctx); err != nil {
		return err
	}
	rig, hand := m.hand()
	var pool []float64
	var losses []float64
	var each [][]float64
	for n := range pooledReplays + comparedReplays {
		if err := ctx.Err(); err != nil {
			return err
		}
		x, lost, err := m.once(&rig, hand, n)
		if err != nil {
			return err
		}
		losses = append(losses, lost)
		if n < pooledReplays {
			pool = append(pool, x...)
		} else {
			each = append(each, x)
		}
	}
	p.Replays = pooledReplays + comparedReplays
	p.D = distance(real, pool)
	farther := 1
	for _, x := range each {
		if distance(x, pool) >= p.D {
			farther++
		}
	}
	p.P = float64(farther) / float64(len(each)+1)
	slices.Sort(losses)
	p.Simulated = paired.Estimate{Value: losses[len(losses)/2], Low: losses[0], High: losses[len(losses)-1]}
	var faults []string
	if p.P < 0.05 && p.D >= visibleDistance {
		faults = append(faults, fmt.Sprintf("the intervals between reports differ (distance %.2f, p %.3f)", p.D, p.P))
	}
	if slack := 1.5 / float64(max(1, p.Turned)); p.Turned > 0 && (p.Lost < p.Simulated.Low-slack || p.Lost > p.Simulated.High+slack) {
		faults = append(faults, fmt.Sprintf("the recording %s, replays lose %.0f to %.0f %%", lostText(p.Lost), 100*max(0, p.Simulated.Low), 100*max(0, p.Simulated.High)))
	}
	p.Holds = faults == nil
	as := "are as recorded"
	if p.P < 0.05 {
		as = "hardly differ from the recording"
	}
	switch {
	case !p.Holds:
		p.Verdict = "does not replay: " + strings.Join(faults, ", and ")
	case p.Turned > 0:
		p.Verdict = fmt.Sprintf("replays: intervals between reports (distance %.2f, p %.2f) and clicks lost (%.0f %%, in replays %.0f to %.0f %%) %s",
			p.D, p.P, 100*max(0, p.Lost), 100*max(0, p.Simulated.Low), 100*max(0, p.Simulated.High), as)
	default:
		p.Verdict = fmt.Sprintf("replays: intervals between reports (distance %.2f, p %.2f) %s; clicks lost are not known", p.D, p.P, as)
	}
	return nil
}

// lostText says what share of the clicks was lost, or how many more came than were
// turned.
func lostText(share float64) string {
	if share < 0 {
		return fmt.Sprintf("has %.0f %% more clicks than were turned", -100*share)
	}
	return fmt.Sprintf("lost %.0f %% of the clicks", 100*share)
}

// distance is the two-sample Kolmogorov–Smirnov distance. Intervals within a stroke
// depend on each other, so what distances chance gives is taken from replays and not
// from the test's table.
func distance(x, y []float64) float64 {
	return stat.KolmogorovSmirnov(slices.Sorted(slices.Values(x)), nil, slices.Sorted(slices.Values(y)), nil)
}

// reportIntervals returns the times between reports within the fast turns, or
// within a free recording, in polls, or in ms where no poll shows; rests left out.
func (f *fitting) reportIntervals(k recording.Knob, spans []span) []float64 {
	all := !guided(spans)
	unit := 1e6
	if v, _ := f.r.Path.Get("usb.poll"); v.Known {
		unit = v.Value * 1e6
	}
	var x []float64
	for _, s := range spans {
		if s.kind != fastTurn && !all {
			continue
		}
		times := recording.Reports(s.events.only(func(e recording.Event) bool { return e.Kind != recording.Repeat && e.Control != k.Push }))
		for i := 1; i < len(times); i++ {
			if d := times[i] - times[i-1]; d < longestRest {
				x = append(x, math.Round(float64(d)/unit))
			}
		}
	}
	return x
}

// begin returns the beginning of a free recording, which is enough to compare, and its
// share of all movements; a session it returns whole.
func (f *fitting) begin() (spans []span, part float64) {
	all := int64(0)
	for _, s := range f.spans {
		all += f.seen(s)
	}
	if guided(f.spans) || all <= mostReplayed {
		return f.spans, 1
	}
	moved := int64(0)
	for _, s := range f.spans {
		for i := range s.events.list {
			n := f.knob.Move(s.events.at(i))
			if moved += max(n, -n); moved >= mostReplayed {
				s.events = s.events.part(0, i+1)
				break
			}
		}
		if spans = append(spans, s); moved >= mostReplayed {
			break
		}
	}
	return spans, float64(moved) / float64(all)
}

// plan returns the steps that a replay repeats: the turns of a session, or one long
// fast turn.
func (f *fitting) plan() []recording.Step {
	if !guided(f.spans) {
		return []recording.Step{{Name: "fast turn", Way: 1, Rest: 1e9}}
	}
	return slices.DeleteFunc(recording.Steps(), func(s recording.Step) bool {
		return !slices.ContainsFunc(f.spans, func(x span) bool { return x.kind == fastTurn && x.name == s.Name })
	})
}

// mirror replays a fit.
type mirror struct {
	*fitting
	real  []float64 // intervals of the recording
	part  float64   // of a free recording that they are of
	steps []recording.Step
	speed float64 // factor on the fast pace, where the recording hides it
}

// hand returns the rig and the hand that turns its knob.
func (m *mirror) hand() (encoder.Rig, turner) {
	o := m.r.Operator
	if m.speed > 0 {
		o.FastDegPerS.Mean *= m.speed
	}
	rig := m.r.Rig.Rig
	t := newTurner(&o, &rig)
	if full := m.strokes.lengths(true); len(full) >= leastBursts && m.r.Hand.has("reach") {
		t.ReachSD = spread(full) / m.perDetent()
	}
	if rates := m.strokes.rates(); len(rates) >= leastBursts && m.r.Hand.has("pace.fast") && !m.r.Hand.has("pace_noise") {
		t.PaceNoise = spread(rates) / meanOf(rates).value // too few to claim it, but better than a stranger's
	}
	if !guided(m.spans) {
		n := float64(m.Turned)
		if n == 0 {
			for _, s := range m.spans {
				n += float64(m.seen(s)) / m.perDetent()
			}
		}
		t.perTurn = max(1, int(math.Round(m.part*n)))
	}
	return rig, t
}

// once replays once and returns the intervals between reports, and the share of
// the clicks that were lost.
func (m *mirror) once(rig *encoder.Rig, t turner, n int) ([]float64, float64, error) {
	s, l, err := sitWith(rig, t, nil, m.source("replay", n), m.steps)
	if err != nil {
		return nil, 0, err
	}
	s.Events = l.recorded(m.source("replay", n), 0)
	s.mark()
	r, err := newRecording("replay", recording.Device{}, s.Events)
	if err != nil {
		return nil, 1, nil // nothing came through
	}
	spans := r.spans()
	seen := int64(0)
	for _, x := range spans {
		for e := range x.events.all() {
			n := r.Knob.Move(e)
			seen += max(n, -n)
		}
	}
	lost := 1 - float64(seen)/m.perDetent()/float64(s.detents())
	return m.reportIntervals(r.Knob, spans), lost, nil
}

// setting is something that the recording hides, and values to try.
type setting struct {
	name string
	put  func(v float64)
	at   float64 // the value now
	try  []float64
}

// hidden lists what the recording hides and a replay depends on.
func (m *mirror) hidden() []setting {
	f := &m.r.Rig.Firmware
	var all []setting
	if f.Output.Lines() && f.Hold == 0 && m.train.singles > 0 {
		ns := func(to *time.Duration) func(v float64) { return func(v float64) { *to = time.Duration(v) } }
		if on := m.train.on.value; !m.r.Path.has("firmware.pulse") && m.grid.period > 0 {
			all = append(all, setting{"on", ns(&f.Pulse), on, []float64{0.25 * on, 0.5 * on, 0.75 * on, on}})
		}
		if off := m.mostOff(); !m.r.Path.has("firmware.gap") && m.train.shortest > 0 {
			all = append(all, setting{"off", ns(&f.Gap), float64(f.Gap), []float64{0.1 * off, 0.4 * off, 0.6 * off, 0.8 * off, 0.9 * off, off}})
		}
		if turned, _ := m.r.fast(); turned > 0 {
			all = append(all, setting{"queue", func(v float64) { f.Queue = int(v) }, float64(f.Queue), []float64{0, 1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 64}})
		}
	}
	if !m.r.Hand.has("pace.fast") {
		all = append(all, setting{"speed", func(v float64) { m.speed = v }, 1, []float64{0.4, 0.6, 0.8, 1, 1.3, 1.7}})
	}
	return all
}

// search sets what the recording hides to what replays best: not as a finding, but
// so that the rig does what was recorded. It goes twice through one setting after
// the other.
func (m *mirror) search(ctx context.Context) error {
	all := m.hidden()
	for pass := range 2 {
		for k := range all {
			s := &all[k]
			if pass == 1 && len(all) == 1 {
				break
			}
			best := math.Inf(1)
			for _, v := range s.try {
				if err := ctx.Err(); err != nil {
					return err
				}
				s.put(v)
				miss, err := m.miss()
				if err != nil {
					return err
				}
				if miss < best {
					best, s.at = miss, v
				}
			}
			s.put(s.at)
		}
	}
	for _, s := range all {
		switch s.name {
		case "queue":
			m.path(unknown("firmware.queue", "", "a queue of %.0f makes replays lose about as many clicks, and others may too", s.at))
		case "speed":
			m.note("the fast pace does not show, and is not written; replays come nearest with %s", scenarios.AngularSpeed.Text(within(m.r.Operator.FastDegPerS.Mean*s.at, 1, 1e4)))
		}
	}
	f := &m.r.Rig.Firmware
	f.Pulse, f.Gap = f.Pulse.Round(100*time.Microsecond), f.Gap.Round(100*time.Microsecond)
	return nil
}

// miss is how far replays lie from the recording.
func (m *mirror) miss() (float64, error) {
	const tries = 4
	rig, hand := m.hand()
	var pool []float64
	lost := 0.0
	for n := range tries {
		x, share, err := m.once(&rig, hand, 1000+n)
		if err != nil {
			return 0, err
		}
		pool = append(pool, x...)
		lost += share / tries
	}
	miss := distance(m.real, pool)
	if turned, _ := m.r.fast(); turned > 0 {
		miss += math.Abs(lost - m.lostShare())
	}
	return miss, nil
}
