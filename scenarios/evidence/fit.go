package evidence

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"dialwright/scenarios"
)

// knobOf is a number of an operator that a fit may turn.
type knobOf struct {
	name string
	get  func(*scenarios.Operator) float64
	set  func(*scenarios.Operator, float64)
}

func delay(name string, of func(*scenarios.Operator) *scenarios.Delay) knobOf {
	return knobOf{
		name + " [ms]",
		func(o *scenarios.Operator) float64 { return float64(of(o).Mean) / 1e6 },
		func(o *scenarios.Operator, v float64) {
			of(o).Mean = time.Duration(math.Round(v)) * time.Millisecond
		},
	}
}

// wheelKnobs are what row A1 decides: the time of a stroke, of a clutch, of a fine
// look, of the confirming key, and how exact a stroke is.
var wheelKnobs = []knobOf{
	delay("fixation", func(o *scenarios.Operator) *scenarios.Delay { return &o.Fixation }),
	{
		"stroke noise [1]",
		func(o *scenarios.Operator) float64 { return o.Noise.Mean },
		func(o *scenarios.Operator, v float64) { o.Noise.Mean = math.Round(v*1000) / 1000 },
	},
	delay("regrip", func(o *scenarios.Operator) *scenarios.Delay { return &o.Regrip }),
	delay("begin", func(o *scenarios.Operator) *scenarios.Delay { return &o.Begin }),
	delay("confirm", func(o *scenarios.Operator) *scenarios.Delay { return &o.Confirm }),
	{
		"fast pace [deg/s]",
		func(o *scenarios.Operator) float64 { return o.FastDegPerS.Mean },
		func(o *scenarios.Operator, v float64) { o.FastDegPerS.Mean = math.Round(v) },
	},
}

// Sketch returns the operator that the fit of the practised one starts from: the
// values of the model's sketch.
func Sketch() scenarios.Operator {
	o := scenarios.Practised()
	o.Name = "sketch"
	for i, v := range []float64{230, 0.19, 260, 80, 360, 400} {
		wheelKnobs[i].set(&o, v)
	}
	o.Familiarity.Mean = 0.55
	return o
}

// Fit is the outcome of a fit.
type Fit struct {
	Operator  scenarios.Operator
	Misfit    float64 // root mean square of the relative residuals
	Residuals []Residual
	Rounds    int
}

// Residual is what is left between a published and a computed value.
type Residual struct {
	What                string
	Published, Computed float64
}

// String prints the operator's fitted numbers and the residuals, a line each.
func (f Fit) String() string {
	var b strings.Builder
	for _, k := range wheelKnobs {
		fmt.Fprintf(&b, "%-18s %.4g\n", k.name, k.get(&f.Operator))
	}
	fmt.Fprintf(&b, "%-18s %.3g\n", "familiarity [1]", f.Operator.Familiarity.Mean)
	for _, r := range f.Residuals {
		fmt.Fprintf(&b, "%-34s published %.3f, computed %.3f (%+.0f %%)\n", r.What, r.Published, r.Computed, 100*(r.Computed/r.Published-1))
	}
	fmt.Fprintf(&b, "misfit %.1f %%\n", 100*f.Misfit)
	return b.String()
}

// misfit is the root mean square of the logarithms of computed over published.
func misfit(rs []Residual) float64 {
	sum := 0.0
	for _, r := range rs {
		l := math.Log(r.Computed / r.Published)
		sum += float64(l * l)
	}
	return math.Sqrt(sum / float64(len(rs)))
}

// wheelResiduals compares the 24 cells of row A1 with the published regressions.
func wheelResiduals(ctx context.Context, o scenarios.Operator, trials int) (rs []Residual, err error) {
	for _, side := range []struct {
		profile   scenarios.Profile
		published line
	}{{wheelConstant(), publishedConstant}, {wheelAccelerated(), publishedAccelerated}} {
		cells, err := wheel(ctx, o, side.profile, 1, trials)
		if err != nil {
			return nil, err
		}
		for i := range cells {
			c := &cells[i]
			rs = append(rs, Residual{fmt.Sprintf("A1 %s, %g lines to %g", side.profile.Name, c.distance, c.width), side.published.at(c.id()), c.confirmed})
		}
	}
	return rs, nil
}

// reluctance is what it costs a fit to move a number away from where it started,
// in mean squares of residuals for a logarithm of 1. The 24 cells leave a long
// valley in which one number pays for another; this keeps the fit near what the
// numbers are known to be.
const reluctance = 0.01

// moved away from the start, by the sum of squared logarithms.
func away(o, from *scenarios.Operator) float64 {
	sum := 0.0
	for _, k := range wheelKnobs {
		l := math.Log(k.get(o) / k.get(from))
		sum += float64(l * l)
	}
	return sum
}

// FitWheel sets an operator on row A1: it changes one number at a time by a share,
// up or down, keeps what brings the 24 cells nearer to the published regressions
// by more than the reluctance to move, and halves the share when nothing does.
func FitWheel(ctx context.Context, o scenarios.Operator, trials int) (Fit, error) {
	rs, err := wheelResiduals(ctx, o, trials)
	if err != nil {
		return Fit{}, err
	}
	f := Fit{Operator: o, Residuals: rs, Misfit: misfit(rs)}
	least := f.Misfit * f.Misfit
	for share := 0.16; share >= 0.04; {
		better := false
		for _, k := range wheelKnobs {
			for _, factor := range []float64{1 + share, 1 / (1 + share)} {
				try := f.Operator
				k.set(&try, factor*k.get(&try))
				rs, err := wheelResiduals(ctx, try, trials)
				if err != nil {
					return f, err
				}
				m := misfit(rs)
				if cost := float64(m*m) + float64(reluctance*away(&try, &o)); cost < least-1e-5 {
					f.Operator, f.Residuals, f.Misfit, least, better = try, rs, m, cost, true
					break
				}
			}
		}
		f.Rounds++
		if !better {
			share /= 2
		}
	}
	return f, nil
}

// FitLag sets the familiarity of an operator on the mean times of row A2: the one
// of 0.05, 0.10, … 0.95 that brings the three ratios nearest.
func FitLag(ctx context.Context, o scenarios.Operator, trials int) (Fit, error) {
	best := Fit{Misfit: math.Inf(1)}
	for twentieths := 1; twentieths < 20; twentieths++ {
		o.Familiarity.Mean = float64(twentieths) / 20
		all, err := lagCells(ctx, o, 1, trials)
		if err != nil {
			return best, err
		}
		var rs []Residual
		least := pooled(all[0])
		for i := 1; i < len(all); i++ {
			p := pooled(all[i])
			rs = append(rs, Residual{fmt.Sprintf("A2 time at %v over %v", lags[i], lags[0]), publishedRatios[i], p.time / least.time})
		}
		if m := misfit(rs); m < best.Misfit {
			best = Fit{Operator: o, Misfit: m, Residuals: rs}
		}
		best.Rounds++
	}
	return best, nil
}
