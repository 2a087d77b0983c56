package fit

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/paired"
)

// Prediction is an average over dialings, as it was and as simulated people say it.
type Prediction struct {
	What      string // time_s, or overshoot_share of the dialings
	Setting   string // "A"; "A − B" is the difference over pairs
	Dialings  int    // pairs of a difference
	Measured  paired.Estimate
	Predicted paired.Estimate // each half as the person fitted to the other half dials it
	Off       paired.Estimate // measured less predicted
	Fitted    paired.Estimate // as the person dials it who is fitted to all, these very ones too
	Missed    bool            // Off is not 0
}

// average is a weighted sum over dialings.
type average struct {
	weights []float64 // of each dialing
	of      int       // part of seen
}

// said is what estimates say of an average, each of some dialings, and how far that is
// off what was seen. It has no mercy: that the traits that are kept are somebody else's is
// no excuse, and no part of the intervals.
func (r *refit) said(a *average, by func(i int) *estimate, all []*estimate) (predicted, off paired.Estimate) {
	guess, rest := make([]float64, r.pairs()), make([]float64, r.pairs()) // what each group adds
	for _, e := range all {
		slope := make([]float64, len(e.free))
		for i, w := range a.weights {
			if w == 0 || by(i) != e {
				continue
			}
			predicted.Value += w * e.seems[i][a.of]
			rest[r.groups[i]] += w * (r.real[i][a.of] - e.seems[i][a.of])
			for j, k := range e.free {
				slope[j] += w * r.slopes[k][i][a.of]
			}
		}
		for g, adds := range e.groups {
			for j := range e.free {
				guess[g] += slope[j] * adds[j]
			}
		}
	}
	differ := make([]float64, len(rest))
	for g := range rest {
		off.Value += rest[g]
		differ[g] = rest[g] - guess[g]
	}
	t := surely(len(rest))
	half := t * math.Sqrt(scatter(guess)*(1+1/float64(r.times)))
	predicted.Low, predicted.High = predicted.Value-half, predicted.Value+half
	half = t * math.Sqrt(scatter(differ))
	off.Low, off.High = off.Value-half, off.Value+half
	return predicted, off
}

// scatter is the variance of a sum of as many parts as there are.
func scatter(parts []float64) float64 {
	n, mean, v := float64(len(parts)), 0.0, 0.0
	for _, x := range parts {
		mean += x / n
	}
	for _, x := range parts {
		v += (x - mean) * (x - mean)
	}
	return v * n / max(1, n-1)
}

// predict lets each half of the pairs be dialed by the person fitted to the other half,
// and all by the person fitted to all.
func (r *refit) predict(ctx context.Context, of *scenarios.Dialings, d *Dialed, e *estimate) error {
	var halves [2][]int
	for i, g := range r.groups {
		halves[g%2] = append(halves[g%2], i)
	}
	var fitted [2]*estimate
	for h := range halves {
		var err error
		if fitted[h], err = r.find(ctx, halves[h], e.free, e.logs); err != nil {
			return err
		}
	}
	names := slices.Sorted(maps.Keys(of.Settings))
	add := func(what, setting string, part, n int, weights []float64, measured paired.Estimate) {
		a := &average{weights, part}
		p := Prediction{What: what, Setting: setting, Dialings: n, Measured: measured}
		p.Predicted, p.Off = r.said(a, func(i int) *estimate { return fitted[1-r.groups[i]%2] }, fitted[:])
		p.Fitted, _ = r.said(a, func(int) *estimate { return e }, []*estimate{e})
		p.Missed = p.Off.Sign() != 0
		if part == overshotPart && slices.Contains(names, setting) {
			p.Predicted, p.Fitted = asShare(p.Predicted), asShare(p.Fitted)
		}
		d.Predictions = append(d.Predictions, p)
	}
	for _, x := range []struct {
		what string
		part int
	}{{"time_s", timeToTarget}, {"overshoot_share", overshotPart}} {
		for _, name := range names {
			weights, values := make([]float64, len(r.real)), []float64{}
			for i, dialing := range r.dialers[0].dialed {
				if dialing.Setting == name {
					values = append(values, r.real[i][x.part])
					weights[i] = 1
				}
			}
			if len(values) < 2 {
				continue
			}
			for i := range weights {
				weights[i] /= float64(len(values))
			}
			measured := meanOf(values).interval()
			if x.part == overshotPart {
				measured = paired.ShareInterval(int(math.Round(measured.Value*float64(len(values)))), len(values))
			}
			add(x.what, name, x.part, len(values), weights, measured)
		}
		if len(names) != 2 {
			continue
		}
		weights, less := make([]float64, len(r.real)), []float64{}
		for _, pair := range r.both(names) {
			weights[pair[0]], weights[pair[1]] = 1, -1
			less = append(less, r.real[pair[0]][x.part]-r.real[pair[1]][x.part])
		}
		if len(less) < 2 {
			continue
		}
		for i := range weights {
			weights[i] /= float64(len(less))
		}
		add(x.what, names[0]+" − "+names[1], x.part, len(less), weights, meanOf(less).interval())
	}
	d.Verdict = d.verdict()
	return nil
}

