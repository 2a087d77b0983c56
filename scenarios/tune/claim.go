package tune

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
)

// Claim is what fresh people say about the cap on the overshoot of a use.
type Claim struct {
	Overshoot paired.Estimate // share of dialings
	Trials    int
	Cap       float64  // share
	Calmest   *Calmest // nothing that was tried is within the cap: this is what the calmest does; else nil
}

// Calmest is what taking the calmest settings for a use costs, among the people who
// chose them.
type Calmest struct {
	Slower float64 // than the quickest that was tried, s per dialing
	Past   float64 // share of dialings that overshoot with the quickest
}

// Outcome of a Claim.
const (
	Within = "within the cap" // the whole interval is
	At     = "at the cap"     // the interval holds the cap
	Above  = "above the cap"
)

// Outcome says where the interval lies.
func (c Claim) Outcome() string {
	switch {
	case c.Overshoot.High <= c.Cap:
		return Within
	case c.Overshoot.Low <= c.Cap:
		return At
	}
	return Above
}

// claims asks the proof's people whether each use is within the cap.
func (f *field) claims(proof *pool, x point) (list []Claim) {
	for i, t := range proof.of(x) {
		over, n := 0, 0
		for _, s := range t.sample {
			for _, past := range s.Past {
				if past > 0 {
					over++
				}
			}
			n += s.Len()
		}
		c := Claim{Overshoot: paired.ShareInterval(over, n), Trials: n, Cap: f.MaxOvershoot}
		if f.most[i] > f.MaxOvershoot && f.Caps != Whole {
			c.Calmest = f.calmestCosts(i, x)
		}
		list = append(list, c)
	}
	return list
}

// calmestCosts is what a point, whose overshoot is that of the calmest, costs a use.
func (f *field) calmestCosts(use int, x point) *Calmest {
	chosen := f.score(f.try(use, x[use]))
	quickest := chosen
	for _, t := range f.order {
		if sc := f.score(t); t.use == use && sc.trials >= contestTrials && sc.lost <= f.lost[use] && sc.seconds < quickest.seconds {
			quickest = sc
		}
	}
	return &Calmest{chosen.seconds - quickest.seconds, quickest.overshoot}
}

// CapReport says whether the cap on overshoot holds for a task.
type CapReport struct {
	Knob        string          `json:"knob"`
	Task        string          `json:"task"`
	Combination string          `json:"combination,omitempty"`
	Overshoot   sample.Interval `json:"overshoot_share"`
	Trials      int             `json:"trials"`
	Outcome     string          `json:"outcome"`
	Calmest     *CalmestReport  `json:"calmest"` // nothing that was tried is within the cap, this is the calmest; else null
}

// CalmestReport is what taking the calmest settings costs.
type CalmestReport struct {
	Slower float64 `json:"slower_s"`                 // than the quickest that was tried
	Past   float64 `json:"quickest_overshoot_share"` // with that
}

// caps are the claims, knob by knob and task by task; none where the cap is for the panel.
func (r *Result) caps() []CapReport {
	list := []CapReport{}
	if r.Study.Caps == Whole {
		return list
	}
	for _, k := range r.Knobs {
		for i, c := range k.Claims {
			x := CapReport{Knob: k.Knob.Name, Task: k.Before[i].Use.Task.Name, Combination: k.Combination, Overshoot: sample.IntervalOf(c.Overshoot), Trials: c.Trials, Outcome: c.Outcome()}
			if c.Calmest != nil {
				x.Calmest = &CalmestReport{sample.Round(c.Calmest.Slower), sample.Round(c.Calmest.Past)}
			}
			list = append(list, x)
		}
	}
	return list
}

// Said are sentences on caps: for which tasks the cap on overshoot holds, and where
// nothing calmer was found what that costs.
func Said(caps []CapReport) (list []string) {
	said := map[string][]string{}
	var costs []string
	for _, c := range caps {
		called, outcome := c.Task, c.Outcome
		if slices.ContainsFunc(caps, func(o CapReport) bool { return o.Task == c.Task && o.Knob != c.Knob }) {
			called = c.Knob + "/" + c.Task
		}
		name := called
		if outcome != Within && c.Calmest != nil {
			name += "*"
			if tenths := math.Round(10 * c.Calmest.Slower); tenths > 0 {
				if cost := fmt.Sprintf("%s %.1f s less at %.0f %%", called, tenths/10, 100*c.Calmest.Past); !slices.Contains(costs, cost) {
					costs = append(costs, cost)
				}
			}
		}
		if outcome != Within {
			name += fmt.Sprintf(" (%.0f to %.0f %%)", 100*c.Overshoot.Low, 100*c.Overshoot.High)
		}
		if !slices.Contains(said[outcome], name) {
			said[outcome] = append(said[outcome], name)
		}
	}
	starred := false
	for _, outcome := range []string{Within, At, Above} {
		if names := strings.Join(said[outcome], ", "); names != "" {
			list = append(list, strings.ToUpper(outcome[:1])+outcome[1:]+": "+names+".")
			starred = starred || strings.Contains(names, "*")
		}
	}
	if starred {
		calmest := "* The calmest found that loses few clicks"
		if costs != nil {
			calmest += "; the quickest takes: " + strings.Join(costs, ", ")
		}
		list = append(list, calmest+".")
	}
	return list
}
