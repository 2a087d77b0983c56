package evidence

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
)

// The built-in novice and expert are what the procedure derives from the practised
// operator. (operators.go is written from this table.)
func TestNoviceAndExpertAreDerived(t *testing.T) {
	novice, expert := skills(scenarios.Practised())
	t.Logf("\n%s", skillTable(novice, scenarios.Practised(), expert))
	if built := scenarios.Operators(); built[0] != novice || built[2] != expert {
		t.Errorf("the built-in novice and expert are not the derived ones:\n%s", skillTable(built...))
	}
}

// The derived people keep within the ranges they are derived from, and turn on and on
// by the factor of the hand slower and faster than the practised.
func TestDerivedPeopleKeepWithinTheRanges(t *testing.T) {
	novice, expert := skills(scenarios.Practised())
	rate := func(o scenarios.Operator) float64 {
		r, err := turningRate(context.Background(), o, 1, 20)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	practised := rate(scenarios.Practised())
	for _, x := range []struct {
		o    scenarios.Operator
		hand float64
	}{{novice, acting.slower()}, {expert, acting.faster()}} {
		people, err := hand.NewPeople(x.o)
		if err != nil {
			t.Fatal(err)
		}
		const n = 4000
		inside := 0
		for i := range n {
			w := people.Draw(draw.NewTrial(1, "skill", i))
			if perceiving.holds(w.Perceive) && deciding.holds(w.Decide) && acting.holds(w.Act) && correcting.holds(w.Perceive+w.Decide+w.Act) {
				inside++
			}
		}
		if inside < n*95/100 {
			t.Errorf("%s: %d of %d people are inside the ranges", x.o.Name, inside, n)
		}
		if got, want := rate(x.o), practised/x.hand; math.Abs(got/want-1) > 0.06 {
			t.Errorf("%s: %.1f detents a second, want %.1f", x.o.Name, got, want)
		}
	}
}

// skillShare is how far, in proportion, novice and expert lie from the middle of a
// range towards its slow and its fast end: a third of the way, so that people of
// either (CV 15 %) keep within the range; ours.
const skillShare = 1.0 / 3

func (s span) slower() float64 { return math.Pow(s.high/s.middle, skillShare) }
func (s span) faster() float64 { return math.Pow(s.low/s.middle, skillShare) }

// skills derives the novice and the expert from the practised operator:
//
//   - perceive, decide and act lie a third of the way, in proportion, from practised to
//     the slow or the fast end of their own range in row A6;
//   - what the hand does (begin, regrip, hand move, key press, and the paces, the other
//     way) changes as acting does. Strokes and regrips then change by one factor, so
//     that people turn on and on (row A14) by that factor slower or faster than the
//     practised, who keep the pace of MTM-1's tables;
//   - what needs seeing and deciding too (reaction, fixation, confirm, eye move) changes
//     as the whole correction does;
//   - noise of all kinds and the gain error change as the whole correction does, and
//     familiarity the other way: ours, no source;
//   - reach is a matter of the arm and stays.
func skills(practised scenarios.Operator) (novice, expert scenarios.Operator) {
	return skilled(practised, "novice", span.slower), skilled(practised, "expert", span.faster)
}

func skilled(o scenarios.Operator, name string, factor func(span) float64) scenarios.Operator {
	o.Name = name
	times := func(f float64, delays ...*scenarios.Delay) {
		for _, d := range delays {
			d.Mean = time.Duration(math.Round(f*float64(d.Mean)/1e6)) * time.Millisecond
		}
	}
	spreads := func(f float64, unit float64, spreads ...*scenarios.Spread) {
		for _, s := range spreads {
			s.Mean = math.Round(f*s.Mean/unit) * unit
			s.Mean = math.Round(s.Mean*1e6) / 1e6
		}
	}
	hand, all := factor(acting), factor(correcting)
	times(factor(perceiving), &o.Perceive)
	times(factor(deciding), &o.Decide)
	times(hand, &o.Act, &o.Begin, &o.Regrip, &o.HandMove, &o.KeyPress)
	times(all, &o.Reaction, &o.Fixation, &o.Confirm, &o.EyeMove)
	spreads(1/hand, 1, &o.SlowDegPerS, &o.FastDegPerS)
	spreads(all, 0.005, &o.Noise, &o.PaceNoise, &o.FeltNoise, &o.GainError)
	spreads(all, 0.01, &o.FingerNoiseDeg)
	spreads(1/all, 0.01, &o.Familiarity)
	return o
}

// skillTable prints operators side by side, the mean of a quantity a line.
func skillTable(os ...scenarios.Operator) string {
	var b strings.Builder
	for i := range reflect.TypeFor[scenarios.Operator]().NumField() {
		fmt.Fprintf(&b, "%-22s", reflect.TypeFor[scenarios.Operator]().Field(i).Name)
		for _, o := range os {
			switch v := reflect.ValueOf(o).Field(i).Interface().(type) {
			case scenarios.Delay:
				fmt.Fprintf(&b, " %10d", v.Mean.Milliseconds())
			case scenarios.Spread:
				fmt.Fprintf(&b, " %10.4g", v.Mean)
			default:
				fmt.Fprintf(&b, " %10v", v)
			}
		}
		b.WriteString("\n")
	}
	return b.String()
}
