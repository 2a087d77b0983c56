package compare

import (
	"strings"

	"dialwright/scenarios/sample"
)

// Report is the comparison as it is written in JSON.
type Report struct {
	Profiles []ProfileReport `json:"profiles"`
	Ranking  []string        `json:"ranking"`
}

// ProfileReport is one candidate.
type ProfileReport struct {
	Name      string          `json:"name"`
	Rig       string          `json:"rig"`
	Operator  string          `json:"operator"`
	Tasks     []TaskReport    `json:"tasks"`
	WeightedS float64         `json:"weighted_s"`
	Weighted  sample.Interval `json:"weighted"`
}

// TaskReport is one candidate on one task.
type TaskReport struct {
	sample.Report
	Against *AgainstReport `json:"against_first,omitempty"`
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

// Report returns the comparison for JSON.
func (r *Result) Report() Report {
	var out Report
	for i, c := range r.Study.Candidates {
		weighted := sample.IntervalOf(r.Overall[i].Seconds)
		p := ProfileReport{Name: c.Name, Rig: "of the panel", Operator: c.Operator.Name, WeightedS: weighted.Value, Weighted: weighted}
		if c.Rig != nil {
			p.Rig = c.Rig.Name
		}
		for j, t := range r.Trials[i] {
			x := TaskReport{Report: t.Report()}
			if v := r.Against[i][j]; v != nil {
				m := v.Time.Median
				x.Against = &AgainstReport{
					sample.Finite(m.Value), sample.Finite(m.Low), sample.Finite(m.High),
					sample.Round(v.Overshoot.Difference.Value), sample.Round(v.TimeP()), strings.ReplaceAll(v.Sentence(), "−", "-"),
				}
			}
			p.Tasks = append(p.Tasks, x)
		}
		out.Profiles = append(out.Profiles, p)
	}
	for _, i := range r.Ranking {
		out.Ranking = append(out.Ranking, r.Study.Candidates[i].Name)
	}
	return out
}
