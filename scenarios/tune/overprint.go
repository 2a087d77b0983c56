package tune

import (
	"fmt"
	"strings"

	"dialwright/accel"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/survey"
)

// OverReport is a search over a population as it is written in JSON; names end in their
// unit, shares are 0 to 1.
type OverReport struct {
	Population   string          `json:"population"`
	Recommended  DefaultReport   `json:"recommended"`
	Verdict      string          `json:"verdict"`
	MeetsCaps    bool            `json:"meets_caps"` // as far as the proof tells
	MaxOvershoot float64         `json:"max_overshoot_share"`
	MaxLost      float64         `json:"max_lost_share"`
	For          Aim             `json:"for"`
	Searched     []string        `json:"searched"` // keys
	TradeOff     []LevelReport   `json:"trade_off"`
	Proof        survey.Report   `json:"proof"`
	Gain         sample.Interval `json:"gain_s"` // against the quickest other candidate
	Evaluations  int             `json:"evaluations"`
	Trials       int             `json:"trials"`
}

// DefaultReport is the profile that is recommended for a population.
type DefaultReport struct {
	Profile     string            `json:"profile"` // its name in the proof
	Own         bool              `json:"own"`     // it is one of the population's own
	Settings    map[string]string `json:"settings"`
	Home        string            `json:"home"`
	Curve       string            `json:"curve"`
	Values      any               `json:"values"` // of the curve, in the keys and units of a profile file
	PressCoarse int64             `json:"press_coarse,omitempty"`
}

// judged is what the recommended profile came to.
func (r *OverResult) judged() *survey.Candidate { return &r.Proof.Candidates[r.Proof.Judged] }

// other is the quickest other candidate, nil without any, and what the recommended one
// takes less than it.
func (r *OverResult) other() (*survey.Candidate, survey.Difference) {
	for _, c := range r.Proof.Ranking {
		if x := &r.Proof.Candidates[c]; c != r.Proof.Judged {
			return x, x.AgainstBest
		}
	}
	return nil, survey.Difference{P: 1}
}

// Meets says whether the proof is within the caps, as far as it tells.
func (r *OverResult) Meets() bool {
	x := r.judged()
	return x.Overshoot.Low <= r.Over.MaxOvershoot && !(x.Lost.Low > r.Over.MaxLost)
}

// Verdict says the result in a few sentences.
func (r *OverResult) Verdict() string {
	x := r.judged()
	s := fmt.Sprintf("%s takes %s s a dialing on average over %s", r.Profile.Name, sample.Seconds(x.Mean), r.Proof.Part.Population)
	switch o, d := r.other(); {
	case o == nil:
		s += "."
	case d.Found() && d.Value > 0:
		s += fmt.Sprintf(", %.1f s (%.1f to %.1f) less than the next, %s.", d.Value, d.Low, d.High, o.Name)
	case d.Found():
		s += fmt.Sprintf("; %s is quicker by %.1f s (%.1f to %.1f), but %s.", o.Name, -d.Value, -d.High, -d.Low, r.but(o))
	default:
		s += fmt.Sprintf("; no difference to the next, %s, was found.", o.Name)
	}
	if r.Listed {
		s += " It is one of the population's own: nothing that was searched is better."
	}
	s += fmt.Sprintf(" The slowest tenth of members need %.1f s; the best candidate for a member would save %.1f s.", x.WorstTenth, x.Regret.Value)
	return s
}

// but says why a quicker candidate is not recommended.
func (r *OverResult) but(o *survey.Candidate) string {
	switch {
	case o.Overshoot.Value > r.Most:
		return fmt.Sprintf("%.0f %% of its dialings overshoot", 100*o.Overshoot.Value)
	case o.Lost.Value > r.Lost:
		return fmt.Sprintf("%.0f %% of its clicks are lost", 100*o.Lost.Value)
	case r.Over.For == Worst:
		return fmt.Sprintf("its slowest tenth need %.1f s", o.WorstTenth)
	}
	return "it was not within the caps, or no better, among the members of the search"
}

