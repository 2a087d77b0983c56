// Package sample is what trials come to: those of a use, and those of a panel whose
// uses are weighted by how often each is done.
//
// Every study asks the same of its trials: how long a dialing took, how often the
// number went past its target and how far, how many clicks were lost. The answers
// are worked out here and nowhere else, so that the same trials never get two
// medians, two rounded values or two forms in JSON.
//
// # Rules of our own
//
//   - Every column of a use is kept trial by trial. What an interruption leaves is
//     cut in all of them at once ([Cut]), so that all figures rest on the same trials.
//   - Of more than [Kept] trials sums and histograms of whole numbers are enough
//     ([Fold]); they do not grow, and are the same in any order and grouping.
//   - Clicks without a fate (of a trial in which a firmware holds its line) count
//     neither as turned nor as lost.
package sample

import (
	"math"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/paired"
	"dialwright/scenarios/trial"
)

// Trials is the trials of a use, with the same settings and the same kind of person.
// The columns are of one length.
type Trials struct {
	Use   scenarios.Served
	Stays error   // why the profile cannot be set on this knob, which stays plain; nil
	Limit float64 // s

	Seconds []float64 // time to target, +Inf for a timeout
	Past    []int64   // overshoot, steps of the ring that went furthest; 0 for none
	Detents []int     // with a fate
	Lost    []int     // of them, those without a step of their own

	summary *Summary
	sums    *sums   // of trials that are not in the columns any more
	beside  *beside // the same, with those of the first candidate
}

// Of returns the trials of a seat, none so far.
func Of(s *trial.Seat) *Trials {
	return &Trials{Use: s.Served, Stays: s.Stays, Limit: s.Limit().Seconds()}
}

// Grow makes room for so many trials in all.
func (t *Trials) Grow(trials int) {
	more := max(0, trials-t.Len())
	t.Seconds, t.Past = slices.Grow(t.Seconds, more), slices.Grow(t.Past, more)
	t.Detents, t.Lost = slices.Grow(t.Detents, more), slices.Grow(t.Lost, more)
}

// Take adds a trial.
func (t *Trials) Take(_ int, r *trial.Result) {
	s, past, detents, lost := r.Seconds(), int64(0), 0, 0
	if r.Timeout {
		s = math.Inf(1)
	}
	if r.Overshot() {
		past = r.Overshoot
	}
	if a := &r.Account; a.Delivered+a.Lost() > 0 && !(a.Pulses == 0 && a.Presses > 0) {
		detents, lost = a.Detents, a.Lost()
	}
	t.Seconds, t.Past = append(t.Seconds, s), append(t.Past, past)
	t.Detents, t.Lost = append(t.Detents, detents), append(t.Lost, lost)
	t.summary = nil
}

// Len returns how many trials there are.
func (t *Trials) Len() int { return t.folded() + len(t.Seconds) }

func (t *Trials) folded() int {
	if t.sums == nil {
		return 0
	}
	return t.sums.trials
}

// Cut shortens samples to their first n trials, or to as many as all of them have,
// and returns how many those are. What is folded already cannot be cut.
func Cut(n int, all ...*Trials) int {
	for _, t := range all {
		n = min(n, t.Len())
	}
	for _, t := range all {
		k := n - t.folded()
		t.Seconds, t.Past, t.Detents, t.Lost, t.summary = t.Seconds[:k], t.Past[:k], t.Detents[:k], t.Lost[:k], nil
	}
	return n
}

// Overshot says trial by trial whether the number went past its target.
func (t *Trials) Overshot() []bool {
	over := make([]bool, len(t.Past))
	for i, past := range t.Past {
		over[i] = past > 0
	}
	return over
}

// Capped returns the times with a timeout as the limit.
func (t *Trials) Capped() []float64 { return paired.Capped(t.Seconds, t.Limit) }

// Summary is what can be said of the trials of a use. Shares are 0 to 1.
type Summary struct {
	Trials, Timeouts int
	Time             paired.Estimate // median, s
	P90, P95, Mean   float64         // s; Mean counts a timeout as the limit
	Overshoot        paired.Estimate // share of trials
	OvershootP90     float64         // steps, over the trials that overshot; 0 without any
	Fated            bool            // there are detents with a fate
	Lost             paired.Estimate // share of them
}

// Summary sums the trials up. It is worked out once.
func (t *Trials) Summary() *Summary {
	if t.summary != nil {
		return t.summary
	}
	if t.sums != nil {
		t.summary = t.sums.summary()
		return t.summary
	}
	s := &Summary{
		Trials: t.Len(), Time: paired.QuantileInterval(t.Seconds, 0.5),
		P90: paired.Quantile(t.Seconds, 0.9), P95: paired.Quantile(t.Seconds, 0.95),
	}
	var past []float64
	detents, lost := 0, 0
	for i, x := range t.Seconds {
		if math.IsInf(x, 1) {
			s.Timeouts++
		}
		if t.Past[i] > 0 {
			past = append(past, float64(t.Past[i]))
		}
		detents += t.Detents[i]
		lost += t.Lost[i]
		s.Mean += min(x, t.Limit)
	}
	s.Mean /= float64(s.Trials)
	s.Overshoot = paired.ShareInterval(len(past), s.Trials)
	if len(past) > 0 {
		s.OvershootP90 = paired.Quantile(past, 0.9)
	}
	s.Fated = detents > 0
	s.Lost = paired.ShareInterval(lost, max(1, detents))
	t.summary = s
	return s
}

// Judge says whether trials are better than others that met the same people, both
// under the names that they have in sentences. Folded trials can be judged beside the
// first candidate only.
func Judge(name string, t *Trials, than string, other *Trials, seed uint64) paired.Verdict {
	if t.sums != nil {
		return t.judge(name, than)
	}
	return paired.Judge(paired.Pair{
		A: name, B: than, Task: t.Use.Name(), TimesA: t.Seconds, TimesB: other.Seconds, Limit: t.Limit,
		OvershotA: t.Overshot(), OvershotB: other.Overshot(),
	}, Source(seed, t.Use.Task.Name))
}
