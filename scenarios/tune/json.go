package tune

import (
	"cmp"
	"reflect"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/sample"
)

// Report is the result as it is written in JSON; names end in their unit, shares
// are 0 to 1.
type Report struct {
	Recommended  RecommendedReport   `json:"recommended"`
	Verdict      string              `json:"verdict"`
	Dead         []DeadReport        `json:"dead,omitempty"`
	Instead      []InsteadReport     `json:"compared_with,omitempty"`
	MeetsCaps    bool                `json:"meets_caps"`
	OnlyHere     bool                `json:"only_here"`
	Before       ScoreReport         `json:"before"`
	After        ScoreReport         `json:"after"`
	Gain         sample.Interval     `json:"gain_s"`
	Front        []PointReport       `json:"front"`
	Caps         []CapReport         `json:"caps"`
	TradeOff     []TradeReport       `json:"trade_off"`
	Many         []SuitedReport      `json:"combinations,omitempty"`
	Was          *ScoreReport        `json:"was,omitempty"`
	Left         []LeftReport        `json:"after_a_change,omitempty"` // of hardware: what of the settings in use holds
	Changes      []ChangeReport      `json:"changes"`
	Unimportant  map[string][]string `json:"unimportant"`
	Sensitivity  []NeighborReport    `json:"sensitivity"`
	Robustness   []VariantReport     `json:"robustness"`
	MaxOvershoot float64             `json:"max_overshoot_share"`
	MaxLost      float64             `json:"max_lost_share"`
	CapsOf       Caps                `json:"caps_of"`
	For          Aim                 `json:"for"`
	Evaluations  int                 `json:"evaluations"`
	Trials       int                 `json:"trials"`
}

// DeadReport is a knob that was searched in vain.
type DeadReport struct {
	Knob   string `json:"knob"`
	Reason string `json:"reason"`
}

// InsteadReport is a knob that is compared with other settings than those of now.
type InsteadReport struct {
	Knob     string            `json:"knob"`
	Settings map[string]string `json:"settings"`
	Reason   string            `json:"reason"` // why those of now cannot be tried
}

// RecommendedReport is what to set: settings by knob, accelerations by knob and
// task.
type RecommendedReport struct {
	Changed       bool                         `json:"changed"`
	Settings      map[string]map[string]string `json:"settings"`
	Accelerations []AccelerationReport         `json:"accelerations"`
}

// AccelerationReport is a task's acceleration.
type AccelerationReport struct {
	Knob        string `json:"knob"`
	Task        string `json:"task"`
	Home        string `json:"home"`
	Curve       string `json:"curve"`
	Values      any    `json:"values"` // of the curve, in the keys and units of a profile file
	PressCoarse int64  `json:"press_coarse,omitempty"`
}

// ScoreReport is a panel with some settings.
type ScoreReport struct {
	Tasks     []sample.Report `json:"tasks,omitempty"`
	WeightedS float64         `json:"weighted_s"`
	Weighted  sample.Interval `json:"weighted"`
	Overshoot float64         `json:"overshoot_share"`
	Lost      float64         `json:"lost_share"`
}

// PointReport is a point of a knob's front.
type PointReport struct {
	Knob      string            `json:"knob"`
	Name      string            `json:"name"`
	TimeS     float64           `json:"time_s"`
	Overshoot float64           `json:"overshoot_share"`
	Lost      float64           `json:"lost_share"`
	P         float64           `json:"p"`
	Settings  map[string]string `json:"settings"`
	About     []string          `json:"about"` // by task
}

// TradeReport is the least time that was found for a task at levels of overshoot.
type TradeReport struct {
	Knob   string        `json:"knob"`
	Task   string        `json:"task"`
	Levels []LevelReport `json:"levels"`
}

