package survey

import "dialwright/scenarios/sample"

// Report is a survey as it is written in JSON.
type Report struct {
	Population string            `json:"population"`
	Digest     string            `json:"digest"`
	Members    int               `json:"members"`
	Dead       int               `json:"dead_members"`
	Trials     int               `json:"trials_a_member"`
	Caps       Caps              `json:"caps"`
	Profiles   []CandidateReport `json:"profiles"`
	Ranking    []string          `json:"ranking"`
	Answer     string            `json:"answer"`
	Keys       []KeyReport       `json:"keys"`
	Fails      []string          `json:"fails"`
}

// CandidateReport is one candidate.
type CandidateReport struct {
	Name        string            `json:"name"`
	Mean        sample.Interval   `json:"mean_s"`
	Median      sample.Interval   `json:"median_s"`
	WorstTenth  float64           `json:"worst_tenth_s"`
	Within      sample.Interval   `json:"within_caps"`
	Best        float64           `json:"best_share"`
	Regret      sample.Interval   `json:"regret_s"`
	Regret95    float64           `json:"regret_p95_s"`
	AgainstBest *DifferenceReport `json:"against_winner,omitempty"`
	Stays       int               `json:"stays_plain_members"`
	Overshoot   float64           `json:"overshoot_share"`
	OverLow     float64           `json:"overshoot_low"`
	OverHigh    float64           `json:"overshoot_high"`
	Lost        *float64          `json:"lost_share"` // null without clicks that have a fate
	Timeouts    uint64            `json:"timeouts"`
	Trial       TrialReport       `json:"trial_s"`
}

// DifferenceReport is a mean difference over members, s.
type DifferenceReport struct {
	sample.Interval
	P float64 `json:"p"`
}

// TrialReport is all trials of a candidate; a quantile among timeouts is null.
type TrialReport struct {
	Trials uint64   `json:"trials"`
	Mean   float64  `json:"mean"`
	SD     float64  `json:"sd"`
	Median *float64 `json:"median"`
	P90    *float64 `json:"p90"`
	P95    *float64 `json:"p95"`
	P99    *float64 `json:"p99"`
}

// KeyReport is the regret over a key.
type KeyReport struct {
	Key    string        `json:"key"`
	Ranges []RangeReport `json:"ranges"`
}

// RangeReport is the regret in a range, by candidate.
type RangeReport struct {
	Range    string                     `json:"range"`
	Members  int                        `json:"members"`
	Quickest string                     `json:"quickest"`
	Gap      *DifferenceReport          `json:"winner_slower_s,omitempty"`
	Regret   map[string]sample.Interval `json:"regret_s"`
}

// Report returns the survey for JSON.
func (r *Result) Report() Report {
	h := &r.Part.Header
	out := Report{
		Population: h.Population, Digest: h.Digest, Members: r.Members, Dead: r.Dead, Trials: h.Trials, Caps: h.Caps,
		Answer: r.Sentence(), Keys: []KeyReport{}, Fails: []string{},
	}
	difference := func(d Difference) *DifferenceReport {
		return &DifferenceReport{sample.IntervalOf(d.Estimate), sample.Round(d.P)}
	}
	for c := range r.Candidates {
		x := &r.Candidates[c]
		t := x.Trial
		report := CandidateReport{
			Name: x.Name, Mean: sample.IntervalOf(x.Mean), Median: sample.IntervalOf(x.Median), WorstTenth: sample.Round(x.WorstTenth), Within: sample.IntervalOf(x.Within),
			Best: sample.Round(x.Best), Regret: sample.IntervalOf(x.Regret), Regret95: sample.Round(x.Regret95), Stays: x.Stays,
			Overshoot: sample.Round(x.Overshoot.Value), OverLow: sample.Round(x.Overshoot.Low), OverHigh: sample.Round(x.Overshoot.High), Lost: sample.Finite(x.Lost.Value), Timeouts: x.Timeouts,
			Trial: TrialReport{t.N, sample.Round(t.Mean), sample.Round(t.SD), sample.Finite(t.Median), sample.Finite(t.P90), sample.Finite(t.P95), sample.Finite(t.P99)},
		}
		if c != r.Judged {
			report.AgainstBest = difference(x.AgainstBest)
		}
		out.Profiles = append(out.Profiles, report)
	}
	for _, c := range r.Ranking {
		out.Ranking = append(out.Ranking, r.Candidates[c].Name)
	}
	for _, k := range r.Keys {
		key := KeyReport{Key: k.Key}
		for _, g := range k.Ranges {
			x := RangeReport{Range: g.Name, Members: g.Members, Quickest: r.Candidates[g.Quicker].Name, Regret: map[string]sample.Interval{}}
			if g.Quicker != r.Judged {
				x.Gap = difference(g.Gap)
			}
			for c, e := range g.Regret {
				x.Regret[r.Candidates[c].Name] = sample.IntervalOf(e)
			}
			key.Ranges = append(key.Ranges, x)
		}
		out.Keys = append(out.Keys, key)
	}
	for i := range r.Losses {
		out.Fails = append(out.Fails, r.lost(r.Losses[i]))
	}
	return out
}
