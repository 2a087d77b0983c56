package fit

import "dialwright/scenarios/sample"

// Report is what was found as it is written in JSON; names end in their unit, shares
// are 0 to 1.
type Report struct {
	Rig      map[string]ValueReport `json:"rig"`
	Operator map[string]ValueReport `json:"operator"`
	Replay   *ReplayReport          `json:"replay"`
	Lost     []LossReport           `json:"lost"`
	Contacts *ContactsReport        `json:"contacts,omitempty"`
	Counts   *CountsReport          `json:"counts,omitempty"`
	Dialed   *DialedReport          `json:"dialed,omitempty"`
	Notes    []string               `json:"notes"`
}

// ValueReport is a value with its interval, or "unknown" and why.
type ValueReport struct {
	Value any      `json:"value"`
	Low   *float64 `json:"low,omitempty"`
	High  *float64 `json:"high,omitempty"`
	Why   string   `json:"why"`
}

// ReplayReport is how replays compare with the recording. What was not compared is
// null.
type ReplayReport struct {
	KS             *float64 `json:"ks"`
	P              *float64 `json:"p"`
	Verdict        string   `json:"verdict"`
	Holds          bool     `json:"holds"`
	Intervals      int      `json:"intervals"`
	Replays        int      `json:"replays"`
	LostShare      *float64 `json:"lost_share"` // in the recording; null where it is not known
	SimulatedShare *float64 `json:"simulated_lost_share"`
	SimulatedLow   *float64 `json:"simulated_lost_low"`
	SimulatedHigh  *float64 `json:"simulated_lost_high"`
}

// LossReport is a turn whose clicks are known.
type LossReport struct {
	Turn    string   `json:"turn"`
	Rate    *float64 `json:"rate_per_s"`
	Turned  int      `json:"turned"`
	Assumed bool     `json:"turned_assumed"`
	Seen    int      `json:"seen"`
	Share   *float64 `json:"lost_share"` // null where more was seen than turned
	LowLost *float64 `json:"low"`
	High    *float64 `json:"high"`
}

// ContactsReport is what a trace of contacts says.
type ContactsReport struct {
	Edges    int      `json:"quarter_steps"`
	Glitches int      `json:"glitches"`
	Fastest  *float64 `json:"fastest_state_ms"`
	Scan     *float64 `json:"scan_ms"` // null: none would be enough, or none can be told
	Debounce *int     `json:"debounce"`
}

// CountsReport is what count tests say.
type CountsReport struct {
	Counts   []CountReport  `json:"counts"`
	Explains bool           `json:"explains"`
	Nothing  bool           `json:"nothing_lost"`
	Links    []BlamedReport `json:"links"`
	Paths    []PathReport   `json:"paths"`
	Next     *NextReport    `json:"next"`
}

// CountReport is a count test.
type CountReport struct {
	Turned int     `json:"turned"`
	Over   float64 `json:"over_s"`
	Shown  int     `json:"shown"`
}

// BlamedReport is a link that may lose clicks.
type BlamedReport struct {
	Link  string  `json:"link"`
	First float64 `json:"loses_most_probability"`
	Share float64 `json:"lost_share"`
}

// PathReport is a rig that explains the counts.
type PathReport struct {
	Link   string    `json:"link"`
	Rig    string    `json:"rig"`
	Weight float64   `json:"weight"`
	Shows  []float64 `json:"shows"`
}

// NextReport is what to count next.
type NextReport struct {
	Turned int                `json:"turned"`
	Over   float64            `json:"over_s"`
	Bits   float64            `json:"bits"`
	Shows  map[string]float64 `json:"shows"`
}

// DialedReport is how well the person who is fitted to dialings predicts them.
type DialedReport struct {
	Used        int                `json:"dialings"`
	Pairs       int                `json:"pairs"`
	Practice    int                `json:"practice"`
	Wrong       int                `json:"wrong"`
	GaveUp      int                `json:"gave_up"`
	Away        int                `json:"away"`
	Predictions []PredictionReport `json:"predictions"`
	Verdict     string             `json:"verdict"`
}

// PredictionReport is an average: as it was, as it is predicted of each half from the
// other, how far that is off, and as the person dials it who is fitted to all.
type PredictionReport struct {
	What      string          `json:"what"` // time_s or overshoot_share
	Setting   string          `json:"setting"`
	Dialings  int             `json:"dialings"` // pairs of a difference
	Measured  sample.Interval `json:"measured"`
	Predicted sample.Interval `json:"predicted"`
	Off       sample.Interval `json:"off"`
	Fitted    sample.Interval `json:"fitted"`
	Missed    bool            `json:"missed"`
}

