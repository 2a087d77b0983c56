package evidence

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"dialwright/accel"
	"dialwright/scenarios"
)

const hinckley = "Hinckley, Cutrell, Bathiche, Muss, Quantitative analysis of scrolling techniques, CHI 2002, Table 2"

// Published regressions of row A1, seconds against bits.
var (
	publishedConstant    = line{intercept: -0.42, slope: 1.25, r2: 0.88}
	publishedAccelerated = line{intercept: 0.18, slope: 0.80, r2: 0.95}
)

func within(value, target, share float64) bool { return math.Abs(value-target) <= share*target }

// fits says whether cells meet the bands of row A1.
func fits(cells []cell, published line) (measured string, ok bool) {
	l := regression(cells)
	near := 0
	for i := range cells {
		if within(cells[i].confirmed, published.at(cells[i].id()), 0.4) {
			near++
		}
	}
	ok = within(l.slope, published.slope, 0.2) && within(l.at(4), published.at(4), 0.2) && l.r2 >= 0.8 && near >= 9
	return fmt.Sprintf("%s; %.2f s at 4 bits; %d of %d cells near", l, l.at(4), near, len(cells)), ok
}

func (l line) String() string {
	return fmt.Sprintf("%.2f + %.2f·ID s, R² %.2f", l.intercept, l.slope, l.r2)
}

// short writes a line in the fewest characters.
func (l line) short() string { return fmt.Sprintf("%.2f+%.2f·ID", l.intercept, l.slope) }

// byDistance returns the mean time of the cells of one distance.
func byDistance(cells []cell, distance float64) float64 {
	sum, n := 0.0, 0.0
	for i := range cells {
		if cells[i].distance == distance {
			sum += cells[i].confirmed
			n++
		}
	}
	return sum / n
}

func wheelStudy(ctx context.Context, s Size) ([]Check, error) {
	seed := s.Seed
	o := scenarios.Practised()
	constant, err := wheel(ctx, o, wheelConstant(), seed, s.Trials)
	if err != nil {
		return nil, err
	}
	quick, err := wheel(ctx, o, wheelAccelerated(), seed, s.Trials)
	if err != nil {
		return nil, err
	}
	const band = "slope and time at 4 bits ±20 %, R² ≥ 0.8, 9 of 12 cells within ±40 % of the regression"
	c1 := Check{ID: "A1", What: "notched wheel, constant gain: time against difficulty", Source: hinckley, Status: Read,
		Published: fmt.Sprintf("%s; %.2f s at 4 bits", publishedConstant, publishedConstant.at(4)), Band: band}
	var ok1, ok2 bool
	c1.Measured, ok1 = fits(constant, publishedConstant)
	c2 := Check{ID: "A1", What: "the same, accelerated: gain max(1, 4·(1+8Δt)^−2.5) for Δt < 0.1 s", Source: hinckley, Status: Read,
		Published: fmt.Sprintf("%s; %.2f s at 4 bits", publishedAccelerated, publishedAccelerated.at(4)), Band: band}
	c2.Measured, ok2 = fits(quick, publishedAccelerated)
	faster := func(d float64) float64 { return 1 - byDistance(quick, d)/byDistance(constant, d) }
	c3 := Check{ID: "A1", What: "accelerated against constant by distance", Source: hinckley, Status: Read,
		Published: "alike at 8 notches and less, accelerated faster far out", Band: "≤ 25 % apart at 8 notches, ≥ 10 % faster at 31 and 61",
		Measured: fmt.Sprintf("%.0f %% faster at 8 notches, %.0f %% at 31, %.0f %% at 61", 100*faster(48), 100*faster(192), 100*faster(384))}
	o.Regrip.Mean = 0
	constant0, err := wheel(ctx, o, wheelConstant(), seed, s.Trials)
	if err != nil {
		return nil, err
	}
	quick0, err := wheel(ctx, o, wheelAccelerated(), seed, s.Trials)
	if err != nil {
		return nil, err
	}
	left := func(d float64) float64 {
		return (byDistance(constant0, d) - byDistance(quick0, d)) / (byDistance(constant, d) - byDistance(quick, d))
	}
	c4 := Check{ID: "A1", What: "what acceleration still saves when the clutch takes no time", Source: hinckley, Status: Read,
		Published: "the study explains the saving by the clutching that is spared", Band: "less than half of the saving at 31 and 61 notches",
		Measured: fmt.Sprintf("%.0f %% at 31 notches, %.0f %% at 61", 100*left(192), 100*left(384))}
	return []Check{
		c1.judged(ok1).setOn().inBrief("wheel, constant gain, s", publishedConstant.short(), regression(constant).short()),
		c2.judged(ok2).setOn().inBrief("wheel, accelerated, s", publishedAccelerated.short(), regression(quick).short()),
		c3.judged(math.Abs(faster(48)) <= 0.25 && faster(192) >= 0.1 && faster(384) >= 0.1).setOn(),
		c4.judged(left(192) < 0.5 && left(384) < 0.5),
	}, nil
}

