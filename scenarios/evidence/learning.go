package evidence

import (
	"context"
	"fmt"
	"math"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// The learning study: the gain of a smooth knob was doubled and nobody said so. In
// trial n people are wrong about it by what practice has left: n^−0.4 of the
// surprise. Familiarity is a function of the trial's index, never a hidden state.
const (
	practice = -0.4
	newGain  = 2
)

// learningTrials are the trials in which people are watched: a power law needs as many
// at every magnitude.
var learningTrials = []int{1, 2, 3, 4, 6, 8, 11, 15, 20, 29, 40}

// learned is what many people did in one trial after the change.
type learned struct {
	past, short float64 // shares of people whose first stroke that could end at the target went past it, or fell short
	off         float64 // mean signed steps that it was off, past it > 0
	time        float64 // mean seconds
}

// learning follows so many people over their first trials with the new gain. With
// surprise 0 they know it.
func learning(ctx context.Context, o scenarios.Operator, surprise float64, seed uint64, people int) ([]learned, error) {
	crowd, err := hand.NewPeople(o)
	if err != nil {
		return nil, err
	}
	gain, err := accel.Acceleration{Curve: accel.Constant{Gain: newGain}}.Compile()
	if err != nil {
		return nil, err
	}
	rig := ideal(smoothKnob)
	setup := encoder.Setup{Rig: &rig, Gain: gain}
	grip, err := hand.NewGrip(setup, crowd)
	if err != nil {
		return nil, err
	}
	path, err := encoder.NewPath(setup)
	if err != nil {
		return nil, err
	}
	const distance, tolerance = 1000, 40
	h := hand.Hand{People: crowd}
	var all []learned
	for _, n := range learningTrials {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		d := hand.Dial{Path: path, Grip: grip, Tolerance: tolerance, Limit: int64(scenarios.DefaultLimit)}
		d.Surprise = int64(math.Round(surprise * math.Pow(float64(n), practice) * draw.One))
		var l learned
		for i := range people {
			source := draw.NewTrial(seed, "learning", i*learningTrials[len(learningTrials)-1]+n)
			w := crowd.Draw(source)
			h.Start(w, source)
			path.Start(source, 0)
			done := h.Run(&d, w.Reaction, 0, distance)
			path.Finish()
			switch off := float64(done.First); {
			case off > tolerance:
				l.past++
			case off < -tolerance:
				l.short++
			}
			l.off += float64(done.First)
			l.time += float64(done.At) / 1e9
		}
		n := float64(people)
		all = append(all, learned{l.past / n, l.short / n, l.off / n, l.time / n})
	}
	return all, nil
}

func learningStudy(ctx context.Context, s Size) ([]Check, error) {
	o := scenarios.Practised()
	people := max(60, s.Trials)
	surprised, err := learning(ctx, o, newGain-1, s.Seed, people)
	if err != nil {
		return nil, err
	}
	known, err := learning(ctx, o, 0, s.Seed, people)
	if err != nil {
		return nil, err
	}
	var x, y []float64
	for i := range surprised {
		if extra := surprised[i].off - known[i].off; extra > 0 {
			x = append(x, math.Log(float64(learningTrials[i])))
			y = append(y, math.Log(extra))
		}
	}
	l := fitLine(x, y)
	first, last := surprised[0], surprised[len(surprised)-1]
	lastTrial := learningTrials[len(learningTrials)-1]
	const source = "Card, Moran, Newell (1983), power law of practice"
	over := Check{ID: "learning", What: "a doubled, unannounced gain: first strokes past the target against short of it", Status: Memory, Source: source,
		Published: "no figure; who believes in the old gain goes too far", Band: "more past than short in the first trial, and fewer past in the last",
		Measured: fmt.Sprintf("%.0f %% past, %.0f %% short in trial 1; %.0f %% past in trial %d", 100*first.past, 100*first.short, 100*last.past, lastTrial)}
	power := Check{ID: "learning", What: "how much further than meant the first stroke goes, over the trials", Status: Memory, Source: source,
		Published: "a power of the trial's number, exponent −0.4 [−0.2, −0.6]", Band: "exponent from −0.6 to −0.2; quicker in the last trial than in the first",
		Measured: fmt.Sprintf("exponent %.2f; %.1f s in trial 1, %.1f s in trial %d, %.1f s when the gain is known", l.slope, first.time, last.time, lastTrial, known[0].time)}
	const why = "the surprise and its exponent are put in (the law itself concerns task times)"
	return []Check{over.shown(first.past > first.short && last.past < first.past, why), power.shown(l.slope >= -0.6 && l.slope <= -0.2 && last.time < first.time, why)}, nil
}
