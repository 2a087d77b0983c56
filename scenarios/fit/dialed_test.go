package fit

import (
	"flag"
	"math"
	"slices"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

var sittings = flag.Int("sittings", 0, "how many sittings TestIntervalsOfDialingsHoldTheTruth measures")

// sitting is what somebody dials at a desk: a heading on plain and on an accelerated
// knob, in pairs, with practice before.
func sitting(t testing.TB, o *scenarios.Operator, pairs int, seed uint64) *scenarios.Dialings {
	t.Helper()
	d := &scenarios.Dialings{
		Device:   scenarios.DialedWith{Kind: "simulated", ClicksPerTurn: 24},
		Program:  scenarios.DialedProgram{Frames: 30, Lag: 50 * time.Millisecond},
		Tasks:    map[string]scenarios.DialedTask{"heading": {Unit: "deg", Scale: encoder.Scale{Low: 1, Count: 360, Wrap: true}}},
		Settings: map[string]*scenarios.Profile{"A": scenarios.Plain()},
	}
	built := scenarios.Profiles()
	d.Settings["B"] = &built[slices.IndexFunc(built, func(p scenarios.Profile) bool { return p.Name == "power" })]
	s := draw.NewTrial(seed, "sitting", 0).Stream(draw.Search)
	var plan []*scenarios.Dialing
	for i := range pairs {
		start := s.Below(int64(3*i), 360)
		target := (start + 1 + s.Below(int64(3*i+1), 359)) % 360
		for k := range 2 {
			setting := "AB"[(int64(k)+s.Below(int64(3*i+2), 2))%2]
			plan = append(plan, &scenarios.Dialing{Line: 2 + len(plan), Task: "heading", Setting: string(setting), Pair: i + 1, Order: 1 + k, Start: start, Target: target})
		}
	}
	x := &dialer{Dialings: d, dialed: plan, seed: seed ^ 0x5eed}
	if err := x.dial(o, 1, func(i int, w *watched) {
		p := *plan[i]
		p.Clicks, p.Shown, p.End = slices.Clone(w.clicks), slices.Clone(w.shown), time.Duration(w.end)
		d.All = append(d.All, p)
	}); err != nil {
		t.Fatal(err)
	}
	return d
}

// somebody is a person unlike the practised operator: every quantity that is looked for
// lies elsewhere, as far as novice and expert do.
func somebody(seed uint64) *scenarios.Operator {
	o := scenarios.Practised()
	s := draw.NewTrial(seed, "somebody", 0).Stream(draw.Search)
	for k, t := range traits(true) {
		t.write(&o, t.read(&o)*math.Exp(0.25*float64(s.Normal(int64(k)))/draw.One))
	}
	o.Name = "somebody"
	return &o
}

// Intervals of what is claimed hold the truth, and predictions are missed as seldom as
// they say. How often is measured over as many sittings as -sittings says.
func TestIntervalsOfDialingsHoldTheTruth(t *testing.T) {
	many := *sittings
	if many == 0 {
		t.Skip("-sittings 100 measures it, in minutes")
	}
	type tally struct{ claimed, held int }
	for _, pairs := range []int{20, 40, 100} {
		by, missed, off := map[string]*tally{}, map[string]*tally{}, map[string]float64{}
		began := time.Now()
		for n := range many {
			o := somebody(uint64(n))
			d := sitting(t, o, pairs, uint64(n))
			r, err := Run(t.Context(), &Study{Dialings: d, Seed: 1})
			if err != nil {
				t.Error(err)
				continue
			}
			for _, tr := range traits(true) {
				key := tr.key
				if tr.sum != "" {
					key = tr.sum
				}
				v, _ := r.Hand.Get(key)
				truth := tr.value(o, tr.read(o))
				if by[key] == nil {
					by[key] = &tally{}
				}
				if v.Known {
					by[key].claimed++
					if v.Low <= truth && truth <= v.High {
						by[key].held++
					}
					off[key] += math.Log(v.Value / truth)
				}
			}
			for _, p := range r.Dialed.Predictions {
				key := p.What + " " + p.Setting
				if missed[key] == nil {
					missed[key] = &tally{}
				}
				missed[key].claimed++
				if !p.Missed {
					missed[key].held++
				}
			}
		}
		t.Logf("%d pairs, %d sittings, %.1f s each", pairs, many, time.Since(began).Seconds()/float64(many))
		for _, tr := range traits(true) {
			key := tr.key
			if tr.sum != "" {
				key = tr.sum
			}
			if x := by[key]; x.claimed > 0 {
				t.Logf("  %-36s claimed %3d held %3d, off %+.3f", key, x.claimed, x.held, off[key]/float64(x.claimed))
			}
		}
		for key, x := range missed {
			t.Logf("  %-20s %3d predicted, %3d held", key, x.claimed, x.held)
		}
	}
}
