package evidence

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/radio"
	"dialwright/scenarios/trial"
)

// pulsesAgainstCounts is the demo's own rig, with pulses and with counts.
func pulsesAgainstCounts(ctx context.Context, s Size) ([]Check, error) {
	o := scenarios.Practised()
	plain := scenarios.Profile{Name: "plain"}
	measure := func(name string) (time, lost float64, err error) {
		rig := demo.Rig(name)
		detents, gone := 0, 0
		c, err := run(ctx, trial.Cell{Task: demo.Task("heading"), Rings: 1, Inner: &rig.Rig, Profile: &plain, Operator: &o}, s.Seed, s.Trials, func(r *trial.Result) {
			detents += r.Account.Detents
			gone += r.Account.Lost()
		})
		return c.time, float64(gone) / float64(max(1, detents)), err
	}
	pulses, lost, err := measure("left-pulse")
	if err != nil {
		return nil, err
	}
	counts, lostCounts, err := measure("right-relative")
	if err != nil {
		return nil, err
	}
	c := Check{ID: "B16", What: "button pulses against relative counts, headings on the demo's rig", Status: Practice, Source: "no source",
		Published: "pulses feel slow; relative counts do not", Band: "relative is faster and loses no detent",
		Measured: fmt.Sprintf("%.1f s and %.0f %% lost with pulses, %.1f s and %.0f %% with counts", pulses, 100*lost, counts, 100*lostCounts)}
	return []Check{c.judged(counts < pulses && lostCounts == 0 && lost > 0).inBrief("pulses, counts: heading, s", "counts faster", fmt.Sprintf("%.1f, %.1f", pulses, counts))}, nil
}

// walk turns a knob through all numbers of a task and back to the first, a click
// every 60 ms on a whole path, and returns what the screen showed.
func (s Size) walk(task *scenarios.Task) ([]encoder.Change, error) {
	rig := encoder.Default()
	rig.Firmware.Output = encoder.Relative
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig, Scale: task.Scale()})
	if err != nil {
		return nil, err
	}
	path.Start(s.source(task.Name), 0)
	for i := range task.Count() {
		path.Detent((i+1)*int64(60*time.Millisecond), +1)
	}
	path.Finish()
	return path.Changes(), nil
}

const kHz = scenarios.Unity

func channels(_ context.Context, s Size) ([]Check, error) {
	text, ok := "", true
	for _, x := range []struct {
		task  *scenarios.Task
		names int
	}{{radio.COM25(), 760}, {radio.COM833(), 3040}} {
		shown, err := s.walk(x.task)
		if err != nil {
			return nil, err
		}
		seen := map[scenarios.Amount]bool{}
		wrong := 0
		for i, c := range shown {
			name := x.task.At(c.Value)
			_, exists := radio.ChannelNamed(name)
			if last := int64(name/kHz) % 100; !exists || last == 20 || last == 45 || last == 70 || last == 95 || c.Value != int64(i+1)%x.task.Count() {
				wrong++
			}
			seen[name] = true
		}
		ok = ok && len(seen) == x.names && wrong == 0 && len(shown) == x.names
		text += fmt.Sprintf("%s: %d clicks, %d names, %d wrong; ", x.task.Name, len(shown), len(seen), wrong)
	}
	carriers := 0
	for name, hz := range map[int64]int64{118805: 118800000, 133010: 133008333, 127560: 127558333} {
		if c, found := radio.ChannelNamed(scenarios.Amount(name) * kHz); found && c.Carrier == hz {
			carriers++
		}
	}
	text += fmt.Sprintf("%d of 3 carriers as read", carriers)
	c1 := Check{ID: "C1", What: "the radio band, click by click through a whole path", Status: Memory, Source: "ICAO Annex 10 Vol V Table 4-1 (bis); spot checks read",
		Published: "760 names at 25 kHz, 3040 with 8.33 kHz, none ending 20, 45, 70, 95; 118.805 → 118.8000, 133.010 → 133.0083, 127.560 → 127.5583 MHz",
		Band:      "one click is one name; exact", Measured: text}

	nav, localizers := radio.NAV(), 0
	shown, err := s.walk(nav)
	if err != nil {
		return nil, err
	}
	for _, c := range shown {
		if radio.IsLocalizer(nav.At(c.Value)) {
			localizers++
		}
	}
	c2 := Check{ID: "C2", What: "navigation settings, click by click", Status: Read, Source: "FAA AIM 1-1-3",
		Published: "200 settings 108.00–117.95, 40 of localizers", Band: "counts", Measured: fmt.Sprintf("%d, %d", len(shown), localizers)}
	ndb := radio.NDB()
	if shown, err = s.walk(ndb); err != nil {
		return nil, err
	}
	top := ndb.At(shown[len(shown)-1].Value)
	c3 := Check{ID: "C3", What: "beacon settings, click by click to the stop", Status: Read, Source: "FAA AIM 1-1-2; 1 kHz step from memory",
		Published: "190–1750 kHz, 1561 settings", Band: "counts", Measured: fmt.Sprintf("%d clicks change the number, up to %v kHz, and %d settings", countMoves(shown), top, ndb.Count())}
	return []Check{
		c1.judged(ok && carriers == 3), c2.judged(len(shown) > 0 && nav.Count() == 200 && localizers == 40),
		c3.judged(countMoves(shown) == 1560 && top == 1750*kHz && ndb.Count() == 1561),
	}, nil
}

