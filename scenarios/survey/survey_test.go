package survey_test

import (
	"math"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/survey"
	"dialwright/scenarios/trial"
)

func page(t testing.TB, r *survey.Result, detail bool) string {
	t.Helper()
	var b strings.Builder
	if err := r.Page(detail).Print(&b, columns.Width); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A survey's trials are those that a seat on the member's rig does: the figures are
// worked out here once more from single trials.
func TestASurveyIsItsTrials(t *testing.T) {
	s := small(9)
	r, err := survey.Sum(ran(t, s, survey.Whole))
	if err != nil {
		t.Fatal(err)
	}
	var mean [2][]float64
	for n := range s.Members {
		m, err := s.Population.Draw(s.Seed, n)
		if err != nil {
			t.Fatal(err)
		}
		for c, p := range s.Population.Profiles {
			seat, err := trial.SeatOrPlain(m.Dialed.Served()[0], p, m.Operator)
			if err != nil {
				t.Fatal(err)
			}
			sum := 0.0
			for k := range s.Trials {
				x := seat.Run(m.Seed, k)
				sum += x.Seconds()
			}
			mean[c] = append(mean[c], sum/float64(s.Trials))
		}
	}
	for c := range mean {
		all, regret, best := 0.0, 0.0, 0.0
		for n, x := range mean[c] {
			least := min(mean[0][n], mean[1][n])
			all, regret = all+x, regret+x-least
			if x == least {
				best++
			}
		}
		n := float64(s.Members)
		x := r.Candidates[c]
		if math.Abs(x.Mean.Value-all/n) > 1e-9 || math.Abs(x.Regret.Value-regret/n) > 1e-9 || math.Abs(x.Best-best/n) > 1e-9 || math.Abs(x.Trial.Mean-all/n) > 1e-9 || x.Trial.N != uint64(s.Members*s.Trials) {
			t.Errorf("%s: %+v; by hand %g s, regret %g, best %g", x.Name, x, all/n, regret/n, best/n)
		}
	}
}

// Two profiles that set the same are one: no regret between them, and ties count for
// both.
func TestTwinsTie(t *testing.T) {
	s := small(8)
	twin := *s.Population.Profiles[1]
	twin.Name = "twin"
	s.Population.Profiles = []*scenarios.Profile{s.Population.Profiles[1], &twin}
	r, err := survey.Sum(ran(t, s, survey.Whole))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range r.Candidates {
		if c.Best != 1 || c.Regret.Value != 0 || c.AgainstBest.Found() {
			t.Errorf("%+v", c)
		}
	}
	if text := page(t, r, false); !strings.Contains(strings.Join(strings.Fields(text), " "), "no difference to twin was found") || len(r.Losses) > 0 {
		t.Errorf("%s", text)
	}
}

// Whoever is best where frames are quick and worst where they are slow, fails where
// they are slow, and the survey says so.
func TestASurveySaysWhereADefaultFails(t *testing.T) {
	s := small(150)
	s.Trials = 12
	p := s.Population
	p.Vary = []scenarios.Varied{{Key: "knob.push", Values: []scenarios.Weighted[string]{{Of: "true", Weight: 3}, {Of: "false", Weight: 2}}}}
	p.Rigs, p.Operators = p.Rigs[:1], p.Operators[1:2]
	p.Dialed = p.Dialed[:1]
	all := demo.Population("households").Profiles
	press, linear := all[len(all)-1], all[2]
	p.Profiles = []*scenarios.Profile{press, linear}
	r, err := survey.Sum(ran(t, s, survey.Whole))
	if err != nil {
		t.Fatal(err)
	}
	text := page(t, r, false)
	if w := r.Candidates[r.Ranking[0]].Name; len(r.Losses) != 1 || !strings.Contains(strings.Join(strings.Fields(text), " "), map[string]string{
		"press":  "where knob.push is false",
		"linear": "where knob.push is true",
	}[w]) {
		t.Errorf("%s", text)
	}
	if lines := strings.Count(text, "\n"); lines > 30 {
		t.Errorf("the answer has %d lines", lines)
	}
}
