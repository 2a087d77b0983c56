package evidence

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/trial"
)

// waited are the display lags of row A15: longer than anything the people were set
// on, so long that nobody can turn and look at the same time.
var waited = []time.Duration{300 * time.Millisecond, 500 * time.Millisecond, time.Second, 1500 * time.Millisecond, 2 * time.Second, 2500 * time.Millisecond, 3 * time.Second}

// longLags dials 20 steps while the screen shows everything seconds late.
func longLags(ctx context.Context, s Size) ([]Check, error) {
	o, plain := scenarios.Practised(), scenarios.Profile{Name: "plain"}
	var x, y []float64
	var text []string
	timeouts, trials := 0, 0
	for _, lag := range waited {
		rig := ideal(detentedKnob)
		rig.Display.Latency = lag
		c, err := run(ctx, trial.Cell{Task: numberTask(20), Rings: 1, Inner: &rig, Profile: &plain, Operator: &o}, s.Seed, s.Trials, nil)
		if err != nil {
			return nil, err
		}
		x, y = append(x, lag.Seconds()), append(y, c.time)
		text = append(text, fmt.Sprintf("%.1f", c.time))
		timeouts += c.timeouts
		trials += c.trials
	}
	l := fitLine(x, y)
	late := 100 * float64(timeouts) / float64(trials)
	c := Check{ID: "A15", What: "20 steps with 0.3 to 3 s of display lag", Status: Abstract,
		Source:    "Ferrell, Remote manipulation with transmission delay, IEEE Trans. Human Factors in Electronics HFE-6 (1965)",
		Published: "people move and wait of their own accord; time follows from the number of moves", Band: "mean time a line in the lag, R² ≥ 0.95; timeouts ≤ 1 %",
		Measured: fmt.Sprintf("%.1f + %.1f·lag s, R² %.3f, %.1f %% timeouts; %s s at %v to %v", l.intercept, l.slope, l.r2, late, strings.Join(text, "/"), waited[0], waited[len(waited)-1])}
	return []Check{c.judged(l.r2 >= 0.95 && l.slope > 0 && late <= 1).inBrief("lag 0.3–3 s against time", "a line", fmt.Sprintf("R² %.2f, %.0f %% timeouts", l.r2, late))}, nil
}

// smallest distances that rows A16 and A17 start from, and how far they go.
const (
	fewDetents  = 12
	manyDetents = 40
)

// near is a number so many steps away from rest. All distances have one name, so
// that the same people meet the same noise at each.
func near(steps int) *scenarios.Task {
	t := numberTask(float64(steps))
	t.Name = "near"
	return t
}

func smallNumbers(ctx context.Context, s Size) ([]Check, error) {
	rig, o, plain := ideal(detentedKnob), scenarios.Practised(), scenarios.Profile{Name: "plain"}
	var over []float64
	var text []string
	var grips trial.Grips
	worst, at := 0.0, 1
	for n := 1; n <= fewDetents+1; n++ {
		c, err := runBy(ctx, &grips, trial.Cell{Task: near(n), Rings: 1, Inner: &rig, Profile: &plain, Operator: &o}, s.Seed, 5*s.Trials, nil)
		if err != nil {
			return nil, err
		}
		over = append(over, c.over)
		text = append(text, fmt.Sprintf("%.0f", 100*c.over))
		if n > 1 {
			if jump := math.Abs(over[n-1] - over[n-2]); jump > worst {
				worst, at = jump, n-1
			}
		}
	}
	c := Check{ID: "A16", What: fmt.Sprintf("overshoot of numbers 1 to %d detents away, from rest", fewDetents+1), Status: Abstract,
		Source:    "Cordes, Gelman, Gallistel, Whalen, Psychonomic Bulletin & Review 8 (2001); key presses, not felt detents",
		Published: "variability of what is produced is proportional to its size, for 1–4 as for more", Band: "no jump of over 10 points from n to n + 1, n = 1–12 (ours)",
		Measured: fmt.Sprintf("largest jump %.0f points, from %d to %d; %s %%", 100*worst, at, at+1, strings.Join(text, "/"))}
	return []Check{c.judged(worst <= 0.1)}, nil
}

// distances collects mean times by the steps that were missing.
type distances struct {
	sum, squares [manyDetents + 2]float64
	n            [manyDetents + 2]float64
}

func (d *distances) add(steps int64, seconds float64) {
	if k := max(steps, -steps); k >= 1 && k < int64(len(d.n)) {
		d.sum[k] += seconds
		d.squares[k] += float64(seconds * seconds)
		d.n[k]++
	}
}

// pool adds what another one has collected.
func (d *distances) pool(more *distances) {
	for k := range d.n {
		d.sum[k] += more.sum[k]
		d.squares[k] += more.squares[k]
		d.n[k] += more.n[k]
	}
}

func (d *distances) mean(k int) float64 { return d.sum[k] / d.n[k] }

// variance is that of the mean.
func (d *distances) variance(k int) float64 {
	m := d.mean(k)
	return max(0, d.squares[k]/d.n[k]-float64(m*m)) / d.n[k]
}

// leastSeen is how often a distance must have come up to be compared; ours.
const leastSeen = 100

