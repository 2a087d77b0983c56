package hand

import (
	"fmt"
	"math"
	"sync"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
)

// Distances inside a plan are whole numbers of 1/fine task step.
const fine = 256

// Grip is what hands find out about one knob with one acceleration in the program: what
// a stroke of so many detents at such a pace brings, and how late one detent alone
// shows. It is found by turning the knob on the path itself, never by looking at a curve,
// and is then only read, so that many hands may share one.
type Grip struct {
	*motion
	IdleLag int64 // ns from a detent's last edge to the screen, path idle, mean over phases
	Base    int64 // what one slow detent brings, 1/fine task steps

	outcomes [speedClasses][paces][]outcome // by stroke
	blended  [paces][]outcome               // of people of all classes, by stroke
	exact    bool                           // every stroke brings its detents times the base
	faster   bool                           // some strokes bring more than their detents times the base
	gap      int64                          // ns between two detents' showing where a queue holds them up; 0 where nothing does
	longest  int64                          // ns, the latest change after the last detent that a stroke made, beyond the lag

	scratch // of learn

	mutex  sync.Mutex // of values and plans
	values []*value   // one for each width of target that was asked for
	plans  []*plans
}

// scratch is what learning needs for a while.
type scratch struct {
	knob   *Knob
	number *encoder.Number
	at     atPace
	tally  tally
	points []point
	room   []box // for the boxes of outcomes to come
}

// NewGrip lets people of one operator find out about a knob.
func NewGrip(s encoder.Setup, people *People) (*Grip, error) {
	k, err := NewKnob(s, people)
	if err != nil {
		return nil, err
	}
	return k.Grip(s.Gain, s.Rig.Display.Latency)
}

// Grip lets people find out about the knob with an acceleration in the program, nil is
// none, and a screen that shows the number so late. Where the firmware holds an
// acceleration it is the knob's.
func (k *Knob) Grip(gain *accel.Gain, late time.Duration) (*Grip, error) {
	s, rig := k.setup, *k.setup.Rig
	if s.Home == encoder.InProgram {
		s.Gain = gain
	}
	rig.Display.Latency = late
	s.Rig = &rig
	g := &Grip{motion: k.motion, scratch: scratch{knob: k, number: encoder.NewNumber(s)}}
	if err := g.feel(); err != nil {
		return nil, err
	}
	if err := g.learn(); err != nil {
		return nil, err
	}
	g.scratch = scratch{}
	return g, nil
}

// feel finds out what single detents bring, and how late.
func (g *Grip) feel() error {
	lag, seen, travel := int64(0), int64(0), int64(0)
	for _, t := range g.knob.single {
		g.number.Start(g.knob.middle())
		steps, changes := t.steps, 0
		for k := range int64(feltDetents) {
			at := (k + 1) * feltApart
			for len(steps) > 0 && steps[0].At < at+feltApart {
				g.number.Take(steps[0])
				steps = steps[1:]
			}
			if c := g.number.Changes()[changes:]; len(c) > 0 {
				lag += c[0].At - at
				seen++
				changes += len(c)
			}
		}
		for _, s := range steps {
			g.number.Take(s)
		}
		travel += abs(g.number.Shown(math.MaxInt64) - g.knob.middle())
	}
	if seen == 0 {
		return fmt.Errorf("rig %q: none of %d single detents changed the number", g.knob.setup.Rig.Name, feltPhases*feltDetents)
	}
	g.IdleLag = max(0, lag/seen)
	g.Base = max(1, travel*fine/seen)
	return nil
}

func abs(v int64) int64 { return max(v, -v) }