// countMoves counts the changes that changed the number.
func countMoves(shown []encoder.Change) (n int) {
	before := int64(0)
	for _, c := range shown {
		if c.Value != before {
			n++
		}
		before = c.Value
	}
	return n
}

func transponder(ctx context.Context, s Size) ([]Check, error) {
	task := scenarios.Transponder()
	pairs, crossing, naive := 0, 0, 0
	stride := max(9, 800_000/int64(s.Events)) | 1 // odd: every last digit occurs; a test of package scenarios does all pairs
	for from := int64(0); from < task.Count(); from += stride {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for to := int64(0); to < task.Count(); to++ {
			if task.Alarmed(from) || task.Alarmed(to) {
				continue
			}
			pairs++
			turns, crossed := task.SafeTurns(from, to)
			if crossed > 0 || task.Crossed(from, turns) > 0 {
				crossing++
			}
			straight := make([]scenarios.DigitTurn, 0, 4)
			for _, d := range task.Digits {
				place := int64(1) << (3 * d)
				if off := to/place%8 - from/place%8; off != 0 {
					straight = append(straight, scenarios.DigitTurn{Digit: d, Clicks: off})
				}
			}
			if task.Crossed(from, straight) > 0 {
				naive++
			}
		}
	}
	c := Check{ID: "C4", What: "transponder codes on the way, suggested order and direction of the digits", Status: SecondHand, Source: "FAA AIM 4-1-20",
		Published: "never pass through 7500, 7600–7677, 7700–7777", Band: "the suggestion crosses none",
		Measured: fmt.Sprintf("%d of %d pairs of codes cross one; left to right without going round %d do", crossing, pairs, naive)}
	return []Check{c.judged(crossing == 0 && naive > 0).inBrief("alarm codes crossed", "none", fmt.Sprintf("%d of %d pairs", crossing, pairs))}, nil
}

func numbers(_ context.Context, s Size) ([]Check, error) {
	heading := scenarios.Heading()
	scale := heading.Scale()
	last, _ := heading.Index(360 * scenarios.Unity)
	_, zero := heading.Index(0)
	c5 := Check{ID: "C5", What: "heading: the click after 360", Status: Read, Source: "FAA AIM 4-2-10", Published: "001–360, north is 360, never 000",
		Band: "wraps 360 → 001", Measured: fmt.Sprintf("%v after %v; 000 exists: %v; %d headings", heading.At(scale.Add(last, 1)), heading.At(last), zero, heading.Count())}

	low, high := scenarios.Altitude(), scenarios.AltitudeThousands()
	bounded := func(t *scenarios.Task) bool {
		sc := t.Scale()
		return sc.Add(0, -1) == 0 && sc.Add(t.Count()-1, 1) == t.Count()-1
	}
	c6 := Check{ID: "C6", What: "altitude steps", Status: Read, Source: "14 CFR 91.219(b)(3)", Published: "commensurate increments; hundreds of feet",
		Band: "steps of 100 and 1000 ft that stop at the bounds", Measured: fmt.Sprintf("%v and %v ft, stop: %v", low.Step, high.Step, bounded(low) && bounded(high))}

	inHg, hPa := scenarios.AltimeterInHg(), scenarios.AltimeterHPa()
	feet := hPa.Effect.PerStep.Float()
	c7 := Check{ID: "C7", What: "altimeter settings and what one click does", Status: Read, Source: "FAA-H-8083-15, AIM 7-2-2",
		Published: "28.00–31.00 by 0.01 (301), 948–1050 hPa by 1 (103); a click is 10 ft and about 30 ft", Band: "counts; 10 ft and 30 ft",
		Measured: fmt.Sprintf("%d and %d settings; %v ft and %.1f ft", inHg.Count(), hPa.Count(), inHg.Effect.PerStep, feet)}

	vs := scenarios.VerticalSpeed()
	zeroAt, found := vs.Index(0)
	c8 := Check{ID: "C8", What: "vertical speed", Status: Practice, Source: "no source", Published: "100 ft/min", Band: "by 100 ft/min through zero",
		Measured: fmt.Sprintf("by %v %s from %v to %v; zero: %v", vs.Step, vs.Unit, vs.From, vs.To, found && vs.At(zeroAt) == 0)}

	outside, drawn := 0, 0
	var tolerances []int64
	for _, t := range radio.Tolerances() {
		tolerances = append(tolerances, t.Hz)
		for _, b := range radio.Bands() {
			if b.Upper-b.Lower < scenarios.Amount(t.Hz)*kHz/1000 {
				continue
			}
			task := radio.Tuning(b, t)
			for n := range max(10, s.Trials/4) {
				from, to := task.Draw(s.source(fmt.Sprint(task.Name, n)))
				for _, i := range []int64{from, to} {
					drawn++
					if at := task.At(i); at < 1000*b.Lower || at > 1000*b.Upper {
						outside++
					}
				}
			}
		}
	}
	c9 := Check{ID: "C9", What: "HF tuning inside the bands, three tolerances", Status: Read, Source: "band edges tables/band_plans.csv; 47 CFR 87.133 for ±20 and ±50 Hz, ±200 Hz for beginners (weak)",
		Published: "±20, ±50, ±200 Hz", Band: "never leaves the band; the tolerances are named", Measured: fmt.Sprintf("%d of %d numbers outside; ±%v Hz", outside, drawn, tolerances)}
	const why = "the task is written down so"
	return []Check{
		c5.shown(heading.At(scale.Add(last, 1)) == scenarios.Unity && !zero && heading.Count() == 360, why),
		c6.shown(low.Step == 100*scenarios.Unity && high.Step == 1000*scenarios.Unity && bounded(low) && bounded(high), why),
		c7.shown(inHg.Count() == 301 && hPa.Count() == 103 && inHg.Effect.PerStep == 10*scenarios.Unity && math.Abs(feet-30) < 1, why),
		c8.shown(vs.Step == 100*scenarios.Unity && found, why), c9.judged(outside == 0 && slices.Equal(tolerances, []int64{20, 50, 200})),
	}, nil
}