// LevelReport is a level of overshoot; all else is null where nothing was found at it.
type LevelReport struct {
	Most      float64           `json:"max_overshoot_share"`
	TimeS     *float64          `json:"time_s"`
	Overshoot *float64          `json:"overshoot_share"`
	Settings  map[string]string `json:"settings"`
	Curve     string            `json:"curve,omitempty"`
	Values    any               `json:"values,omitempty"`
}

// SuitedReport is how the settings suit one of several rigs and people.
type SuitedReport struct {
	Name    string      `json:"name"`
	Before  ScoreReport `json:"before"`
	After   ScoreReport `json:"after"`
	Own     ScoreReport `json:"own"`
	RegretS float64     `json:"regret_s"`
}

// ChangeReport is one thing changed by itself.
type ChangeReport struct {
	Knob      string          `json:"knob"`
	What      string          `json:"what"`
	Gain      sample.Interval `json:"gain_s"`
	Left      sample.Interval `json:"left_costs_s"` // the choice with this alone as it is now, against the choice
	Overshoot float64         `json:"overshoot_share"`
	Lost      float64         `json:"lost_share"`
}

// NeighborReport is the choice with one value changed.
type NeighborReport struct {
	Knob      string          `json:"knob"`
	Key       string          `json:"key"`
	Value     string          `json:"value"`
	Gain      sample.Interval `json:"gain_s"`
	Overshoot float64         `json:"overshoot_share"`
	Lost      float64         `json:"lost_share"`
}

// VariantReport is the recommendation elsewhere.
type VariantReport struct {
	Name   string          `json:"name"`
	Cannot string          `json:"cannot_be_tried_because,omitempty"` // then the rest is zero
	Before ScoreReport     `json:"before"`
	After  ScoreReport     `json:"after"`
	Gain   sample.Interval `json:"gain_s"`
}

// Report returns the result for JSON.
func (r *Result) Report() Report {
	out := Report{
		Recommended: RecommendedReport{Changed: r.Changed(), Settings: map[string]map[string]string{}, Accelerations: []AccelerationReport{}},
		Verdict:     r.Verdict(), MeetsCaps: r.Meets, OnlyHere: r.OnlyHere,
		Before: scoreOf(r.Before), After: scoreOf(r.After), Gain: sample.IntervalOf(r.Gain.Mean),
		Front: []PointReport{}, Caps: r.caps(), TradeOff: []TradeReport{}, Changes: []ChangeReport{}, Unimportant: map[string][]string{}, Sensitivity: []NeighborReport{}, Robustness: []VariantReport{},
		MaxOvershoot: r.Study.MaxOvershoot, MaxLost: r.Study.MaxLost, For: r.Study.For, Evaluations: r.Evaluations, Trials: r.Trials,
	}
	for _, d := range r.Dead {
		out.Dead = append(out.Dead, DeadReport{d.Knob, d.Err.Error()})
	}
	for _, i := range r.Instead {
		out.Instead = append(out.Instead, InsteadReport{i.Knob, settingsOf(&scenarios.Profile{Settings: i.Settings}), i.Err.Error()})
	}
	out.CapsOf = cmp.Or(r.Study.Caps, Each)
	if r.Was != nil {
		was := scoreOf(*r.Was)
		out.Was, out.Left = &was, r.leftReport()
	}
	for _, x := range r.Many {
		out.Many = append(out.Many, SuitedReport{x.Name, scoreOf(x.Before), scoreOf(x.After), scoreOf(x.Own), sample.Round(x.After.Seconds.Value - x.Own.Seconds.Value)})
	}
	for _, k := range r.Knobs {
		name := k.Knob.Name
		for i, levels := range k.Levels {
			t := TradeReport{Knob: name, Task: k.Before[i].Use.Task.Name}
			for _, l := range levels {
				t.Levels = append(t.Levels, l.report())
			}
			if k.Front != nil { // of the first combination
				out.TradeOff = append(out.TradeOff, t)
			}
		}
		out.Recommended.Settings[name] = settingsOf(k.Chosen[0])
		for i, t := range k.Before {
			out.Recommended.Accelerations = append(out.Recommended.Accelerations, accelerationOf(name, t.Use.Task.Name, k.Chosen[i]))
			out.Before.Tasks = append(out.Before.Tasks, t.Report())
			out.After.Tasks = append(out.After.Tasks, k.After[i].Report())
		}
		for _, f := range k.Front {
			x := PointReport{Knob: name, Name: f.Name, TimeS: sample.Round(f.Seconds.Value), Overshoot: sample.Round(f.Overshoot), Lost: sample.Round(f.Lost), P: f.P, Settings: settingsOf(f.Profiles[0])}
			for _, p := range f.Profiles {
				x.About = append(x.About, p.About(&k.Knob.Inner.Rig))
			}
			out.Front = append(out.Front, x)
		}
		for _, c := range k.Changes {
			out.Changes = append(out.Changes, ChangeReport{name, c.What, sample.IntervalOf(c.Gain.Mean), sample.IntervalOf(c.Left.Mean), sample.Round(c.Overshoot), sample.Round(c.Lost)})
		}
		if len(k.Unimportant) > 0 {
			out.Unimportant[name] = k.Unimportant
		}
		for _, n := range k.Sensitivity {
			out.Sensitivity = append(out.Sensitivity, NeighborReport{name, n.Key, n.Value, sample.IntervalOf(n.Gain.Mean), sample.Round(n.Overshoot), sample.Round(n.Lost)})
		}
	}
	for _, v := range r.Robust {
		if v.Cannot != nil {
			out.Robustness = append(out.Robustness, VariantReport{Name: v.Name, Cannot: v.Cannot.Error()})
			continue
		}
		out.Robustness = append(out.Robustness, VariantReport{v.Name, "", scoreOf(v.Before), scoreOf(v.After), sample.IntervalOf(v.Gain.Mean)})
	}
	return out
}

