package tune

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// Question is a question of design that people really have.
type Question string

// The questions.
const (
	Rings  Question = "rings"  // one accelerated knob or two rings
	Press  Question = "press"  // press-for-coarse or acceleration
	Output Question = "output" // buttons, keys, relative or axis
	Homes  Question = "home"   // acceleration in the firmware, as a second button pair, or in the program
)

// Questions are all of them.
var Questions = []Question{Rings, Press, Output, Homes}

// asked is a question as people ask it, and what its answer leaves out.
var asked = map[Question][2]string{
	Rings:  {"One accelerated knob or two rings?", "That a hand takes the wrong ring is not counted: it happens (FAA InFO 16022), but nobody has published how often."},
	Press:  {"Press-for-coarse or acceleration?", "A push that is forgotten, or that turns the knob, is not counted: nobody has published how often that happens."},
	Output: {"Buttons, keys, relative counts or an axis?", "An axis has no acceleration, and stops at the ends of its range where a number wraps."},
	Homes:  {"Acceleration in the program, in the firmware or as a second button pair?", "In the firmware a quick click becomes more pulses, in the program a bigger step; the second pair has one size."},
}

// alternative is one of the answers: how a knob is built for it, and what may be
// searched then.
type alternative struct {
	name     string
	build    func(*scenarios.Knob) error                 // changes a copy of a knob
	curves   int                                         // mayCurve …
	homes    []scenarios.Home                            // nil: what the rig's owner can have
	pinned   []string                                    // keys that are not searched; the output never is
	more     func(*scenarios.Knob) []scenarios.Range     // keys that are, besides what the rig's owner can change
	sizes    []int64                                     // of press-for-coarse
	starts   func(*scenarios.Knob) [][]scenarios.Setting // keys that it cannot do without: what to begin with
	output   bool                                        // it is the output that differs
	bare     bool                                        // nothing is set, and nothing searched
	optional bool                                        // where it cannot be built the others are compared all the same
}

// Whether an alternative has an acceleration.
const (
	mayCurve = iota
	mustCurve
	noCurve
)

// alternatives lists the answers to a question. The first is what the others are
// compared with where nothing is best.
func alternatives(q Question) []alternative {
	switch q {
	case Rings:
		return []alternative{
			{name: "one accelerated knob", build: rings(1), curves: mustCurve},
			{name: "two rings", build: rings(2)},
		}
	case Press:
		needsPush := func(k *scenarios.Knob) error {
			if !k.Inner.Knob.Push || k.Outer != nil && !k.Outer.Knob.Push {
				return errors.New("the knob has no push")
			}
			return nil
		}
		return []alternative{
			{name: "acceleration", curves: mustCurve},
			{name: "press-for-coarse", build: needsPush, curves: noCurve, sizes: []int64{4, 5, 8, 10, 12, 16, 20, 25, 50}},
			{name: "neither", curves: noCurve},
		}
	case Output:
		var list []alternative
		for _, o := range []string{"buttons", "keys", "relative", "axis"} {
			a := alternative{name: o, build: output(o), output: true, homes: []scenarios.Home{encoder.InProgram}}
			switch o {
			case "buttons", "keys":
				a.more = pulses
			case "axis":
				a.curves, a.build, a.starts, a.optional = noCurve, onAxis, axisKeys, true
			}
			list = append(list, a)
			if o == "relative" { // as people have it
				a.name, a.curves, a.bare = "relative, one step a click", noCurve, true
				list = append(list, a)
			}
		}
		return list
	case Homes:
		coarse := []string{"firmware.coarse.above", "firmware.coarse.steps"}
		return []alternative{
			{name: "in the program", build: noCoarse, curves: mustCurve, homes: []scenarios.Home{encoder.InProgram}, pinned: coarse},
			{name: "in the firmware", build: noCoarse, curves: mustCurve, homes: []scenarios.Home{encoder.InFirmware}, pinned: coarse},
			{name: "second button pair", build: makesPulses, curves: noCurve, starts: func(*scenarios.Knob) (list [][]scenarios.Setting) {
				for _, x := range [][2]string{{"12/s", "10"}, {"16/s", "5"}, {"20/s", "3"}, {"20/s", "2"}} {
					list = append(list, []scenarios.Setting{{Key: coarse[0], Value: x[0]}, {Key: coarse[1], Value: x[1]}})
				}
				return list
			}, more: func(*scenarios.Knob) []scenarios.Range {
				return []scenarios.Range{
					{Key: coarse[0], Values: []string{"4/s", "6/s", "8/s", "10/s", "12/s", "14/s", "16/s", "20/s"}},
					{Key: coarse[1], Values: []string{"2", "3", "4", "5", "6", "8", "10", "12", "16", "20", "25"}},
				}
			}},
		}
	}
	return nil
}

// rings gives a knob one ring or two, for the numbers that can be dialed with two.
func rings(n int) func(*scenarios.Knob) error {
	return func(k *scenarios.Knob) error {
		k.Tasks = slices.DeleteFunc(slices.Clone(k.Tasks), func(u scenarios.Use) bool { return u.Task.PerOuter == 0 })
		if len(k.Tasks) == 0 {
			return errors.New("none of its numbers is dialed with two rings")
		}
		k.Selector = k.Selector && len(k.Tasks) > 1
		k.Rings = n
		switch {
		case n == 1:
			k.Outer = nil
		case k.Outer == nil:
			k.Outer = k.Inner
		}
		return nil
	}
}

