package evidence

import (
	"context"
	"fmt"
	"math"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/trial"
)

// processingTimes draws people of every operator, and sees how soon they correct.
func processingTimes(ctx context.Context, s Size) ([]Check, error) {
	n := 20 * s.Trials
	worst := 1.0
	fastest := int64(math.MaxInt64)
	for _, o := range scenarios.Operators() {
		people, err := hand.NewPeople(o)
		if err != nil {
			return nil, err
		}
		inside := 0
		for i := range n {
			w := people.Draw(draw.NewTrial(s.Seed, "people", i))
			sum := w.Perceive + w.Decide + w.Act
			fastest = min(fastest, sum)
			if perceiving.holds(w.Perceive) && deciding.holds(w.Decide) && acting.holds(w.Act) && correcting.holds(sum) {
				inside++
			}
		}
		worst = min(worst, float64(inside)/float64(n))
	}
	a6 := Check{ID: "A6", What: "processing times of novice, practised and expert people", Status: SecondHand,
		Source:    "Card, Moran, Newell, The Psychology of Human-Computer Interaction (1983)",
		Published: "perceive 100 [50–200], decide 70 [25–170], act 70 [30–100], together 240 [105–470] ms",
		Band:      "95 % of the people inside; no correction sooner than 105 ms",
		Measured:  fmt.Sprintf("%.1f %% inside at least; the fastest of %d people corrects after %d ms", 100*worst, 3*n, fastest/1e6)}
	soonest, seen, err := soonestCorrection(ctx, s)
	if err != nil {
		return nil, err
	}
	b := Check{ID: "A6", What: "soonest turn back after the screen showed the number past the target", Status: SecondHand, Source: a6.Source,
		Published: "one correction 240 [105–470] ms", Band: "none sooner than 105 ms", Measured: fmt.Sprintf("%.0f ms, of %d", float64(soonest)/1e6, seen)}
	return []Check{a6.shown(worst >= 0.95 && fastest >= 105e6, "the presets are taken from the source"), b.judged(seen > 0 && soonest >= 105e6)}, nil
}

// soonestCorrection returns the least time from the screen's passing the target to
// the stroke that turns back, in ns, over trials of all operators, and of how many.
func soonestCorrection(ctx context.Context, s Size) (soonest int64, seen int, err error) {
	soonest = math.MaxInt64
	rig := ideal(detentedKnob)
	for _, o := range scenarios.Operators() {
		for _, p := range accelerated() {
			b, err := trial.NewBench(trial.Cell{Task: numberTask(60), Rings: 1, Inner: &rig, Profile: &p, Operator: &o})
			if err != nil {
				return 0, 0, err
			}
			way, back := int64(0), int64(0)
			b.Trace = func(_ int, a hand.Act) {
				switch {
				case a.Kind != hand.Stroke:
				case way == 0:
					way = a.Turned
				case back == 0 && (a.Turned > 0) != (way > 0):
					back = a.At
				}
			}
			for n := range s.Trials {
				if ctx.Err() != nil {
					return 0, 0, ctx.Err()
				}
				way, back = 0, 0
				if r := b.Run(s.Seed, n); r.PastAt > 0 && back > r.PastAt {
					soonest = min(soonest, back-r.PastAt)
					seen++
				}
			}
		}
	}
	return soonest, seen, nil
}

// minimumJerk lets somebody make long strokes on a smooth knob and measures their
// peak speed on the edges that the path gets.
func minimumJerk(_ context.Context, s Size) ([]Check, error) {
	o := scenarios.Practised()
	rig := ideal(smoothKnob)
	b, err := trial.NewBench(trial.Cell{Task: smoothTask(1000, 40), Rings: 1, Inner: &rig, Profile: &scenarios.Profile{Name: "plain"}, Operator: &o})
	if err != nil {
		return nil, err
	}
	var edges []int64
	var from, until int64
	b.Path = func(_ int, e encoder.Event) {
		if e.Kind == encoder.Turned {
			edges = append(edges, e.At)
		}
	}
	best, seen := 0.0, 0
	b.Trace = func(_ int, a hand.Act) {
		if a.Kind == hand.Stroke && a.Turned*a.Turned > 400*400 {
			from, until = a.At, a.Until
			n := len(edges)
			turned := int(max(a.Turned, -a.Turned))
			stroke := edges[n-turned:]
			fastest := int64(math.MaxInt64)
			const over = 8 // quarter steps, to smooth what is rounded
			for i := over; i < len(stroke); i++ {
				fastest = min(fastest, stroke[i]-stroke[i-over])
			}
			peak := over / float64(fastest) * float64(until-from) / float64(turned)
			best += peak
			seen++
		}
	}
	for n := range 50 {
		edges = edges[:0]
		b.Run(s.Seed, n)
	}
	mean := best / float64(seen)
	c := Check{ID: "A7", What: "peak over mean speed of a stroke", Status: Derived, Source: "Flash, Hogan, J. Neurosci. 5 (1985) 1688–1703 (from memory)",
		Published: "1.875", Band: "±0.5 %", Measured: fmt.Sprintf("%.4f over %d strokes", mean, seen)}
	return []Check{c.judged(within(mean, 1.875, 0.005))}, nil
}

// throughput runs the effective width through simulated end points: 4.133 standard
// deviations hold 96 % of a normal spread.
func throughput(_ context.Context, s Size) ([]Check, error) {
	stream := s.source("end points").Stream(draw.Stroke)
	n := int64(20 * s.Events)
	width := effectiveWidth(draw.One)
	inside := 0
	for i := range n {
		if x := float64(stream.Normal(i)); math.Abs(x) <= width/2 {
			inside++
		}
	}
	share := float64(inside) / float64(n)
	factor := effectiveWidth(1)
	c := Check{ID: "A12", What: "effective width of a target: We = 4.133·SD holds 96 % of the end points", Status: Derived,
		Source: "ISO/TS 9241-411 (from memory); √(2πe)", Published: "4.1327; 96.1 %", Band: "4.1327 ± 0.0001; 96.1 ± 0.2 % of drawn end points",
		Measured: fmt.Sprintf("%.4f; %.2f %%", factor, 100*share)}
	return []Check{c.judged(math.Abs(factor-4.1327) <= 1e-4 && math.Abs(share-0.9612) <= 0.002)}, nil
}

// effectiveWidth is the width of the target that a spread of end points amounts to
// (ISO/TS 9241-411): √(2πe) standard deviations, the entropy of a normal spread.
func effectiveWidth(sd float64) float64 { return math.Sqrt(2*math.Pi*math.E) * sd }