func (l Level) report() LevelReport {
	x := LevelReport{Most: l.Most}
	if l.Profile != nil {
		x.TimeS, x.Overshoot, x.Settings = sample.Finite(l.Seconds), sample.Finite(l.Overshoot), settingsOf(l.Profile)
		x.Curve, x.Values = accel.KindOf(l.Profile.Acceleration.Curve).Word, values(l.Profile)
	}
	return x
}

func accelerationOf(knob, task string, p *scenarios.Profile) AccelerationReport {
	return AccelerationReport{Knob: knob, Task: task, Home: home(p.Home), Curve: accel.KindOf(p.Acceleration.Curve).Word, Values: values(p), PressCoarse: p.PressCoarse}
}

// values are the numbers of a curve as a profile file writes them.
func values(p *scenarios.Profile) any {
	document, err := file.Tree(&scenarios.Profile{Acceleration: p.Acceleration})
	if err != nil || p.Acceleration.Curve == nil {
		return nil
	}
	var whole struct {
		Acceleration struct {
			Curve map[string]any `yaml:"curve"`
		} `yaml:"acceleration"`
	}
	if err := document.Decode(&whole); err != nil {
		return nil
	}
	return whole.Acceleration.Curve[accel.KindOf(p.Acceleration.Curve).Word]
}

func settingsOf(p *scenarios.Profile) map[string]string {
	m := map[string]string{}
	for _, s := range p.Settings {
		m[s.Key] = s.Value
	}
	return m
}

func scoreOf(s sample.Score) ScoreReport {
	x := s.Report()
	return ScoreReport{WeightedS: x.Time.Value, Weighted: x.Time, Overshoot: x.Overshoot, Lost: x.Lost}
}

func home(h scenarios.Home) string {
	if h == encoder.InFirmware {
		return "firmware"
	}
	return "program"
}

// same says whether two profiles do the same.
func same(a, b *scenarios.Profile) bool {
	return a.Home == b.Home && a.PressCoarse == b.PressCoarse && reflect.DeepEqual(a.Acceleration, b.Acceleration) && reflect.DeepEqual(a.Settings, b.Settings)
}
