package report

import (
	"fmt"
	"strings"

	"dialwright/scenarios/figure"
)

// useful is the difference in seconds that somebody would notice: a tenth of a second
// and a fiftieth of the time (ours).
func useful(before, after float64) bool {
	d := less(after, before)
	return d <= -0.1 && -d >= before/50 || d >= 0.1 && d >= before/50
}

// pairs draws what every task takes and how often it overshoots, before and after.
func (r *Report) pairs() []*figure.Figure {
	if len(r.Tasks) == 0 {
		return nil
	}
	limit := hundred(r.MaxOvershoot)
	f := &figure.Figure{
		Name: "tasks", Title: r.pairsFinding(),
		Caption: fmt.Sprintf("Mean of %d dialings of each task, before and after by the same people. The number after a name says how often it is dialed in an hour.", r.Trials),
		Table:   figure.Table{Header: []string{"task", "an hour", "mean time before (s)", "after (s)", "difference (s)", "overshoot before (%)", "after (%)", "difference (points)"}},
	}
	m := figure.Pairs{Before: "before", After: "after", Same: "as before"}
	if !r.changed() {
		m.Same = "now"
		f.Caption = fmt.Sprintf("Mean of %d dialings of each task. The number after a name says how often it is dialed in an hour.", r.Trials)
	}
	times := figure.PairColumn{Label: "mean time (s)"}
	past := figure.PairColumn{Label: "dialings that overshoot (%)", Limit: limit, Bound: "cap " + bare(limit, 1) + " %"}
	var told []string
	for _, t := range r.Tasks {
		name := r.called(t.Knob, t.Task)
		b, a := t.Before.Time.Mean, t.After.Time.Mean
		bo, ao := t.Before.Overshoot.Share, t.After.Overshoot.Share
		m.Rows = append(m.Rows, figure.PairRow{Name: name, Note: bare(t.PerHour, 1) + "/h"})
		times.Pairs = append(times.Pairs, figure.Pair{Before: tenths(b), After: tenths(a), BeforeText: inSeconds(b), AfterText: inSeconds(a), Same: !t.Changed})
		past.Pairs = append(past.Pairs, figure.Pair{Before: tenths(100 * bo), After: tenths(100 * ao), BeforeText: inPercent(bo), AfterText: inPercent(ao) + r.mark(ao), Same: !t.Changed})
		row := []string{name, bare(t.PerHour, 1), inSeconds(b), inSeconds(a), signed(less(a, b), 1), inPercent(bo), inPercent(ao), signed(points(ao, bo), 1)}
		if !t.Changed {
			row = []string{name, bare(t.PerHour, 1), inSeconds(b), "as before", "–", inPercent(bo), "as before", "–"}
			told = append(told, fmt.Sprintf("%s stays at %s s with %s %% overshoot", name, inSeconds(b), inPercent(bo)))
		} else {
			told = append(told, fmt.Sprintf("%s takes %s s instead of %s s, overshoot %s %% instead of %s %%", name, inSeconds(a), inSeconds(b), inPercent(ao), inPercent(bo)))
		}
		f.Table.Rows = append(f.Table.Rows, row)
	}
	m.Columns = []figure.PairColumn{times, past}
	f.Marks = []figure.Mark{m}
	f.Alt = upper(strings.Join(told, "; ")) + "."
	return []*figure.Figure{f}
}

// mark stands after an overshoot that is past the cap.
func (r *Report) mark(overshoot float64) string {
	if past(overshoot, r.MaxOvershoot) {
		return " !"
	}
	return ""
}

// pairsFinding says which tasks gain and which pay.
func (r *Report) pairsFinding() string {
	if !r.changed() {
		return "What every task takes now; nothing changes"
	}
	var gain, slow, pay []string
	best := 0.0
	for _, t := range r.Tasks {
		b, a := t.Before.Time.Mean, t.After.Time.Mean
		switch {
		case !t.Changed || !useful(b, a):
		case a > b:
			slow = append(slow, r.called(t.Knob, t.Task))
		case best == 0 || less(a, b) < best:
			gain, best = []string{r.called(t.Knob, t.Task)}, less(a, b)
		}
		if t.Changed && points(t.After.Overshoot.Share, t.Before.Overshoot.Share) >= 1 && t.After.Overshoot.Low > t.Before.Overshoot.Share {
			pay = append(pay, r.called(t.Knob, t.Task))
		}
	}
	var parts []string
	if gain != nil {
		parts = append(parts, fmt.Sprintf("%s gains most, %s s", gain[0], plain(-best, 1)))
	}
	if slow != nil {
		parts = append(parts, listed(slow)+verb(slow, " takes longer", " take longer"))
	}
	if pay != nil {
		parts = append(parts, listed(pay)+verb(pay, " pays", " pay")+" with overshoot")
	}
	if parts == nil {
		return "Every task, before and after: none gains or loses much"
	}
	return upper(strings.Join(parts, "; "))
}

func verb(names []string, one, more string) string {
	if len(names) == 1 {
		return one
	}
	return more
}
