package fit

import (
	"context"
	"fmt"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// dialer lets simulated people dial what was dialed: the same numbers, on the same paths.
// It is used by one goroutine at a time.
type dialer struct {
	*scenarios.Dialings
	dialed []*scenarios.Dialing
	seed   uint64
	paths  map[dialedOn]*encoder.Path
}

// dialedOn is what dialings share that were dialed on one path.
type dialedOn struct {
	task, setting string
	phase         time.Duration
}

// setup is the path of a dialing as simulated people turn it.
func (d *dialer) setup(x *scenarios.Dialing) (encoder.Setup, error) {
	rig := d.Rig()
	s := encoder.Setup{Rig: &rig, Scale: d.Tasks[x.Task].Scale}
	p := d.Settings[x.Setting]
	if p.Acceleration.Plain() {
		return s, nil
	}
	var err error
	s.Home = p.Home
	s.Gain, err = p.Acceleration.Compile()
	return s, err
}

// path is where a dialing is dialed; the program's frames come when they came.
func (d *dialer) path(x *scenarios.Dialing, s encoder.Setup) (*encoder.Path, error) {
	on := dialedOn{x.Task, x.Setting, x.Phase}
	if p := d.paths[on]; p != nil {
		return p, nil
	}
	if d.Program.Frames > 0 {
		rig := *s.Rig
		rig.Program.Phase = encoder.PhaseAt(x.Phase)
		s.Rig = &rig
	}
	p, err := encoder.NewPath(s)
	if err != nil {
		return nil, err
	}
	if d.paths == nil {
		d.paths = map[dialedOn]*encoder.Path{}
	}
	d.paths[on] = p
	return p, nil
}

// grasp is a knob in the hands of people.
type grasp struct {
	setup encoder.Setup
	grip  *hand.Grip
	hand  hand.Hand
}

// grasp lets people find out about the knob of a dialing.
func (d *dialer) grasp(x *scenarios.Dialing, people *hand.People) (*grasp, error) {
	setup, err := d.setup(x)
	if err != nil {
		return nil, fmt.Errorf("setting %s: %w", x.Setting, err)
	}
	grip, err := hand.NewGrip(setup, people)
	if err != nil {
		return nil, fmt.Errorf("setting %s: %w", x.Setting, err)
	}
	return &grasp{setup, grip, hand.Hand{People: people}}, nil
}

// dial lets people of an operator dial every number so many times, and hands on what
// there is to see of it. Whoever does not get there is left out.
func (d *dialer) dial(ctx context.Context, o *scenarios.Operator, times int, use func(i int, w *watched)) error {
	people, err := hand.NewPeople(*o)
	if err != nil {
		return err
	}
	grasps := map[dialedOn]*grasp{}
	var w watched
	for i, x := range d.dialed {
		if err := ctx.Err(); err != nil {
			return err
		}
		on := dialedOn{task: x.Task, setting: x.Setting}
		g := grasps[on]
		if g == nil {
			if g, err = d.grasp(x, people); err != nil {
				return err
			}
			grasps[on] = g
		}
		path, err := d.path(x, g.setup)
		if err != nil {
			return err
		}
		task := d.Tasks[x.Task]
		run := hand.Dial{Path: path, Grip: g.grip, Scale: task.Scale, Tolerance: task.Tolerance, Limit: int64(scenarios.DefaultLimit)}
		for n := range times {
			source := draw.NewTrial(d.seed, "dialed", i*times+n)
			who := people.Draw(source)
			g.hand.Start(who, source)
			path.Start(source, x.Start)
			done := g.hand.Run(&run, who.Reaction, x.Start, x.Target)
			path.Finish()
			if err := path.Err(); err != nil {
				return err
			}
			if done.Timeout {
				continue
			}
			w = watched{task: task, plain: g.setup.Gain == nil, start: x.Start, target: x.Target, clicks: w.clicks[:0], shown: path.Changes(), end: done.At + who.Confirm}
			for _, d := range path.Detents() {
				w.clicks = append(w.clicks, scenarios.DialedClick{At: time.Duration(d.At), Clicks: int64(d.Dir)})
			}
			use(i, &w)
		}
	}
	return nil
}

// watch is a recorded dialing as it is measured.
func (d *dialer) watch(x *scenarios.Dialing) *watched {
	return &watched{
		task: d.Tasks[x.Task], plain: d.Settings[x.Setting].Acceleration.Plain(),
		start: x.Start, target: x.Target, clicks: x.Clicks, shown: x.Shown, end: int64(x.End),
	}
}