// faster returns the share by which k + 1 steps are quicker than k at worst, k, and
// whether that is more than 3 % beyond what chance may give (three standard errors
// of the difference).
func (d *distances) faster() (worst float64, at int, breaks bool) {
	at = 1
	for k := 1; k < len(d.n)-1; k++ {
		if d.n[k] < leastSeen || d.n[k+1] < leastSeen {
			continue
		}
		quicker := 1 - d.mean(k+1)/d.mean(k)
		if quicker > worst {
			worst, at = quicker, k
		}
		chance := 3 * math.Sqrt(d.variance(k)+d.variance(k+1)) / d.mean(k)
		breaks = breaks || quicker > 0.03+chance
	}
	return worst, at, breaks
}

// fromRestAndMidTrial dials numbers at all distances and collects the times from
// rest, and from each standing look after the first stroke, by what was missing.
func fromRestAndMidTrial(ctx context.Context, rig *encoder.Rig, p scenarios.Profile, seed uint64, trials int, rest, mid *distances) error {
	o := scenarios.Practised()
	type look struct{ at, missing int64 }
	var grips trial.Grips
	for n := 1; n <= manyDetents+1; n++ {
		b, err := grips.Bench(trial.Cell{Task: near(n), Rings: 1, Inner: rig, Profile: &p, Operator: &o})
		if err != nil {
			return err
		}
		var looks []look
		turned := false
		b.Trace = func(_ int, a hand.Act) {
			turned = turned || a.Kind == hand.Stroke
			if a.Kind == hand.Look && a.Standing && turned {
				looks = append(looks, look{a.At, a.Missing})
			}
		}
		for i := range trials {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			looks, turned = looks[:0], false
			r := b.Run(seed, i)
			rest.add(int64(n), r.Seconds())
			for _, l := range looks {
				if l.missing%handStep == 0 && l.at < r.TimeToTarget {
					mid.add(l.missing/handStep, float64(r.TimeToTarget-l.at)/1e9)
				}
			}
		}
	}
	return nil
}

// handStep is how finely a hand counts what is missing: 1/256 steps.
const handStep = 256

// fartherTargets pools over the phases of the rig and, where there is a curve, over
// the built-in ones: a single curve brings some distances in one stroke and others
// not, as its steps happen to fall.
func fartherTargets(ctx context.Context, s Size) ([]Check, error) {
	var checks []Check
	for _, side := range []struct {
		name     string
		profiles []scenarios.Profile
		rig      encoder.Rig
	}{
		{"plain, no losses", []scenarios.Profile{{Name: "plain"}}, ideal(detentedKnob)},
		{"the built-in curves on the demo's counting knob, pooled over phases and curves", accelerated(), demo.Rig("right-relative").Rig},
	} {
		var rest, mid distances
		var each []string
		for _, p := range side.profiles {
			var alone distances
			if err := fromRestAndMidTrial(ctx, &side.rig, p, s.Seed, 2*s.Trials, &alone, &mid); err != nil {
				return nil, err
			}
			r, _, _ := alone.faster()
			each = append(each, fmt.Sprintf("%s %.0f %%", p.Name, 100*r))
			rest.pool(&alone)
		}
		r, k, breaks1 := rest.faster()
		m, l, breaks2 := mid.faster()
		measured := fmt.Sprintf("from rest at most %.1f %% faster (%d against %d), in mid-trial %.1f %% (%d against %d)", 100*r, k+1, k, 100*m, l+1, l)
		if len(each) > 1 {
			measured += "; each alone from rest: " + strings.Join(each, ", ")
		}
		c := Check{ID: "A17", What: fmt.Sprintf("farther is not faster, 1 to %d steps: %s", manyDetents, side.name), Status: Derived, Source: "from the line of row A1",
			Published: "time rises with distance", Band: "k + 1 steps missing never faster than k by over 3 % (and 3 standard errors)", Measured: measured}
		checks = append(checks, c.judged(!breaks1 && !breaks2))
	}
	return checks, nil
}

// idleCurves dials with curves that the knob never gets as far as: pulses of 40 ms
// and gaps of 40 ms make 12.5 steps a second, the curve begins above 25.
func idleCurves(ctx context.Context, s Size) ([]Check, error) {
	o := scenarios.Practised()
	rig := demo.Rig("left-pulse").Rig
	rig.Firmware.Pulse, rig.Firmware.Gap = 40*time.Millisecond, 40*time.Millisecond
	dials := func(p scenarios.Profile) (all []trial.Result, err error) {
		_, err = run(ctx, trial.Cell{Task: demo.Task("heading"), Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, s.Seed, s.Trials, func(r *trial.Result) { all = append(all, *r) })
		return all, err
	}
	plain, err := dials(scenarios.Profile{Name: "plain"})
	if err != nil {
		return nil, err
	}
	other := 0
	var text []string
	for _, gain := range []float64{1.8, 10, 40} {
		got, err := dials(scenarios.Profile{Name: "idle", Acceleration: accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 25, Gain: gain}}}}})
		if err != nil {
			return nil, err
		}
		different := 0
		for i := range got {
			if got[i] != plain[i] {
				different++
			}
		}
		other += different
		text = append(text, fmt.Sprintf("%d at gain %g", different, gain))
	}
	c := Check{ID: "A18", What: "a ladder above 25/s where no step comes faster than 12.5/s: headings", Status: Derived, Source: "the steps are the same",
		Published: "identical trials", Band: "identical", Measured: fmt.Sprintf("other trials out of %d: %s", len(plain), strings.Join(text, ", "))}
	return []Check{c.judged(other == 0).inBrief("a curve that never acts", "no change", fmt.Sprintf("%d of %d trials", other, 3*len(plain)))}, nil
}
