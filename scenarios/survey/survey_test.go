package survey_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/survey"
	"dialwright/scenarios/trial"
)

func page(t testing.TB, r *survey.Result) string {
	t.Helper()
	var b strings.Builder
	if err := r.Page().Print(&b, columns.Width); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// A survey's trials are those that a seat on the member's rig does: the figures are
// worked out here once more from single trials, also of candidates that cannot be set
// on some rigs.
func TestASurveyIsItsTrials(t *testing.T) {
	s := small(24)
	all := demo.Population("households").Profiles
	s.Population.Profiles = []*scenarios.Profile{all[5], all[6], all[0], all[2]} // coarse-pair, press, plain, linear
	s.Caps = survey.Caps{Overshoot: 0.3, Lost: 0.02}
	r, err := survey.Sum(ran(t, s, survey.Whole))
	if err != nil {
		t.Fatal(err)
	}
	mean := make([][]float64, len(r.Candidates))
	n, within, stays := float64(s.Members), make([]float64, len(mean)), make([]int, len(mean))
	squares := make([]float64, len(mean))
	for i := range s.Members {
		m, err := s.Population.Draw(s.Seed, i)
		if err != nil {
			t.Fatal(err)
		}
		for c, p := range s.Population.Profiles {
			seat, err := trial.SeatOrPlain(m.Dialed.Served()[0], p, m.Operator)
			if err != nil {
				t.Fatal(err)
			}
			if seat.Stays != nil {
				stays[c]++
			}
			sum, over, detents, lost := 0.0, 0.0, 0, 0
			for k := range s.Trials {
				x := seat.Run(m.Seed, k)
				sum += x.Seconds()
				squares[c] += x.Seconds() * x.Seconds()
				if x.Overshot() {
					over++
				}
				detents += x.Account.Detents
				lost += x.Account.Lost()
			}
			mean[c] = append(mean[c], sum/float64(s.Trials))
			if over <= 0.3*float64(s.Trials) && float64(lost) <= 0.02*float64(detents) {
				within[c]++
			}
		}
	}
	if stays[0] == 0 || stays[1] == 0 || stays[2]+stays[3] > 0 {
		t.Fatalf("on %v rigs the candidates cannot be set", stays)
	}
	for c := range mean {
		sum, regret, best := 0.0, 0.0, 0.0
		for i, x := range mean[c] {
			least := math.Inf(1)
			for _, other := range mean {
				least = min(least, other[i])
			}
			sum, regret = sum+x, regret+x-least
			if x == least {
				best++
			}
		}
		sorted := slices.Sorted(slices.Values(mean[c]))
		worst := (sorted[21] + sorted[22] + sorted[23]) / 3
		trials := n * float64(s.Trials)
		sd := math.Sqrt(squares[c]/trials - sum/n*sum/n)
		x := r.Candidates[c]
		for what, v := range map[string][2]float64{
			"mean": {x.Mean.Value, sum / n}, "regret": {x.Regret.Value, regret / n}, "best": {x.Best, best / n}, "mean of trials": {x.Trial.Mean, sum / n}, "SD of trials": {x.Trial.SD, sd},
			"trials": {float64(x.Trial.N), trials}, "worst tenth": {x.WorstTenth, worst}, "within caps": {x.Within.Value, within[c] / n}, "stays": {float64(x.Stays), float64(stays[c])},
		} {
			if math.Abs(v[0]-v[1]) > 1e-6 {
				t.Errorf("%s: %s is %g; by hand %g", x.Name, what, v[0], v[1])
			}
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
	if text := page(t, r); !strings.Contains(strings.Join(strings.Fields(text), " "), "no difference to twin was found") || len(r.Losses) > 0 {
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
	text := page(t, r)
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
