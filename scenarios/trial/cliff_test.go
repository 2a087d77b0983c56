package trial

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// cliff is a knob and a firmware that a plain program would be slow on.
type cliff struct {
	detents, cycles int
	scan            time.Duration
	debounce        int
	bounce          time.Duration
	most            float64 // times what the first of its group costs
}

func (c cliff) String() string {
	return fmt.Sprintf("detents=%d cycles=%d scan=%v debounce=%d bounce=%v", c.detents, c.cycles, c.scan, c.debounce, c.bounce)
}

// units is how many detents, or counts of a smooth knob, a turn has.
func (c cliff) units() float64 {
	if c.detents == 0 {
		return float64(4 * c.cycles)
	}
	return float64(c.detents)
}

// Groups of cliffs; what a trial costs is measured by the first of each. Where an edge
// only has more readings, a trial costs the same. Where more of its chatter is believed,
// or a knob is divided more finely, it may cost twice as much as in proportion. Finely
// divided knobs have no contacts that chatter: on others the hand outruns the debounce
// and turns more, which is no matter of cost.
var cliffs = [][]cliff{
	{
		{24, 24, time.Millisecond, 4, 2 * time.Millisecond, 1},
		{24, 24, 100 * time.Microsecond, 40, 2 * time.Millisecond, 1.1},
		{24, 24, 10 * time.Microsecond, 400, 2 * time.Millisecond, 1.1},
		{24, 24, 10 * time.Microsecond, 4, 2 * time.Millisecond, 2 * 100},
		{24, 24, time.Microsecond, 4, 2 * time.Millisecond, 2 * 1000},
	},
	{
		{24, 24, 50 * time.Microsecond, 1, 0, 1},
		{48, 48, 50 * time.Microsecond, 1, 0, 2 * 2},
		{96, 96, 50 * time.Microsecond, 1, 0, 2 * 4},
		{192, 192, 50 * time.Microsecond, 1, 0, 2 * 8},
		{1000, 1000, 50 * time.Microsecond, 1, 0, 2 * 1000 / 24.0},
	},
	{
		{0, 60, 50 * time.Microsecond, 1, 0, 1},
		{0, 250, 50 * time.Microsecond, 1, 0, 2 * 250 / 60.0},
		{0, 1000, 50 * time.Microsecond, 1, 0, 2 * 1000 / 60.0},
	},
}

// bench dials headings with the knob, plain or with the same acceleration by the turn on
// every knob.
func (c cliff) bench(t testing.TB, out encoder.Output, accelerated bool) *Bench {
	rig := encoder.Default()
	rig.Firmware.Output, rig.Knob.Bounce = out, c.bounce
	rig.Knob.Detents, rig.Knob.Cycles, rig.Firmware.Scan, rig.Firmware.Debounce = c.detents, c.cycles, c.scan, c.debounce
	p := &scenarios.Profile{Name: "plain"}
	if accelerated {
		p.Name, p.Acceleration.Curve = "power", accel.Power{At: min(1000, 15*c.units()/24), Factor: 4, Exponent: 2, Cap: 10}
	}
	return bench(t, Cell{Task: scenarios.Heading(), Inner: &rig, Profile: p})
}

// work is what so many trials come to.
type work struct {
	trials, detents, strokes int
	events                   int64
}

func (w *work) run(b *Bench) {
	r := b.Run(1, w.trials)
	events, _ := b.Cost()
	w.trials, w.detents, w.strokes, w.events = w.trials+1, w.detents+r.Account.Detents, w.strokes+r.Strokes, w.events+events
}

// cost is the events on the path and the strokes, each of which a person plans.
func (w *work) cost() float64 { return float64(w.events+int64(w.strokes)) / float64(w.trials) }

// eachCliff calls with every cliff, the first of its group, and a bench.
func eachCliff(do func(name string, first, x cliff, out encoder.Output, accelerated bool)) {
	for _, out := range []encoder.Output{encoder.Relative, encoder.Buttons} {
		for _, accelerated := range []bool{false, true} {
			for _, group := range cliffs {
				for _, x := range group {
					do(fmt.Sprintf("%v output=%v accelerated=%v", x, out, accelerated), group[0], x, out, accelerated)
				}
			}
		}
	}
}

// cliffTrials are enough to tell one from none: all meet the same people and numbers.
const cliffTrials = 80

// The cost of a trial has no cliff.
func TestATrialCostsInProportionOnEveryKnob(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	var first float64
	eachCliff(func(name string, group, x cliff, out encoder.Output, accelerated bool) {
		b := x.bench(t, out, accelerated)
		var w work
		for w.trials < cliffTrials {
			w.run(b)
		}
		if x == group {
			first = w.cost()
		}
		t.Logf("%s: %.0f, %.2f times the first, of %.1f; %.1f strokes, %.0f detents", name, w.cost(), w.cost()/first, x.most, float64(w.strokes)/cliffTrials, float64(w.detents)/cliffTrials)
		if w.cost() > x.most*first {
			t.Errorf("%s: a trial costs %.0f, %.1f times as much as %v, not at most %.1f", name, w.cost(), w.cost()/first, group, x.most)
		}
	})
}

// BenchmarkCliffs is the same in seconds, and what it takes to get to know the knob.
func BenchmarkCliffs(b *testing.B) {
	eachCliff(func(name string, _, x cliff, out encoder.Output, accelerated bool) {
		b.Run(strings.ReplaceAll(name, " ", "/"), func(b *testing.B) {
			began := time.Now()
			bench := x.bench(b, out, accelerated)
			bench.Run(1, 0)
			known := time.Since(began)
			var w work
			for b.Loop() {
				w.run(bench)
			}
			b.ReportMetric(known.Seconds()*1e3, "ms/knob")
			b.ReportMetric(w.cost(), "events+strokes/trial")
			b.ReportMetric(float64(w.detents)/float64(w.trials), "detents/trial")
		})
	})
}