// asShare cuts an interval at what a share can be.
func asShare(e paired.Estimate) paired.Estimate {
	return paired.Estimate{Value: e.Value, Low: max(0, e.Low), High: min(1, e.High)}
}

// both returns the pairs that are whole: the dialing with the first setting, and that
// with the other.
func (r *refit) both(names []string) (pairs [][2]int) {
	first := map[int]int{}
	for i, x := range r.dialers[0].dialed {
		if x.Setting == names[0] {
			first[r.groups[i]] = i
		}
	}
	for j, x := range r.dialers[0].dialed {
		if i, ok := first[r.groups[j]]; ok && x.Setting == names[1] {
			pairs = append(pairs, [2]int{i, j})
		}
	}
	return pairs
}

// verdict says what was missed.
func (d *Dialed) verdict() string {
	var missed []string
	for _, p := range d.Predictions {
		if p.Missed {
			missed = append(missed, p.sentence())
		}
	}
	if len(missed) == 0 {
		return fmt.Sprintf("None of %d predictions missed: what you did agrees with each, within the intervals.", len(d.Predictions))
	}
	return fmt.Sprintf("Of %d predictions %d missed: %s.", len(d.Predictions), len(missed), strings.Join(missed, "; "))
}

// sentence says how far a prediction was off.
func (p *Prediction) sentence() string {
	more := "more"
	if p.Off.Value < 0 {
		more = "less"
	}
	what, times, decimals, unit := p.said()
	return fmt.Sprintf("%s with %s was %.*f %s %s than predicted", what, p.Setting, decimals, math.Abs(times*p.Off.Value), unit, more)
}

// said is how an average is written: its name, in so many parts, with decimals and unit.
func (p *Prediction) said() (what string, times float64, decimals int, unit string) {
	if p.What == "time_s" {
		return "time", 1, 1, "s"
	}
	return "overshoot", 100, 0, "points"
}

// print writes what was predicted beside what was done.
func (d *Dialed) print(p *columns.Page) {
	p.Heading("How well it predicts you: each half of the pairs, from the other half")
	var rows [][]string
	for _, x := range d.Predictions {
		what, times, decimals, unit := x.said()
		if unit == "points" {
			unit = "%"
		}
		write := func(e paired.Estimate) string {
			s := fmt.Sprintf("%.*f (%.*f to %.*f)", decimals, times*e.Value, decimals, times*e.Low, decimals, times*e.High)
			return strings.ReplaceAll(s, "-", "−")
		}
		missed := "no"
		if x.Missed {
			missed = "yes"
		}
		rows = append(rows, []string{x.Setting + " " + what + ", " + unit, write(x.Measured), write(x.Predicted), missed})
	}
	p.Table([]string{"", "you", "predicted", "missed"}, rows)
	p.Item(d.Verdict)
	p.Text("")
}
