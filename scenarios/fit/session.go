package fit

import (
	"fmt"
	"math"
	"strings"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// Session is a guided session (recording.Steps) on a simulated rig in simulated
// hands: what a recorder hears of it, and what the knob really did.
type Session struct {
	Events []recording.Event
	Parts  []Part
	Fates  []encoder.Fate // of every detent; without meaning under a firmware hold
}

// Part is what the knob did in a step of a session.
type Part struct {
	recording.Step
	First, Last int       // numbers of the first detent, and of the one after the last
	Start       int64     // ns, before the first
	Strokes     [][]int64 // when the detents of each stroke were complete, ns; slow and fast turns only
}

// NewSession lets an operator's average person sit through a session. Time stamps
// come up to some stampSD (ns) late.
func NewSession(rig *encoder.Rig, o *scenarios.Operator, source draw.Trial, stampSD int64) (*Session, error) {
	s, l, err := sit(rig, o, source, recording.Steps())
	if err != nil {
		return nil, err
	}
	s.Events = l.recorded(source, stampSD)
	s.mark()
	return s, nil
}

// Simulated returns a recording of a guided session on a rig, for those who have none
// of their own, and how many clicks its fast turns had.
func Simulated(rig *scenarios.Rig, o *scenarios.Operator, seed uint64) (*Recording, int, error) {
	s, err := NewSession(&rig.Rig, o, draw.NewTrial(seed, "session", 0), 50e3)
	if err != nil {
		return nil, 0, err
	}
	r, err := newRecording("session on "+rig.Name, recording.Device{}, s.Events)
	if err != nil {
		return nil, 0, err
	}
	r.About = fmt.Sprintf("no recording of yours, but simulated: the %s operator turns the rig %s", o.Name, rig.Name)
	turned := 0
	for _, p := range s.Parts {
		if strings.HasPrefix(p.Name, "fast") {
			turned += p.Last - p.First
		}
	}
	return r, turned, nil
}

// sit does the steps and listens.
func sit(rig *encoder.Rig, o *scenarios.Operator, source draw.Trial, steps []recording.Step) (*Session, *listener, error) {
	return sitWith(rig, newTurner(o, rig), o, source, steps)
}

// sitWith does the steps with a hand; only dialing needs an operator.
func sitWith(rig *encoder.Rig, hands turner, o *scenarios.Operator, source draw.Trial, steps []recording.Step) (*Session, *listener, error) {
	l := &listener{rig: rig}
	setup := encoder.Setup{Rig: rig}
	if rig.Firmware.Output == encoder.AxisOutput { // the bus carries its movements like counts
		counts := *rig
		counts.Firmware.Output = encoder.Relative
		counts.Firmware.CountsPerDetent = 1
		setup.Rig = &counts
	}
	path, err := encoder.NewPath(setup)
	if err != nil {
		return nil, nil, err
	}
	path.Trace = l.hear
	path.Start(source, 0)
	s := &Session{}
	t := turning{turner: hands, path: path, noise: source.Stream(strokeNoise), now: 1e9}
	plan := source.Stream(sessionPlan)
	var dialing *hand.Dial
	var person hand.Hand
	value := int64(0)
	for i, step := range steps {
		p := Part{Step: step, First: s.detents(), Start: t.now}
		switch dir := int8(step.Way); {
		case strings.HasPrefix(step.Name, "slow"):
			p.Strokes = [][]int64{t.slow(dir, t.perTurn)}
			p.Last = p.First + t.perTurn
		case strings.HasPrefix(step.Name, "fast"):
			p.Strokes = t.fast(dir, t.perTurn)
			p.Last = p.First + t.perTurn
		default:
			if dialing == nil {
				people, err := hand.NewPeople(*o)
				if err != nil {
					return nil, nil, err
				}
				grip, err := hand.NewGrip(setup, people)
				if err != nil {
					return nil, nil, fmt.Errorf("the rig loses every single click: %w", err)
				}
				dialing = &hand.Dial{Path: path, Grip: grip, Limit: math.MaxInt64 / 4}
				person.People = people
				person.Start(people.Draw(source), source)
			}
			path.RunTo(t.now)
			value = path.Shown(t.now)
			way := 4 + plan.Below(int64(2*i), 56)
			if plan.Bits(int64(2*i+1))&1 == 1 {
				way = -way
			}
			dialing.Limit = t.now + 60e9
			done := person.Run(dialing, t.now, value, value+way)
			dialing.Strokes += int64(done.Strokes)
			p.Last = p.First + done.Detents
			t.now = done.At
			t.last = t.now
		}
		for path.RunTo(t.now); !path.Empty(); path.RunTo(t.now) {
			t.now += 250e6 // what is still coming belongs to this step
		}
		t.now += step.Rest + 1e9
		s.Parts = append(s.Parts, p)
	}
	path.Finish()
	for _, d := range path.Detents() {
		s.Fates = append(s.Fates, d.Fate)
	}
	return s, l, nil
}

// detents returns how many detents the parts so far have.
func (s *Session) detents() int {
	if len(s.Parts) == 0 {
		return 0
	}
	return s.Parts[len(s.Parts)-1].Last
}

// mark puts the marks of the steps into the recording, each before its first
// movement, as a capture does.
func (s *Session) mark() {
	var marked []recording.Event
	part := 0
	for _, e := range s.Events {
		for part < len(s.Parts) && e.Time >= s.Parts[part].Start && (e.Kind == recording.Press || e.Kind == recording.Count) {
			if part+1 == len(s.Parts) || e.Time < s.Parts[part+1].Start {
				marked = append(marked, recording.Event{Time: e.Time, Control: s.Parts[part].Name, Kind: recording.Mark})
			}
			part++
		}
		marked = append(marked, e)
	}
	s.Events = marked
}