const mackenzie = "MacKenzie, Ware, Lag as a determinant of human performance in interactive systems, INTERCHI '93, 488–493"

// publishedTimes are the mean times of row A2 in seconds, with the confirming
// click; publishedRatios are they over that of the least lag.
var (
	publishedTimes  = []float64{0.911, 0.934, 1.059, 1.493}
	publishedRatios = []float64{1, 934.0 / 911, 1059.0 / 911, 1493.0 / 911}
)

// publishedSeconds writes the times of row A2.
func publishedSeconds() string { return slashed(publishedTimes) + " s" }

// slashed writes numbers with two digits in a row.
func slashed(x []float64) string {
	var text []string
	for _, v := range x {
		text = append(text, fmt.Sprintf("%.2f", v))
	}
	return strings.Join(text, "/")
}

// lagCells does the lag study at every lag.
func lagCells(ctx context.Context, o scenarios.Operator, seed uint64, trials int) (all [][]cell, err error) {
	for _, lag := range lags {
		cells, err := lagged(ctx, o, lag, seed, trials)
		if err != nil {
			return nil, err
		}
		all = append(all, cells)
	}
	return all, nil
}

func lagStudy(ctx context.Context, s Size) ([]Check, error) {
	all, err := lagCells(ctx, scenarios.Practised(), s.Seed, s.Trials)
	if err != nil {
		return nil, err
	}
	var id, lag, mt []float64
	var pools []cell
	var ratios, clicked, keyed []float64
	rising, fit, near := true, true, true
	for i, cells := range all {
		p := pooled(cells)
		pools = append(pools, p)
		r := p.time / pools[0].time
		ratios = append(ratios, r)
		clicked = append(clicked, p.clicked)
		keyed = append(keyed, p.confirmed)
		near = near && within(p.clicked, publishedTimes[i], 0.25)
		fit = fit && within(r, publishedRatios[i], 0.1)
		rising = rising && (i == 0 || p.time > pools[i-1].time)
		for k := range cells {
			id = append(id, cells[k].id())
			lag = append(lag, lags[i].Seconds())
			mt = append(mt, cells[k].time)
		}
	}
	least, most := pools[0], pools[len(pools)-1]
	product, sum := fitProduct(id, lag, mt), fitSum(id, lag, mt)
	a2 := Check{ID: "A2", What: "lag 8.3/25/75/225 ms: mean time over that of the least", Source: mackenzie, Status: SecondHand,
		Published: "1/1.03/1.16/1.64", Band: "each within ±10 %", Measured: slashed(ratios)}
	rise := Check{ID: "A2", What: "time rises with lag", Source: mackenzie, Status: Read, Published: "+64 % at 225 ms", Band: "strictly rising",
		Measured: fmt.Sprintf("%.2f/%.2f/%.2f/%.2f s", pools[0].time, pools[1].time, pools[2].time, pools[3].time)}
	over := Check{ID: "A2", What: "more errors with lag: share of overshoots at 225 ms against 8.3 ms", Source: mackenzie, Status: SecondHand,
		Published: "errors 3.6 → 11.3 % (+214 %)", Band: "at least twice",
		Measured: fmt.Sprintf("%.0f %% against %.0f %%", 100*most.over, 100*least.over)}
	strokes := Check{ID: "A2", What: "lag turns smooth approaches into wait-and-see: strokes a trial", Source: mackenzie, Status: SecondHand,
		Published: "the authors' own explanation", Band: "more at 225 ms than at 8.3 ms", Measured: fmt.Sprintf("%.2f → %.2f", least.strokes, most.strokes)}
	a3 := Check{ID: "A3", What: "lag × difficulty: MT = a + (b + c·LAG)·ID", Source: mackenzie, Status: SecondHand,
		Published: "c = 1.03; the product fits better than the sum", Band: "c from 0.4 to 1.6, R² above that of a + b·ID + c·LAG",
		Measured: fmt.Sprintf("c = %.2f, R² %.3f against %.3f", product.c, product.r2, sum.r2)}
	a19 := Check{ID: "A19", What: "the lag study's own mean times at 8.3/25/75/225 ms: from the first movement to the click of a finger on the button", Source: mackenzie, Status: SecondHand,
		Published: publishedSeconds(), Band: "each within ±25 %",
		Measured: fmt.Sprintf("%s s; from the target's appearance to the confirming key of row A1 %s s", slashed(clicked), slashed(keyed))}
	return []Check{
		a2.judged(fit).setOn().inBrief("lag 8–225 ms, ratios", "1/1.03/1.16/1.64", slashed(ratios)), rise.judged(rising), over.judged(most.over >= 2*least.over), strokes.judged(most.strokes > least.strokes),
		a3.judged(product.r2 > sum.r2 && product.c >= 0.4 && product.c <= 1.6),
		a19.judged(near).inBrief("lag study, own times, s", slashed(publishedTimes), slashed(clicked)),
	}, nil
}

const jenkins = "Jenkins, Connor, Some design factors in making settings on a linear scale, J. Appl. Psychol. 33 (1949) 395–409"

