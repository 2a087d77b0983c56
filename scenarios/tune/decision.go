package tune

import (
	"fmt"
	"math"
	"strings"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Page is what was decided.
func (d *Decision) Page() *columns.Page {
	p := &columns.Page{}
	p.Heading(asked[d.Question][0])
	p.Text(d.Answer())
	p.Text("")
	if d.Best >= 0 {
		var rows, byTask [][]string
		header := []string{"mean, s (overshoot, %)"}
		for _, i := range d.order() {
			a := d.Alternatives[i]
			rows = append(rows, []string{a.Name, fmt.Sprintf("%.2f", a.Seconds.Value), columns.Percent(a.Overshoot), columns.Percent(a.Lost), d.against(i)})
			header = append(header, a.Name)
		}
		p.Table([]string{"", "mean, s", "overshoot, %", "lost, %", "against the best, s"}, rows)
		p.Text("")
		for t, use := range d.Alternatives[d.Best].Sample {
			row := []string{use.Use.Name()}
			for _, i := range d.order() {
				one := d.Alternatives[i].Sample[t : t+1]
				seconds, overshoot, _ := one.Means()
				row = append(row, fmt.Sprintf("%.2f (%s)", seconds, columns.Percent(overshoot)))
			}
			byTask = append(byTask, row)
		}
		p.Table(header, byTask)
		p.Text("")
		p.Text("Each is set as suits it best:")
		for _, i := range d.order() {
			a := d.Alternatives[i]
			for n, k := range a.Knobs {
				for t, about := range d.settings(a, n) {
					if t == 0 || about != d.settings(a, n)[0] {
						name := k.Name
						if t > 0 {
							name += ", " + k.Tasks[t].Task.Name
						}
						p.Item(a.Name + ", " + name + ": " + about)
					}
				}
			}
		}
		p.Text("")
	}
	for _, s := range d.left() {
		p.Text(s)
	}
	p.Text(asked[d.Question][1])
	if d.Best >= 0 {
		p.Text(fmt.Sprintf("%d fresh trials a task, the same for all, seed %d; %d settings tried in %d trials. In brackets 95 %% intervals; differences by Holm over all pairs.", d.Study.Trials, d.Study.Seed, d.Evaluations, d.Trials))
	}
	return p
}

// settings say what is set on a knob of an alternative, task by task.
func (d *Decision) settings(a *Alternative, knob int) (list []string) {
	for _, p := range a.Profiles[knob] {
		list = append(list, p.About(&a.Knobs[knob].Inner.Rig))
	}
	return list
}

// order is the best alternative first, then the others as they are asked for; those
// that cannot be built, or were not finished, are not in it.
func (d *Decision) order() (list []int) {
	if d.Best >= 0 {
		list = append(list, d.Best)
	}
	for i, a := range d.Alternatives {
		if len(a.Sample) > 0 && i != d.Best {
			list = append(list, i)
		}
	}
	return list
}

// pair returns alternative i against the best, with its signs so.
func (d *Decision) pair(i int) (time, overshoot paired.Average) {
	for _, p := range d.Pairs {
		if p.A == i && p.B == d.Best {
			return p.Time, p.Overshoot
		}
		if p.B == i && p.A == d.Best {
			return opposite(p.Time), opposite(p.Overshoot)
		}
	}
	return
}

func opposite(a paired.Average) paired.Average {
	m := a.Mean
	a.Mean = paired.Estimate{Value: -m.Value, Low: -m.High, High: -m.Low}
	return a
}

func (d *Decision) against(i int) string {
	time, _ := d.pair(i)
	switch {
	case i == d.Best:
		return "–"
	case time.P >= 1-paired.Level:
		return "no difference found"
	}
	if math.Abs(time.Mean.Value) >= 20 {
		return sample.Signed(time.Mean, 1, 1)
	}
	return sample.Signed(time.Mean, 1, 2)
}

// Answer says in a few sentences what to take and by how much.
func (d *Decision) Answer() string {
	if d.Best < 0 {
		return "This cannot be answered here: there is no knob on which two of the alternatives can be built."
	}
	best := d.Alternatives[d.Best]
	s := fmt.Sprintf("%s: %.2f s a dialing, %.0f %% of the dialings overshoot.", capital(best.Name), best.Seconds.Value, 100*best.Overshoot)
	if !best.Meets {
		s += fmt.Sprintf(" None of the alternatives is within the caps (at most %.3g %% overshoot and %.3g %% lost clicks); of those beyond them it does best.", 100*d.Study.MaxOvershoot, 100*d.Study.MaxLost)
	}
	for _, i := range d.order()[1:] {
		a := d.Alternatives[i]
		time, overshoot := d.pair(i)
		found, more := time.P < 1-paired.Level, overshoot.P < 1-paired.Level
		s += " " + capital(a.Name) + ": "
		switch m := time.Mean; {
		case !found:
			s += "as quick, as far as can be told"
		case math.Abs(m.Value) < unnoticedShare*best.Seconds.Value:
			s += fmt.Sprintf("as quick, to %.1f %%", 100*unnoticedShare)
		case m.Value > 0:
			s += fmt.Sprintf("slower by %.2f s (%.2f to %.2f)", m.Value, m.Low, m.High)
		default:
			s += fmt.Sprintf("quicker by %.2f s (%.2f to %.2f)", -m.Value, -m.High, -m.Low)
		}
		switch m := overshoot.Mean; {
		case !more:
			s += ", no difference found in overshoot"
		case m.Value > 0:
			s += fmt.Sprintf(", overshoots %.0f points more often", 100*m.Value)
		default:
			s += fmt.Sprintf(", overshoots %.0f points less often", -100*m.Value)
		}
		if best.Meets && !a.Meets {
			s += ", beyond the caps"
		}
		s += "."
	}
	return s
}

// unfinished are the alternatives that an interruption has left out.
func (d *Decision) unfinished() (names []string) {
	for _, a := range d.Alternatives {
		if d.Partial && a.Cannot == "" && len(a.Sample) == 0 {
			names = append(names, a.Name)
		}
	}
	return names
}

// left says what could not be built where.
func (d *Decision) left() (list []string) {
	if names := d.unfinished(); names != nil {
		list = append(list, "Partial: interrupted before all were tuned; nothing is known of "+strings.Join(names, ", ")+".")
	}
	for _, a := range d.Alternatives {
		if a.Cannot != "" {
			list = append(list, fmt.Sprintf("%s cannot be built here: %s.", capital(a.Name), a.Cannot))
		}
	}
	for _, k := range d.Study.Panel.Knobs {
		because := map[string][]string{}
		var reasons []string
		for _, l := range d.LeftOut {
			if l.Knob == k.Name {
				if because[l.Because] == nil {
					reasons = append(reasons, l.Because)
				}
				because[l.Because] = append(because[l.Because], l.Alternative)
			}
		}
		for _, r := range reasons {
			what := strings.Join(because[r], ", ") + " cannot be built on it, "
			if len(because[r]) == d.possible() {
				what = ""
			}
			list = append(list, fmt.Sprintf("The %s knob is left out: %s%s.", k.Name, what, r))
		}
	}
	return list
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// DecisionReport is a decision as it is written in JSON.
type DecisionReport struct {
	Question     Question            `json:"decide"`
	Answer       string              `json:"answer"`
	Best         *string             `json:"best"` // null where nothing could be compared
	Alternatives []AlternativeReport `json:"alternatives"`
	Pairs        []DesignPairReport  `json:"pairs"`
	LeftOut      []string            `json:"left_out"`
	Unfinished   []string            `json:"unfinished,omitempty"` // alternatives, where the run was interrupted
	MaxOvershoot float64             `json:"max_overshoot_share"`
	MaxLost      float64             `json:"max_lost_share"`
	For          Aim                 `json:"for"`
	Evaluations  int                 `json:"evaluations"`
	Trials       int                 `json:"trials"`
}

// AlternativeReport is one of the answers.
type AlternativeReport struct {
	Name          string                       `json:"name"`
	Cannot        string                       `json:"cannot_be_built_because,omitempty"`
	MeetsCaps     bool                         `json:"meets_caps"`
	Tasks         []sample.Report              `json:"tasks"`
	WeightedS     *float64                     `json:"weighted_s"`
	Weighted      *sample.Interval             `json:"weighted"`
	Overshoot     *float64                     `json:"overshoot_share"`
	Lost          *float64                     `json:"lost_share"`
	Settings      map[string]map[string]string `json:"settings"`
	Accelerations []AccelerationReport         `json:"accelerations"`
}

// DesignPairReport is one alternative less another one, on the same people.
type DesignPairReport struct {
	A          string          `json:"a"`
	B          string          `json:"b"`
	Time       sample.Interval `json:"time_s"`
	TimeP      float64         `json:"time_p"` // Holm over all pairs
	Overshoot  sample.Interval `json:"overshoot_share"`
	OvershootP float64         `json:"overshoot_p"`
}

// Report returns the decision for JSON.
func (d *Decision) Report() DecisionReport {
	out := DecisionReport{Question: d.Question, Answer: d.Answer(), Alternatives: []AlternativeReport{}, Pairs: []DesignPairReport{}, LeftOut: append([]string{}, d.left()...), Unfinished: d.unfinished(),
		MaxOvershoot: d.Study.MaxOvershoot, MaxLost: d.Study.MaxLost, For: d.Study.For, Evaluations: d.Evaluations, Trials: d.Trials}
	if d.Best >= 0 {
		out.Best = &d.Alternatives[d.Best].Name
	}
	for _, a := range d.Alternatives {
		x := AlternativeReport{Name: a.Name, Cannot: a.Cannot, MeetsCaps: a.Meets, Tasks: []sample.Report{}, Settings: map[string]map[string]string{}, Accelerations: []AccelerationReport{}}
		if len(a.Sample) > 0 {
			s := scoreOf(a.Score)
			x.WeightedS, x.Weighted, x.Overshoot, x.Lost = &s.WeightedS, &s.Weighted, &s.Overshoot, &s.Lost
		}
		for _, t := range a.Sample {
			x.Tasks = append(x.Tasks, t.Report())
		}
		for n, k := range a.Knobs {
			x.Settings[k.Name] = settingsOf(a.Profiles[n][0])
			for i, p := range a.Profiles[n] {
				x.Accelerations = append(x.Accelerations, accelerationOf(k.Name, k.Tasks[i].Task.Name, p))
			}
		}
		out.Alternatives = append(out.Alternatives, x)
	}
	tidy := func(p float64) float64 { return math.Min(1, sample.Round(p)) }
	for _, p := range d.Pairs {
		out.Pairs = append(out.Pairs, DesignPairReport{d.Alternatives[p.A].Name, d.Alternatives[p.B].Name, sample.IntervalOf(p.Time.Mean), tidy(p.Time.P), sample.IntervalOf(p.Overshoot.Mean), tidy(p.Overshoot.P)})
	}
	return out
}