func handOffs(context.Context, Size) ([]Check, error) {
	com := radio.COM25()
	var change, one, two []float64
	for _, p := range radio.HandOffs().Pairs {
		change = append(change, math.Abs(p.To.Float()-p.From.Float())/1000)
		from, ok1 := com.Index(p.From)
		to, ok2 := com.Index(p.To)
		if ok1 && ok2 {
			one = append(one, math.Abs(float64(to-from)))
			two = append(two, float64(com.Clicks(from, to, 2)))
		}
	}
	median := func(x []float64) float64 {
		slices.Sort(x)
		return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
	}
	c11 := Check{ID: "C11", What: "real hand-offs, medians over 3000 rows", Status: Read, Source: "tables/com_pairs.csv, public-domain OurAirports tables",
		Published: "3.70 MHz, 148 clicks on one 25 kHz knob, 14 on two rings with wrap", Band: "reproduce",
		Measured: fmt.Sprintf("%.2f MHz, %g clicks, %g clicks", median(change), median(one), median(two))}
	return []Check{c11.judged(math.Abs(median(change)-3.70) < 0.005 && median(one) == 148 && median(two) == 14).
		inBrief("hand-offs: MHz, clicks, rings", "3.70, 148, 14", fmt.Sprintf("%.2f, %g, %g", median(change), median(one), median(two)))}, nil
}

// ringsAgainstKnob makes the comparison that the handbook's advice is about.
func ringsAgainstKnob(ctx context.Context, s Size) ([]Check, error) {
	com := radio.COM25()
	rig := demo.Rig("right-relative").Rig
	o := scenarios.Practised()
	plain := scenarios.Profile{Name: "plain"}
	var power scenarios.Profile
	for _, p := range accelerated() {
		if p.Name == "power" {
			power = p
		}
	}
	rings, err := run(ctx, trial.Cell{Task: com, Rings: 2, Inner: &rig, Outer: &rig, Profile: &plain, Operator: &o}, s.Seed, s.Trials, nil)
	if err != nil {
		return nil, err
	}
	knob, err := run(ctx, trial.Cell{Task: com, Rings: 1, Inner: &rig, Profile: &power, Operator: &o}, s.Seed, s.Trials, nil)
	if err != nil {
		return nil, err
	}
	c12 := Check{ID: "C12", What: "two rings against one accelerated knob, the same hand-offs", Status: Read, Source: "MIL-STD-1472E 5.4.2.2.2.1; FAA InFO 16022",
		Published: "concentric knobs: two preferred, not for frequent changes; wrong-ring errors happen (no rate)", Band: "the comparison is made",
		Measured: fmt.Sprintf("%.1f s with two rings, %.1f s with one accelerated knob", rings.time, knob.time)}
	return []Check{c12.shown(rings.trials == s.Trials && knob.trials == s.Trials, "no published time of either to compare with; tune --decide rings sets each as suits it best")}, nil
}
