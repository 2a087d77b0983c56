package report

import (
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/follow"
)

// FollowedTurn is one quick turn of the main task's knob, with some settings.
type FollowedTurn struct {
	Name string // before or after
	Knob string
	*follow.Turn
}

// The turn that the lane charts show: a flick's worth of clicks.
const (
	shownClicks = 8
	shownTime   = 400 * time.Millisecond
)

// turn sends the same turn through the path before and after. The number has no
// range here, so that nothing but the path decides.
func (r *Result) turn(d *Dialing) error {
	for _, w := range []struct {
		name string
		way  *Way
	}{{"before", &d.Before}, {"after", &d.After}} {
		if w.name == "after" && !d.Changed {
			break
		}
		rig, err := scenarios.Apply(w.way.Profile, d.Use.Knob.Inner.Rig)
		if err != nil {
			return err
		}
		if rig.Firmware.Output == encoder.AxisOutput {
			return nil // a position has no clicks to follow
		}
		setup := encoder.Setup{Rig: &rig, Home: w.way.Profile.Home}
		if !w.way.Profile.Acceleration.Plain() {
			if setup.Gain, err = w.way.Profile.Acceleration.Compile(); err != nil {
				return err
			}
		}
		t, err := follow.Run(setup, draw.NewTrial(r.Study.Seed, "follow", 0), 0, follow.Even(shownClicks, shownTime))
		if err != nil {
			return err
		}
		r.Turns = append(r.Turns, FollowedTurn{w.name, d.Use.Knob.Name, t})
	}
	return nil
}