func gainStudy(ctx context.Context, s Size) ([]Check, error) {
	var checks []Check
	var best []float64
	for _, tolerance := range sweepTolerances {
		sweep, err := gainSweep(ctx, scenarios.Practised(), tolerance, s.Seed, s.Trials)
		if err != nil {
			return nil, err
		}
		least := 0
		falling, rising := true, true
		text := []string{}
		for i := range sweep {
			g := &sweep[i]
			if g.total() < sweep[least].total() {
				least = i
			}
			if i > 0 {
				falling = falling && g.travel < sweep[i-1].travel
				rising = rising && g.adjust >= 0.95*sweep[i-1].adjust
			}
			text = append(text, fmt.Sprintf("%g: %.1f+%.1f", g.gain, g.travel, g.adjust))
		}
		bottom := sweep[least].total()
		ends := min(sweep[0].total(), sweep[len(sweep)-1].total()) / bottom
		best = append(best, sweep[least].gain)
		c := Check{ID: "A4", What: fmt.Sprintf("gain sweep 16:1, target ±%g: travel + adjusting time", tolerance), Source: jenkins, Status: Memory,
			Published: "travel time falls, adjusting time rises, the total has a minimum between",
			Band:      "travel falls; adjusting never falls by over 5 %; both ends ≥ 15 % above an interior minimum",
			Measured:  fmt.Sprintf("%s s; least at gain %g, ends ≥ %.0f %% above", strings.Join(text, ", "), sweep[least].gain, 100*(ends-1))}
		checks = append(checks, c.judged(falling && rising && least > 0 && least < len(sweep)-1 && ends >= 1.15))
	}
	c := Check{ID: "A4", What: "the best gain by tolerance", Source: jenkins, Status: Memory, Published: "falls when the tolerance tightens", Band: "falls",
		Measured: fmt.Sprintf("%g for ±%g, %g for ±%g", best[0], sweepTolerances[0], best[1], sweepTolerances[1])}
	return append(checks, c.judged(best[1] < best[0]).inBrief("best gain, wide, narrow target", "falls", fmt.Sprintf("%g, then %g", best[0], best[1]))), nil
}

func intervalStudy(ctx context.Context, s Size) ([]Check, error) {
	h, err := wheelIntervals(ctx, scenarios.Practised(), s.Seed, max(10, s.Trials/8))
	if err != nil {
		return nil, err
	}
	low, valley, high := h.dip()
	c := Check{ID: "A9", What: "intervals between notches, pooled over the wheel trials", Source: strings.Replace(hinckley, "Table 2", "Fig. 2", 1), Status: Read,
		Published: "two modes, split near 0.1 s", Band: "two modes, dip between 0.08 and 0.2 s",
		Measured: fmt.Sprintf("modes at %.0f ms and %.0f ms, dip at %.0f ms", 1e3*low, 1e3*high, 1e3*valley)}
	return []Check{c.judged(valley >= 0.08 && valley <= 0.2)}, nil
}

func overshootStudy(ctx context.Context, s Size) ([]Check, error) {
	o := scenarios.Practised()
	plain, err := overshooting(ctx, o, scenarios.Profile{Name: "plain"}, s.Seed, s.Trials)
	if err != nil {
		return nil, err
	}
	text, ok := []string{fmt.Sprintf("plain %.0f %% in %.1f s", 100*plain.over, plain.time)}, true
	for _, p := range accelerated() {
		c, err := overshooting(ctx, o, p, s.Seed, s.Trials)
		if err != nil {
			return nil, err
		}
		text = append(text, fmt.Sprintf("%s %.0f %% in %.1f s", p.Name, 100*c.over, c.time))
		ok = ok && c.over >= plain.over && c.time < plain.time
	}
	c := Check{ID: "A10", What: "overshoot with and without acceleration, numbers 10 to 160 steps away", Status: Abstract,
		Source:    "Casiez, Vogel, Balakrishnan, Cockburn, HCI 23 (2008) 215–250",
		Published: "faster, but more overshoot", Band: "every accelerated profile overshoots at least as often as the constant one, and is faster",
		Measured: strings.Join(text, ", ")}
	return []Check{c.judged(ok)}, nil
}

func reversalStudy(ctx context.Context, s Size) ([]Check, error) {
	o := scenarios.Practised()
	share := map[accel.Reversal]float64{}
	for _, rule := range []accel.Reversal{accel.Reset, accel.Keep} {
		var err error
		if share[rule], err = secondOvershoots(ctx, o, time.Second, rule, s.Seed, s.Trials); err != nil {
			return nil, err
		}
	}
	c := Check{ID: "A11", What: "second overshoots with the rate reset or kept on reversal, rest 1 s", Status: Read,
		Source:    "Quinn, Cockburn, Casiez, Roussel, Gutwin, UIST '12, 341–350",
		Published: "drivers reset it so that corrections are not amplified", Band: "fewer with reset",
		Measured: fmt.Sprintf("%.0f %% with reset, %.0f %% with keep", 100*share[accel.Reset], 100*share[accel.Keep])}
	return []Check{c.judged(share[accel.Reset] < share[accel.Keep])}, nil
}