// output gives a knob another output. What the old one alone used goes.
func output(name string) func(*scenarios.Knob) error {
	return func(k *scenarios.Knob) error {
		return each(k, func(r *encoder.Rig) (err error) {
			*r, err = scenarios.With(*r, []scenarios.Setting{{Key: "firmware.output", Value: name}})
			return err
		})
	}
}

// each changes the rigs of a knob's rings.
func each(k *scenarios.Knob, change func(*encoder.Rig) error) error {
	for _, ring := range []**scenarios.Rig{&k.Inner, &k.Outer} {
		if *ring == nil {
			continue
		}
		rig := **ring
		if err := change(&rig.Rig); err != nil {
			return err
		}
		*ring = &rig
	}
	return nil
}

func noCoarse(k *scenarios.Knob) error {
	return each(k, func(r *encoder.Rig) error {
		r.Firmware.Coarse = encoder.Coarse{}
		return nil
	})
}

func makesPulses(k *scenarios.Knob) error {
	return each(k, func(r *encoder.Rig) error {
		if !r.Firmware.Output.Lines() || r.Firmware.Hold > 0 {
			return errors.New("its firmware makes no pulses; a second pair needs buttons or keys")
		}
		return nil
	})
}

// pulses are the settings of pulses: whoever makes them can choose how long they
// last.
func pulses(*scenarios.Knob) []scenarios.Range {
	return []scenarios.Range{
		{Key: "firmware.pulse", From: "10ms", To: "60ms", By: "5ms"},
		{Key: "firmware.gap", From: "10ms", To: "60ms", By: "5ms"},
		{Key: "firmware.queue", Values: []string{"0", "2", "4", "8", "16", "32"}},
	}
}

// axisBits is how fine an axis is: fine enough to place every number.
const axisBits = 16

// axisKeys make a detent a step of the axis's number; of several numbers, of the one
// with the smallest steps, so that all of them can be reached.
func axisKeys(k *scenarios.Knob) [][]scenarios.Setting {
	least, _ := axisCounts(k)
	return [][]scenarios.Setting{{{Key: "firmware.axis.bits", Value: strconv.Itoa(axisBits)}, {Key: "firmware.axis.counts_per_detent", Value: strconv.Itoa(least)}}}
}

// axisCounts are the least and the most units that a detent of one of the knob's
// numbers would have to be.
func axisCounts(k *scenarios.Knob) (least, most int) {
	for _, u := range k.Tasks {
		for _, d := range u.Task.Dials(k.Rings) {
			n := int(max(1, math.Round((1<<axisBits-1)/float64(max(1, d.Scale.Count-1)))))
			if least == 0 || n < least {
				least = n
			}
			most = max(most, n)
		}
	}
	return max(1, least), most
}

// onAxis refuses numbers of which a detent would not be half a step.
func onAxis(k *scenarios.Knob) error {
	if least, most := axisCounts(k); most > 2*least {
		return errors.New("its numbers have ranges so different that a detent of one axis cannot be a step of each")
	}
	return output("axis")(k)
}

// of returns a knob as the alternative has it, with what is searched on it marked as
// adjustable, and what is set on it to begin with.
func (a alternative) of(k *scenarios.Knob, now *scenarios.Profile) (*scenarios.Knob, *scenarios.Profile, error) {
	knob := *k
	if a.build != nil {
		if err := a.build(&knob); err != nil {
			return nil, nil, err
		}
	}
	for _, ring := range []**scenarios.Rig{&knob.Inner, &knob.Outer} {
		if *ring == nil {
			continue
		}
		rig := **ring
		rig.Adjustable.Settings = a.settings(&knob, &rig)
		switch {
		case a.curves == noCurve:
			rig.Adjustable.Curves = nil
		case len(rig.Adjustable.Curves) == 0:
			rig.Adjustable.Curves = accel.CurveWords()
		}
		if a.homes != nil {
			rig.Adjustable.Homes = a.homes
		}
		*ring = &rig
	}
	base := &scenarios.Profile{Name: "now"}
	if !a.bare {
		base.Settings = slices.DeleteFunc(slices.Clone(now.Settings), func(s scenarios.Setting) bool {
			return s.Key == "firmware.output" && a.output || slices.Contains(a.pinned, s.Key)
		})
	}
	if a.starts != nil {
		base.Settings = append(base.Settings, a.starts(&knob)[0]...)
	}
	if a.sizes != nil {
		base.PressCoarse = 10
	}
	return &knob, base, nil
}

// settings are what is searched on a ring's rig.
func (a alternative) settings(k *scenarios.Knob, r *scenarios.Rig) []scenarios.Range {
	var list []scenarios.Range
	if a.bare {
		return nil
	}
	used := scenarios.Keys(&r.Rig)
	for _, g := range r.Adjustable.Settings {
		if g.Key != "firmware.output" && !strings.HasPrefix(g.Key, "firmware.axis") && !slices.Contains(a.pinned, g.Key) && slices.Contains(used, g.Key) {
			list = append(list, g)
		}
	}
	if a.more == nil {
		return list
	}
	for _, g := range a.more(k) {
		if !slices.ContainsFunc(list, func(x scenarios.Range) bool { return x.Key == g.Key }) {
			list = append(list, g)
		}
	}
	return list
}
