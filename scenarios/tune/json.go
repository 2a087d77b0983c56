package tune

import (
	"math"
	"reflect"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/compare"
	"dialwright/scenarios/paired"
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
	Gain         Interval            `json:"gain_s"`
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

// Interval is a value with its 95 % interval.
type Interval struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
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
	Values      any    `json:"values"` // of the curve; rates per second
	PressCoarse int64  `json:"press_coarse,omitempty"`
}

// ScoreReport is a panel with some settings.
type ScoreReport struct {
	Tasks     []compare.TaskReport `json:"tasks,omitempty"`
	WeightedS float64              `json:"weighted_s"`
	Weighted  compare.Interval     `json:"weighted"`
	Overshoot float64              `json:"overshoot_share"`
	Lost      float64              `json:"lost_share"`
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
	Knob      string   `json:"knob"`
	What      string   `json:"what"`
	Gain      Interval `json:"gain_s"`
	Overshoot float64  `json:"overshoot_share"`
	Lost      float64  `json:"lost_share"`
}

// NeighborReport is the choice with one value changed.
type NeighborReport struct {
	Knob      string   `json:"knob"`
	Key       string   `json:"key"`
	Value     string   `json:"value"`
	Gain      Interval `json:"gain_s"`
	Overshoot float64  `json:"overshoot_share"`
	Lost      float64  `json:"lost_share"`
}

// VariantReport is the recommendation elsewhere.
type VariantReport struct {
	Name   string      `json:"name"`
	Before ScoreReport `json:"before"`
	After  ScoreReport `json:"after"`
	Gain   Interval    `json:"gain_s"`
}

// Report returns the result for JSON.
func (r *Result) Report() Report {
	out := Report{
		Recommended: RecommendedReport{Changed: r.Changed(), Settings: map[string]map[string]string{}, Accelerations: []AccelerationReport{}},
		Verdict:     r.Verdict(), MeetsCaps: r.Meets, OnlyHere: r.OnlyHere,
		Before: scoreOf(r.Before), After: scoreOf(r.After), Gain: intervalOf(r.Gain.Mean),
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
			out.Before.Tasks = append(out.Before.Tasks, t.report())
			out.After.Tasks = append(out.After.Tasks, k.After[i].report())
		}
		for _, f := range k.Front {
			x := PointReport{Knob: name, Name: f.Name, TimeS: round(f.Seconds.Value), Overshoot: round(f.Overshoot), Lost: round(f.Lost), P: f.P, Settings: settingsOf(f.Profiles[0])}
			for _, p := range f.Profiles {
				x.About = append(x.About, p.About())
			}
			out.Front = append(out.Front, x)
		}
		for _, c := range k.Changes {
			out.Changes = append(out.Changes, ChangeReport{name, c.What, intervalOf(c.Gain.Mean), round(c.Overshoot), round(c.Lost)})
		}
		if len(k.Unimportant) > 0 {
			out.Unimportant[name] = k.Unimportant
		}
		for _, n := range k.Sensitivity {
			out.Sensitivity = append(out.Sensitivity, NeighborReport{name, n.Key, n.Value, intervalOf(n.Gain.Mean), round(n.Overshoot), round(n.Lost)})
		}
	}
	for _, v := range r.Robust {
		out.Robustness = append(out.Robustness, VariantReport{v.Name, scoreOf(v.Before), scoreOf(v.After), intervalOf(v.Gain.Mean)})
	}
	return out
}

// report returns a task as compare writes it.
func (t *TaskSample) report() compare.TaskReport {
	x := compare.TaskReport{Task: t.Use.Task.Name, Knob: t.Use.Knob.Name, Rig: t.Use.Knob.Inner.Name, Trials: len(t.Seconds)}
	n := 0
	for i, s := range t.Seconds {
		if math.IsInf(s, 1) {
			x.Timeouts++
		}
		if t.Overshot[i] {
			n++
		}
	}
	q := paired.QuantileInterval(t.Seconds, 0.5)
	x.Time = compare.TimeReport{Median: finite(q.Value), Low: finite(q.Low), High: finite(q.High),
		P90: finite(paired.Quantile(t.Seconds, 0.9)), P95: finite(paired.Quantile(t.Seconds, 0.95)),
		Mean: round(paired.MeanInterval(paired.Capped(t.Seconds, t.Limit)).Value)}
	o := paired.ShareInterval(n, len(t.Seconds))
	x.Overshoot = compare.OvershootReport{Share: round(o.Value), Low: round(o.Low), High: round(o.High)}
	if len(t.overshoots) > 0 {
		x.Overshoot.P90Steps = paired.Quantile(t.overshoots, 0.9)
	}
	if t.Detents > 0 {
		x.LostShare = finite(float64(t.Lost) / float64(t.Detents))
	}
	return x
}

func accelerationOf(knob, task string, p *scenarios.Profile) AccelerationReport {
	return AccelerationReport{Knob: knob, Task: task, Home: home(p.Home), Curve: scenarios.CurveName(p.Acceleration.Curve), Values: p.Acceleration.Curve, PressCoarse: p.PressCoarse}
}

func settingsOf(p *scenarios.Profile) map[string]string {
	m := map[string]string{}
	for _, s := range p.Settings {
		m[s.Key] = s.Value
	}
	return m
}

func scoreOf(s Score) ScoreReport {
	return ScoreReport{WeightedS: round(s.Seconds.Value), Weighted: compare.Interval{Low: round(s.Seconds.Low), High: round(s.Seconds.High)}, Overshoot: round(s.Overshoot), Lost: round(s.Lost)}
}

func intervalOf(e paired.Estimate) Interval {
	return Interval{round(e.Value), round(e.Low), round(e.High)}
}

func round(x float64) float64 { return math.Round(x*1e6) / 1e6 }

func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	x = round(x)
	return &x
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
