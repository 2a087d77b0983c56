package evidence

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"dialwright/scenarios"
)

// Parameter is a number of an operator that a fit may set, with the value that the
// fit begins at, the bounds that it stays within, and its finest step.
type Parameter struct {
	Name                   string // with its unit
	Start, Low, High, Step float64
	Why                    string // of the start and the bounds

	of func(o *scenarios.Operator, v float64, set bool) float64
}

// Of returns the parameter of an operator.
func (p *Parameter) Of(o *scenarios.Operator) float64 { return p.of(o, 0, false) }

// Set sets the parameter of an operator to the nearest step within the bounds.
func (p *Parameter) Set(o *scenarios.Operator, v float64) {
	p.of(o, min(max(math.Round(v/p.Step)*p.Step, p.Low), p.High), true)
}

// ofDelay makes a parameter of a time, in ms.
func ofDelay(of func(*scenarios.Operator) *scenarios.Delay) func(*scenarios.Operator, float64, bool) float64 {
	return func(o *scenarios.Operator, v float64, set bool) float64 {
		d := of(o)
		if set {
			d.Mean = time.Duration(math.Round(v*1e3)) * time.Microsecond
		}
		return float64(d.Mean) / 1e6
	}
}

// ofSpread makes a parameter of another quantity.
func ofSpread(of func(*scenarios.Operator) *scenarios.Spread) func(*scenarios.Operator, float64, bool) float64 {
	return func(o *scenarios.Operator, v float64, set bool) float64 {
		s := of(o)
		if set {
			s.Mean = math.Round(v*1e6) / 1e6
		}
		return s.Mean
	}
}

// wheelParameters are what row A1 decides: the time of a stroke, of a clutch, of a
// careful look, of the confirming key, how exact a stroke is and how fast, and how well
// acceleration is known. lagParameters
// are what row A2 decides. No other row sets anything.
var (
	wheelParameters = []Parameter{
		{"fixation [ms]", 230, 70, 700, 5, "one eye fixation and its range (Card, Moran, Newell 1983)",
			ofDelay(func(o *scenarios.Operator) *scenarios.Delay { return &o.Fixation })},
		{"stroke noise [share]", 0.2, 0.05, 0.4, 0.005, "ours",
			ofSpread(func(o *scenarios.Operator) *scenarios.Spread { return &o.Noise })},
		{"regrip [ms]", 360, 150, 400, 5, "MTM-1: 0.36 to 0.39 s with the way back (A14)",
			ofDelay(func(o *scenarios.Operator) *scenarios.Delay { return &o.Regrip })},
		{"begin [ms]", 70, 30, 200, 5, "one motor act; its range is 30 to 100 (A6)",
			ofDelay(func(o *scenarios.Operator) *scenarios.Delay { return &o.Begin })},
		{"confirm [ms]", 360, 150, 700, 5, "ours: a key press, and being sure of it",
			ofDelay(func(o *scenarios.Operator) *scenarios.Delay { return &o.Confirm })},
		{"fast pace [deg/s]", 400, 200, 800, 4, "ours",
			ofSpread(func(o *scenarios.Operator) *scenarios.Spread { return &o.FastDegPerS })},
		{"gain error [share]", 0.25, 0.02, 0.4, 0.01, "ours: a Weber fraction of what is remembered",
			ofSpread(func(o *scenarios.Operator) *scenarios.Spread { return &o.GainError })},
	}
	lagParameters = []Parameter{
		{"familiarity [share]", 0.5, 0.05, 0.95, 0.05, "ours",
			ofSpread(func(o *scenarios.Operator) *scenarios.Spread { return &o.Familiarity })},
	}
)

// sketch returns the operator that the fit of the practised one begins with: every
// parameter at its start.
func sketch() scenarios.Operator {
	o := scenarios.Practised()
	o.Name = "sketch"
	for _, ps := range [][]Parameter{wheelParameters, lagParameters} {
		for i := range ps {
			ps[i].Set(&o, ps[i].Start)
		}
	}
	return o
}

// Fit is the outcome of a fit.
type Fit struct {
	Operator  scenarios.Operator
	Misfit    float64 // root mean square of the logarithms of computed over published
	Residuals []Residual
	Tried     int // operators
}

// Residual is what is left between a published and a computed value.
type Residual struct {
	What                string
	Published, Computed float64
}

