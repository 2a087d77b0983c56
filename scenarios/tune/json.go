package tune

import (
	"reflect"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/sample"
)

// Report is the result as it is written in JSON; names end in their unit, shares
// are 0 to 1.
type Report struct {
	Recommended  RecommendedReport   `json:"recommended"`
	Verdict      string              `json:"verdict"`
	MeetsCaps    bool                `json:"meets_caps"`
	OnlyHere     bool                `json:"only_here"`
	Dead         []DeadReport        `json:"dead,omitempty"`
	Before       ScoreReport         `json:"before"`
	After        ScoreReport         `json:"after"`
	Gain         sample.Interval     `json:"gain_s"`
	Front        []PointReport       `json:"front"`
	Changes      []ChangeReport      `json:"changes"`
	Unimportant  map[string][]string `json:"unimportant"`
	Sensitivity  []NeighborReport    `json:"sensitivity"`
	Robustness   []VariantReport     `json:"robustness"`
	MaxOvershoot float64             `json:"max_overshoot_share"`
	MaxLost      float64             `json:"max_lost_share"`
	For          Aim                 `json:"for"`
	Evaluations  int                 `json:"evaluations"`
	Trials       int                 `json:"trials"`
}

// DeadReport is a knob that was searched in vain.
type DeadReport struct {
	Knob   string `json:"knob"`
	Reason string `json:"reason"`
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
	Values      any    `json:"values"` // of the curve: see values
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

// ChangeReport is one thing changed by itself.
type ChangeReport struct {
	Knob      string          `json:"knob"`
	What      string          `json:"what"`
	Gain      sample.Interval `json:"gain_s"`
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
		Front: []PointReport{}, Changes: []ChangeReport{}, Unimportant: map[string][]string{}, Sensitivity: []NeighborReport{}, Robustness: []VariantReport{},
		MaxOvershoot: r.Study.MaxOvershoot, MaxLost: r.Study.MaxLost, For: r.Study.For, Evaluations: r.Evaluations, Trials: r.Trials,
	}
	for _, d := range r.Dead {
		out.Dead = append(out.Dead, DeadReport{d.Knob, d.Err.Error()})
	}
	for _, k := range r.Knobs {
		name := k.Knob.Name
		out.Recommended.Settings[name] = settingsOf(k.Chosen[0])
		for i, t := range k.Before {
			out.Recommended.Accelerations = append(out.Recommended.Accelerations, accelerationOf(name, t.Use.Task.Name, k.Chosen[i]))
			out.Before.Tasks = append(out.Before.Tasks, t.Report())
			out.After.Tasks = append(out.After.Tasks, k.After[i].Report())
		}
		for _, f := range k.Front {
			x := PointReport{Knob: name, Name: f.Name, TimeS: sample.Round(f.Seconds.Value), Overshoot: sample.Round(f.Overshoot), Lost: sample.Round(f.Lost), P: f.P, Settings: settingsOf(f.Profiles[0])}
			for _, p := range f.Profiles {
				x.About = append(x.About, p.About())
			}
			out.Front = append(out.Front, x)
		}
		for _, c := range k.Changes {
			out.Changes = append(out.Changes, ChangeReport{name, c.What, sample.IntervalOf(c.Gain.Mean), sample.Round(c.Overshoot), sample.Round(c.Lost)})
		}
		if len(k.Unimportant) > 0 {
			out.Unimportant[name] = k.Unimportant
		}
		for _, n := range k.Sensitivity {
			out.Sensitivity = append(out.Sensitivity, NeighborReport{name, n.Key, n.Value, sample.IntervalOf(n.Gain.Mean), sample.Round(n.Overshoot), sample.Round(n.Lost)})
		}
	}
	for _, v := range r.Robust {
		out.Robustness = append(out.Robustness, VariantReport{v.Name, scoreOf(v.Before), scoreOf(v.After), sample.IntervalOf(v.Gain.Mean)})
	}
	return out
}

func accelerationOf(knob, task string, p *scenarios.Profile) AccelerationReport {
	return AccelerationReport{Knob: knob, Task: task, Home: home(p.Home), Curve: accel.KindOf(p.Acceleration.Curve).Word, Values: values(p.Acceleration.Curve), PressCoarse: p.PressCoarse}
}

// values are the parameters of a curve by their words in a profile file, a rate with
// its unit.
func values(c accel.Curve) map[string]any {
	if c == nil {
		return nil
	}
	m := map[string]any{}
	kind := accel.KindOf(c)
	put := func(m map[string]any, p accel.Parameter, v float64) {
		word := p.Word
		if p.Quantity == accel.PerSecond {
			word += "_per_s"
		}
		m[word] = v
	}
	for _, p := range kind.Parameters {
		put(m, p, p.Of(c))
	}
	if kind.Rows != nil {
		rows := []map[string]any{}
		for _, r := range kind.Rows.Of(c) {
			row := map[string]any{}
			put(row, kind.Rows.Rate, r[0])
			put(row, kind.Rows.Gain, r[1])
			rows = append(rows, row)
		}
		m[kind.Rows.Word] = rows
	}
	return m
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