// caps say what overshoots and is lost, and whether that is within the caps.
func (r *OverResult) caps() string {
	x := r.judged()
	said := func(what string, e paired.Estimate, most, asked float64) string {
		s := fmt.Sprintf("%.0f %% (%.0f to %.0f) %s, ", 100*e.Value, 100*e.Low, 100*e.High, what)
		if asked > most {
			return s + fmt.Sprintf("the least that was found (the cap is %s %%)", columns.Percent(most))
		}
		return s + fmt.Sprintf("%s of %s %%", Claim{Overshoot: e, Cap: most}.Outcome(), columns.Percent(most))
	}
	s := said("of dialings overshoot", x.Overshoot, r.Over.MaxOvershoot, r.Most)
	if x.Lost.Value == x.Lost.Value { // there are clicks with a fate
		s += "; " + said("of clicks are lost", x.Lost, r.Over.MaxLost, r.Lost)
	}
	return s + fmt.Sprintf(". Both caps hold on the rigs of %.0f %% of members (%.0f to %.0f).", 100*x.Within.Value, 100*x.Within.Low, 100*x.Within.High)
}

// settings say what to set.
func (r *OverResult) settings() (list []string) {
	for _, s := range r.Profile.Settings {
		list = append(list, s.Key+" "+s.Value)
	}
	if list != nil {
		list = []string{strings.Join(list, ", ") + ", where a rig uses it"}
	}
	switch p := r.Profile; {
	case !p.Acceleration.Plain():
		curve := *p
		curve.Settings = nil
		list = append(list, curve.About(nil))
	case p.PressCoarse == 0:
		list = append(list, "no acceleration")
	}
	if r.Profile.PressCoarse > 0 {
		list = append(list, fmt.Sprintf("a push switches to %d steps a click", r.Profile.PressCoarse))
	}
	return list
}

// tradeOff says what can be had at each level of overshoot.
func (r *OverResult) tradeOff() string {
	var said []string
	for _, l := range r.Levels {
		best := "nothing"
		if l.Profile != nil {
			best = fmt.Sprintf("%.1f s", l.Seconds)
		}
		said = append(said, fmt.Sprintf("≤ %.0f %% %s", 100*l.Most, best))
	}
	what := "mean"
	if r.Over.For == Worst {
		what = "mean of the slowest tenth"
	}
	return "Least " + what + " found with so many dialings that overshoot: " + strings.Join(said, ", ") + "."
}

// Page is what to set and what comes of it, in a few lines.
func (r *OverResult) Page() *columns.Page { return r.page(5, 2) }

// Detail has all candidates and every loss.
func (r *OverResult) Detail() *columns.Page {
	return r.page(len(r.Proof.Candidates), len(r.Proof.Losses))
}

func (r *OverResult) page(most, losses int) *columns.Page {
	p := &columns.Page{}
	p.Heading("What to set")
	p.Text(r.Verdict())
	p.Text(r.caps())
	for _, s := range r.settings() {
		p.Item(s)
	}
	p.Text("")
	shown := []int{r.Proof.Judged}
	for _, c := range r.Proof.Ranking {
		if c != r.Proof.Judged && len(shown) < most {
			shown = append(shown, c)
		}
	}
	p.Show(r.Proof.Table(shown))
	for _, s := range r.Proof.Fails(losses) {
		p.Item(s)
	}
	p.Text(r.tradeOff())
	if r.Partial {
		p.Text("Partial: interrupted; what stands here is proven, but the search did not end.")
	}
	searched := ""
	if r.Keys != nil {
		searched = ", also of " + strings.Join(r.Keys, ", ")
	}
	p.Text(fmt.Sprintf("%d profiles tried%s, in %d trials, seed %d; proved on %d fresh members, %d trials each. dialwright survey explains the columns.",
		r.Evaluations, searched, r.Trials, r.Over.Seed, r.Proof.Members, r.Over.Trials))
	return p
}

// Report returns the result for JSON.
func (r *OverResult) Report() OverReport {
	p := r.Profile
	out := OverReport{
		Population: r.Proof.Part.Population, Verdict: r.Verdict(), MeetsCaps: r.Meets(), MaxOvershoot: r.Over.MaxOvershoot, MaxLost: r.Over.MaxLost,
		For: r.Over.For, Searched: append([]string{}, r.Keys...), TradeOff: []LevelReport{}, Proof: r.Proof.Report(), Evaluations: r.Evaluations, Trials: r.Trials,
		Recommended: DefaultReport{
			Profile: p.Name, Own: r.Listed, Settings: settingsOf(p), Home: home(p.Home), Curve: accel.KindOf(p.Acceleration.Curve).Word,
			Values: values(p), PressCoarse: p.PressCoarse,
		},
	}
	out.Proof.Answer = out.Verdict
	if o, d := r.other(); o != nil {
		out.Gain = sample.IntervalOf(d.Negated())
	}
	for _, l := range r.Levels {
		out.TradeOff = append(out.TradeOff, l.report())
	}
	return out
}
