package compare

import (
	"math"

	"dialwright/scenarios"
)

// Report is the comparison as it is written in JSON. Names end in their unit;
// shares are 0 to 1; a quantile among timeouts is null.
type Report struct {
	Profiles []ProfileReport `json:"profiles"`
	Ranking  []string        `json:"ranking"`
}

// ProfileReport is one candidate.
type ProfileReport struct {
	Name      string       `json:"name"`
	Rig       string       `json:"rig"`
	Operator  string       `json:"operator"`
	Tasks     []TaskReport `json:"tasks"`
	WeightedS float64      `json:"weighted_s"`
	Weighted  Interval     `json:"weighted"`
}

// TaskReport is one candidate on one task.
type TaskReport struct {
	Task      string          `json:"task"`
	Knob      string          `json:"knob"`
	Rig       string          `json:"rig"`
	Stays     string          `json:"stays_plain_because,omitempty"`
	Trials    int             `json:"trials"`
	Timeouts  int             `json:"timeouts"`
	Time      TimeReport      `json:"time_to_target_s"`
	Overshoot OvershootReport `json:"overshoot"`
	LostShare *float64        `json:"lost_share"`
	Against   *AgainstReport  `json:"against_first,omitempty"`
}

// TimeReport is the time to target, in seconds.
type TimeReport struct {
	Median *float64 `json:"median"`
	Low    *float64 `json:"low"`
	High   *float64 `json:"high"`
	P90    *float64 `json:"p90"`
	P95    *float64 `json:"p95"`
	Mean   float64  `json:"mean"`
}

// OvershootReport is the share of trials that overshot.
type OvershootReport struct {
	Share    float64 `json:"share"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	P90Steps float64 `json:"p90_steps"`
}

// AgainstReport is the paired difference to the first candidate.
type AgainstReport struct {
	TimeS          *float64 `json:"time_s"`
	Low            *float64 `json:"low"`
	High           *float64 `json:"high"`
	OvershootShare float64  `json:"overshoot_share"`
	P              float64  `json:"p"`
	Verdict        string   `json:"verdict"`
}

// Interval is a 95 % interval.
type Interval struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Report returns the comparison for JSON.
func (r *Result) Report() Report {
	var out Report
	for i, c := range r.Study.Candidates {
		o := r.Overall[i].Seconds
		p := ProfileReport{Name: c.Name, Rig: "", Operator: c.Operator.Name, WeightedS: round(o.Value), Weighted: Interval{round(o.Low), round(o.High)}}
		if c.Rig != nil {
			p.Rig = c.Rig.Name
		} else {
			p.Rig = "of the panel"
		}
		for j, u := range r.Uses {
			p.Tasks = append(p.Tasks, r.task(i, j, u))
		}
		out.Profiles = append(out.Profiles, p)
	}
	for _, i := range r.Ranking {
		out.Ranking = append(out.Ranking, r.Study.Candidates[i].Name)
	}
	return out
}

func (r *Result) task(i, j int, u scenarios.Served) TaskReport {
	c := r.Cells[i][j]
	t := TaskReport{
		Task: u.Task.Name, Knob: u.Knob.Name, Rig: r.rig(i, j), Trials: c.Trials, Timeouts: c.Timeouts,
		Time:      TimeReport{finite(c.Time.Value), finite(c.Time.Low), finite(c.Time.High), finite(c.P90), finite(c.P95), round(c.Mean)},
		Overshoot: OvershootReport{round(c.Overshoot.Value), round(c.Overshoot.Low), round(c.Overshoot.High), c.OvershootP90},
	}
	if c.Detents > 0 {
		t.LostShare = finite(c.LostShare.Value)
	}
	if c.Stays != nil {
		t.Stays = c.Stays.Error()
	}
	if v := c.AgainstFirst; v != nil {
		m := v.Time.Median
		t.Against = &AgainstReport{finite(m.Value), finite(m.Low), finite(m.High), round(v.Overshoot.Difference.Value), round(v.TimeP()), v.Sentence()}
	}
	return t
}

// finite returns a number for JSON, nil where it lies among timeouts.
func finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	x = round(x)
	return &x
}

// round keeps six decimals, so that a last-bit difference between processors does
// not show.
func round(x float64) float64 { return math.Round(x*1e6) / 1e6 }
