package workbench

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/sample"
)

// dealtDialings is how many dialings of each task a desk lays out; ours. It is more than
// anybody does in one sitting.
const dealtDialings = 200

// fastestRate is up to which rate a desk draws gains, detents a second; few hands flick
// faster.
const fastestRate = 60

// Desk is what the page must know of a panel before anybody has turned anything:
// which numbers there are, from where to where they are to be dialed, what may be
// changed, and what a detent counts at which rate. Names end in their unit, as in the
// JSON of the studies.
type Desk struct {
	Panel    string        `json:"panel"`
	Uses     []DeskUse     `json:"uses"`
	Rigs     []DeskRig     `json:"rigs"`
	Profiles []DeskProfile `json:"profiles"`
	Curves   []DeskCurve   `json:"curves"`
}

// DeskUse is a task on its knob.
type DeskUse struct {
	Task      string   `json:"task"`
	Title     string   `json:"title"`
	Knob      string   `json:"knob"`
	Rings     int      `json:"rings"`
	Rig       string   `json:"rig"` // of the only or the inner ring
	PerHour   float64  `json:"per_hour"`
	Unit      string   `json:"unit"`
	First     float64  `json:"first"`    // the number of index 0
	Step      float64  `json:"step"`     // from one index to the next; 0 where the numbers are named
	Decimals  int      `json:"decimals"` // that a number is shown with
	Names     []string `json:"names,omitempty"`
	Low       int64    `json:"low"`   // the first number, in steps from zero (encoder.Scale)
	Count     int64    `json:"count"` // of numbers
	Wrap      bool     `json:"wrap"`
	Tolerance int64    `json:"tolerance_steps"`
	LimitS    float64  `json:"limit_s"`
	// Dialings are start and target, as indexes: those of the trials from 0 on that
	// compare does with the same seed.
	Dialings [][2]int64 `json:"dialings"`
}

// DeskRig is a rig with what its owner can change.
type DeskRig struct {
	Name     string        `json:"name"`
	Output   string        `json:"output"`
	Detents  int           `json:"detents"`                // 0: smooth
	FramesS  *float64      `json:"frames_per_s,omitempty"` // nil: every step is applied as it comes, or the frames are a list
	LagMS    float64       `json:"lag_ms"`                 // of the display
	Settings []DeskSetting `json:"settings"`
	Homes    []string      `json:"homes"`
}

// DeskSetting is a setting, what it may be, and what it is.
type DeskSetting struct {
	Key     string   `json:"key"`
	About   string   `json:"about"`
	Now     string   `json:"now"`
	Choices []string `json:"choices"`
}

// DeskProfile is a profile as it is on the desk's first use.
type DeskProfile struct {
	Name     string            `json:"name"`
	About    string            `json:"about"`
	Home     string            `json:"home"`
	Settings map[string]string `json:"settings"`
	Fault    string            `json:"fault,omitempty"` // why it cannot be set there
	At       [][2]float64      `json:"at"`              // [detents per second, task steps per detent]
}

// DeskCurve is a kind of curve with the words of a profile file.
type DeskCurve struct {
	Word    string `json:"word"`
	Formula string `json:"formula"`
}

// DeskStudy lays a panel out. It is asked by the page alone: no command needs it.
type DeskStudy struct {
	Asked
	profiles []string
}

// NewDesk returns the question what lies on the demo's panel.
func NewDesk(l file.Loader) *DeskStudy { return &DeskStudy{Asked: NewAsked(l, 1)} }

// Flags are what can be asked.
func (d *DeskStudy) Flags() []Flag {
	return []Flag{
		d.panelFlag(), d.rigFlag("rig of every knob: a built-in name or a file"), d.taskFlag(), d.seedFlag(),
		{Name: "profile", Usage: "only this profile: a built-in name or a file (repeatable)", Value: &d.profiles, Words: d.Profiles.Names},
	}
}

// Check finds nothing wrong before a file is read.
func (d *DeskStudy) Check(args []string) error {
	if len(args) > 0 {
		return errors.New("desk takes no arguments")
	}
	return nil
}

// Run lays the panel out.
func (d *DeskStudy) Run(context.Context, []string, Progress) (*Outcome, error) {
	panel, err := d.loadPanel()
	faults := []error{err}
	if d.profiles == nil {
		d.profiles = d.Profiles.Names
	}
	var profiles []*scenarios.Profile
	for _, name := range d.profiles {
		p, err := d.Profile(name)
		faults = append(faults, err)
		profiles = append(profiles, p)
	}
	if err := errors.Join(faults...); err != nil {
		return nil, err
	}
	desk, err := deskOf(panel, profiles, d.Seed)
	if err != nil {
		return nil, err
	}
	return &Outcome{Header: d.Header("desk", false), Report: desk}, nil
}

