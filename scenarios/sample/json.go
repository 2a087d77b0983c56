package sample

import (
	"math"

	"dialwright/scenarios/paired"
)

// Report is the trials of a use as they are written in JSON. Names end in their
// unit; shares are 0 to 1; a quantile among timeouts is null.
type Report struct {
	Task      string   `json:"task"`
	Knob      string   `json:"knob"`
	Rig       string   `json:"rig"`
	Stays     string   `json:"stays_plain_because,omitempty"`
	Trials    int      `json:"trials"`
	Timeouts  int      `json:"timeouts"`
	Time      Time     `json:"time_to_target_s"`
	Overshoot Share    `json:"overshoot"`
	Lost      *float64 `json:"lost_share"` // null where no click has a fate
}

// Time is the time to target, in seconds: the median with its 95 % interval.
type Time struct {
	Median *float64 `json:"median"`
	Low    *float64 `json:"low"`
	High   *float64 `json:"high"`
	P90    *float64 `json:"p90"`
	P95    *float64 `json:"p95"`
	Mean   float64  `json:"mean"`
}

// Share is the share of trials that overshot with its 95 % interval, and by how much
// one in ten of them did or more.
type Share struct {
	Share    float64 `json:"share"`
	Low      float64 `json:"low"`
	High     float64 `json:"high"`
	P90Steps float64 `json:"p90_steps"`
}

// Interval is a value with its 95 % interval.
type Interval struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// ScoreReport is a panel's score in JSON.
type ScoreReport struct {
	Time      Interval `json:"time_s"`
	Overshoot float64  `json:"overshoot_share"`
	Lost      float64  `json:"lost_share"`
}

// Report returns the trials for JSON.
func (t *Trials) Report() Report {
	s := t.Summary()
	r := Report{
		Task: t.Use.Task.Name, Knob: t.Use.Knob.Name, Rig: t.Use.Knob.Inner.Name, Trials: s.Trials, Timeouts: s.Timeouts,
		Time:      Time{Finite(s.Time.Value), Finite(s.Time.Low), Finite(s.Time.High), Finite(s.P90), Finite(s.P95), Round(s.Mean)},
		Overshoot: Share{Round(s.Overshoot.Value), Round(s.Overshoot.Low), Round(s.Overshoot.High), s.OvershootP90},
	}
	if s.Fated {
		r.Lost = Finite(s.Lost.Value)
	}
	if t.Stays != nil {
		r.Stays = t.Stays.Error()
	}
	return r
}

// Report returns the score for JSON.
func (s Score) Report() ScoreReport {
	return ScoreReport{IntervalOf(s.Seconds), Round(s.Overshoot), Round(s.Lost)}
}

// IntervalOf returns an estimate for JSON.
func IntervalOf(e paired.Estimate) Interval {
	return Interval{Round(e.Value), Round(e.Low), Round(e.High)}
}

// Round keeps six decimals, so that a last-bit difference between processors does
// not show.
func Round(x float64) float64 { return math.Round(x*1e6) / 1e6 }

// Finite returns a number for JSON, nil where it lies among timeouts.
func Finite(x float64) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	x = Round(x)
	return &x
}