func (d *Dialed) report() *DialedReport {
	x := &DialedReport{d.Used, d.Pairs, d.Practice, d.Wrong, d.GaveUp, d.Away, []PredictionReport{}, d.Verdict}
	for _, p := range d.Predictions {
		x.Predictions = append(x.Predictions, PredictionReport{
			p.What, p.Setting, p.Dialings, sample.IntervalOf(p.Measured), sample.IntervalOf(p.Predicted), sample.IntervalOf(p.Off), sample.IntervalOf(p.Fitted), p.Missed,
		})
	}
	return x
}

// Report returns what was found for JSON.
func (r *Result) Report() Report {
	out := Report{Rig: r.Path.report(), Operator: r.Hand.report(), Lost: []LossReport{}, Notes: append([]string{}, r.Notes...)}
	if p := r.Replay; p != nil {
		x := &ReplayReport{Verdict: p.Verdict, Holds: p.Holds, Intervals: p.Intervals, Replays: p.Replays}
		if p.Replays > 0 {
			x.KS, x.P = sample.Finite(p.D), sample.Finite(p.P)
			if p.Turned > 0 {
				x.LostShare, x.SimulatedShare = sample.Finite(max(0, p.Lost)), sample.Finite(max(0, p.Simulated.Value))
				x.SimulatedLow, x.SimulatedHigh = sample.Finite(max(0, p.Simulated.Low)), sample.Finite(max(0, p.Simulated.High))
			}
		}
		out.Replay = x
	}
	for _, l := range r.Lost {
		x := LossReport{Turn: l.Turn, Turned: l.Turned, Assumed: l.Assumed, Seen: l.Seen}
		if l.Seen <= l.Turned {
			x.Share, x.LowLost, x.High = sample.Finite(l.Share), sample.Finite(l.Low), sample.Finite(l.High)
		}
		if l.PerS > 0 {
			x.Rate = sample.Finite(l.PerS)
		}
		out.Lost = append(out.Lost, x)
	}
	if c := r.Contacts; c != nil {
		x := &ContactsReport{Edges: c.Edges, Glitches: c.Glitches}
		if c.Fastest > 0 {
			x.Fastest = sample.Finite(float64(c.Fastest) / 1e6)
		}
		if c.Scan > 0 {
			x.Scan, x.Debounce = sample.Finite(float64(c.Scan)/1e6), &c.Debounce
		}
		out.Contacts = x
	}
	if r.Counts != nil {
		out.Counts = r.Counts.report()
	}
	if r.Dialed != nil {
		out.Dialed = r.Dialed.report()
	}
	return out
}

func (t *CountTest) report() *CountsReport {
	x := &CountsReport{Counts: []CountReport{}, Explains: t.Explains, Nothing: t.Nothing, Links: []BlamedReport{}, Paths: []PathReport{}}
	for _, c := range t.Counts {
		x.Counts = append(x.Counts, CountReport{c.Turned, sample.Round(c.Over.Seconds()), c.Shown})
	}
	for _, b := range t.Links {
		x.Links = append(x.Links, BlamedReport{b.Link.String(), sample.Round(b.First), sample.Round(b.Share)})
	}
	for _, p := range t.Paths {
		if p.Loses {
			x.Paths = append(x.Paths, PathReport{p.Link.String(), p.about(), sample.Round(p.Weight), p.Shows})
		}
	}
	if n := t.Next; n != nil {
		x.Next = &NextReport{n.Turned, sample.Round(n.Over.Seconds()), sample.Round(n.Bits), map[string]float64{}}
		for _, s := range n.Shows {
			x.Next.Shows[s.Link.String()] = sample.Round(s.Steps)
		}
	}
	return x
}

// report returns values by their names, which end in their units.
func (vs Values) report() map[string]ValueReport {
	m := map[string]ValueReport{}
	for _, v := range vs {
		name := v.Key
		if v.Unit != "" && v.Unit != "detents" {
			name += "_" + v.Unit
		}
		x := ValueReport{Value: "unknown", Why: v.Why}
		switch {
		case v.Known && v.Word != "":
			x.Value = v.Word
		case v.Known:
			x.Value = sample.Round(v.Value)
		}
		if v.Word == "" && (v.Known || v.Low != v.High) {
			x.Low, x.High = sample.Finite(v.Low), sample.Finite(v.High)
		}
		m[name] = x
	}
	return m
}