func deskOf(p *scenarios.Panel, profiles []*scenarios.Profile, seed uint64) (*Desk, error) {
	d := &Desk{Panel: p.Name, Uses: []DeskUse{}, Rigs: []DeskRig{}, Profiles: []DeskProfile{}}
	seen := map[string]bool{}
	served := p.Served()
	for _, u := range served {
		d.Uses = append(d.Uses, useOf(u, seed))
		for _, r := range []*scenarios.Rig{u.Knob.Inner, u.Knob.Outer} {
			if r == nil || seen[r.Name] {
				continue
			}
			seen[r.Name] = true
			rig, err := deskRig(r)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", r.Name, err)
			}
			d.Rigs = append(d.Rigs, rig)
		}
	}
	if len(served) == 0 {
		return nil, fmt.Errorf("the panel %s has no tasks", scenarios.Shown(p.Name))
	}
	for _, profile := range profiles {
		x, err := profileOn(served[0], profile)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", profile.Name, err)
		}
		d.Profiles = append(d.Profiles, x)
	}
	for _, k := range accel.Curves() {
		d.Curves = append(d.Curves, DeskCurve{k.Word, k.Formula})
	}
	return d, nil
}

func useOf(u scenarios.Served, seed uint64) DeskUse {
	t := u.Task
	scale := t.Scale()
	x := DeskUse{
		Task: t.Name, Title: t.Title, Knob: u.Knob.Called(), Rings: u.Knob.Rings, Rig: u.Knob.Inner.Name, PerHour: u.PerHour, Unit: t.Unit,
		First: t.At(0).Float(), Low: scale.Low, Count: t.Count(), Wrap: t.Wrap,
		Tolerance: t.ToleranceSteps(), LimitS: sample.Round(cmp.Or(t.Limit, scenarios.DefaultLimit).Seconds()),
	}
	if t.Named == nil && len(t.Digits) == 0 {
		x.Step = (t.At(1) - t.At(0)).Float()
		for _, i := range []int64{0, 1} {
			if _, after, point := strings.Cut(t.At(i).String(), "."); point {
				x.Decimals = max(x.Decimals, len(after))
			}
		}
	} else {
		for i := range t.Count() {
			x.Names = append(x.Names, strings.TrimSuffix(t.Format(i), " "+t.Unit))
		}
	}
	for n := range dealtDialings {
		start, target := t.Draw(draw.NewTrial(seed, t.Name, n))
		x.Dialings = append(x.Dialings, [2]int64{start, target})
	}
	return x
}

func deskRig(r *scenarios.Rig) (DeskRig, error) {
	x := DeskRig{
		Name: r.Name, Output: r.Firmware.Output.String(), Detents: r.Knob.Detents,
		LagMS: float64(r.Display.Latency.Microseconds()) / 1000, Settings: []DeskSetting{}, Homes: []string{},
	}
	if r.Program.Sampling != encoder.Immediate && len(r.Program.FrameList) == 0 {
		x.FramesS = sample.Finite(float64(1e9) / float64(r.Program.Frames.Period()))
	}
	about := map[string]string{}
	for _, k := range scenarios.Describe() {
		about[k.Name] = k.About
	}
	for _, s := range r.Adjustable.Settings {
		choices, err := s.Choices()
		if err != nil {
			return x, err
		}
		x.Settings = append(x.Settings, DeskSetting{s.Key, about[s.Key], scenarios.Get(&r.Rig, s.Key), choices})
	}
	for _, h := range r.Adjustable.Homes {
		x.Homes = append(x.Homes, h.String())
	}
	return x, nil
}

func profileOn(u scenarios.Served, p *scenarios.Profile) (DeskProfile, error) {
	on := p.On(u.Knob.Name, u.Task.Name)
	x := DeskProfile{Name: p.Name, About: on.About(&u.Knob.Inner.Rig), Home: on.Home.String(), Settings: map[string]string{}, At: [][2]float64{}}
	for _, s := range on.Settings {
		x.Settings[s.Key] = s.Value
	}
	if _, err := scenarios.Apply(on, u.Knob.Inner.Rig); err != nil {
		x.Fault = err.Error()
	}
	gain, err := on.Acceleration.Compile()
	if err != nil {
		return x, err
	}
	for rate := range fastestRate + 1 {
		x.At = append(x.At, [2]float64{float64(rate), sample.Round(gain.At(float64(rate)))})
	}
	return x, nil
}