// String prints the operator's fitted numbers and the residuals, a line each.
func (f Fit) String() string {
	var b strings.Builder
	for _, ps := range [][]Parameter{wheelParameters, lagParameters} {
		for i := range ps {
			p := &ps[i]
			fmt.Fprintf(&b, "%-22s %.4g (from %.4g, %g to %g by %g)\n", p.Name, p.Of(&f.Operator), p.Start, p.Low, p.High, p.Step)
		}
	}
	for _, r := range f.Residuals {
		fmt.Fprintf(&b, "%-34s published %.3f, computed %.3f (%+.0f %%)\n", r.What, r.Published, r.Computed, 100*(r.Computed/r.Published-1))
	}
	fmt.Fprintf(&b, "misfit %.1f %%, %d operators tried\n", 100*f.Misfit, f.Tried)
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

// lagResiduals compares the three ratios of row A2 with those published.
func lagResiduals(ctx context.Context, o scenarios.Operator, trials int) (rs []Residual, err error) {
	all, err := lagCells(ctx, o, 1, trials)
	if err != nil {
		return nil, err
	}
	least := pooled(all[0])
	for i := 1; i < len(all); i++ {
		p := pooled(all[i])
		rs = append(rs, Residual{fmt.Sprintf("A2 time at %v over %v", lags[i], lags[0]), publishedRatios[i], p.time / least.time})
	}
	return rs, nil
}

// reluctance is what it costs the fit on A1 to move a number away from where it started,
// in mean squares of residuals for a logarithm of 1. The 24 cells leave a long
// valley in which one number pays for another; this keeps the fit near what the
// numbers are known to be.
const reluctance = 0.01

// away is how far parameters have moved from their starts: the sum of squared
// logarithms.
func away(o *scenarios.Operator, ps []Parameter) float64 {
	sum := 0.0
	for i := range ps {
		l := math.Log(ps[i].Of(o) / ps[i].Start)
		sum += float64(l * l)
	}
	return sum
}

// fitWheel sets an operator on row A1: the wheelParameters, so that the 24 cells come
// near the published regressions.
func fitWheel(ctx context.Context, o scenarios.Operator, trials int) (Fit, error) {
	return fit(ctx, o, wheelParameters, reluctance, func(o scenarios.Operator) ([]Residual, error) { return wheelResiduals(ctx, o, trials) })
}

// fitLag sets an operator on the mean times of row A2: the lagParameters, so that the
// three ratios come near those published.
func fitLag(ctx context.Context, o scenarios.Operator, trials int) (Fit, error) {
	return fit(ctx, o, lagParameters, 0, func(o scenarios.Operator) ([]Residual, error) { return lagResiduals(ctx, o, trials) })
}

// fit changes one parameter at a time by so many of its steps, up or down, and keeps
// what lowers the misfit by more than the reluctance to move. It begins with 8 steps
// and halves them when nothing helps, down to one.
func fit(ctx context.Context, o scenarios.Operator, ps []Parameter, reluctance float64, residuals func(scenarios.Operator) ([]Residual, error)) (Fit, error) {
	f := Fit{Operator: o}
	least := math.Inf(1)
	try := func(o scenarios.Operator) (better bool, err error) {
		rs, err := residuals(o)
		if err != nil {
			return false, err
		}
		f.Tried++
		m := misfit(rs)
		if cost := float64(m*m) + float64(reluctance*away(&o, ps)); cost < least-1e-5 {
			f.Operator, f.Residuals, f.Misfit, least, better = o, rs, m, cost, true
		}
		return better, nil
	}
	if _, err := try(o); err != nil {
		return f, err
	}
	for steps := 8.0; steps >= 1; {
		moved := false
		for i := range ps {
			p := &ps[i]
			for _, way := range []float64{steps, -steps} {
				if ctx.Err() != nil {
					return f, ctx.Err()
				}
				next := f.Operator
				if p.Set(&next, p.Of(&next)+way*p.Step); p.Of(&next) == p.Of(&f.Operator) {
					continue // at a bound
				}
				better, err := try(next)
				if err != nil {
					return f, err
				}
				if better {
					moved = true
					break
				}
			}
		}
		if !moved {
			steps /= 2
		}
	}
	return f, nil
}
