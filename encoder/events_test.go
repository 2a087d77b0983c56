package encoder_test

import (
	"fmt"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// turning is a turn of two revolutions, one each way, at a quarter turn a second and
// at a turn a second, in strokes of a quarter.
func turning(p *encoder.Path, rig *encoder.Rig, trial int) (detents int) {
	p.Start(draw.NewTrial(1, "turning", trial), 0)
	at := int64(0)
	e := int64(p.EdgesPerDetent())
	units := int64(rig.Knob.UnitsPerTurn())
	var edges []int64
	for k, turn := range []time.Duration{4 * time.Second, time.Second, 4 * time.Second, time.Second} {
		gap := int64(turn) / (units * e)
		for range 4 {
			at += int64(300 * time.Millisecond)
			edges = edges[:0]
			for range units / 4 * e {
				at += gap
				edges = append(edges, at)
			}
			p.Stroke(int8(1-k/2*2), edges)
			detents += int(units / 4)
		}
	}
	p.Finish()
	return detents
}

// paths are what may lie behind the contacts: where only levels count, where changes
// and presses queue, and where counts add up.
var paths = []struct {
	name string
	set  func(*encoder.Rig)
}{
	{"levels", func(*encoder.Rig) {}},
	{"events", func(r *encoder.Rig) {
		r.Firmware.Output, r.USB.Reports, r.Program.Sampling = encoder.Keys, encoder.QueuedReports, encoder.Events
		r.Firmware.Pulse, r.Firmware.Gap = 8*time.Millisecond, 8*time.Millisecond
		r.System.Repeat = encoder.Repeat{}
	}},
	{"relative", func(r *encoder.Rig) { r.Firmware.Output = encoder.Relative }},
}

// cliff is a knob and a firmware that a plain engine would be slow on.
type cliff struct {
	detents, cycles int
	scan            time.Duration
	debounce        int
	crowds          bool // edges come before the one before is believed
}

var cliffs = []cliff{
	{24, 24, time.Millisecond, 4, false},
	{24, 24, 100 * time.Microsecond, 40, false},
	{24, 24, 10 * time.Microsecond, 400, false},
	{24, 24, 5 * time.Microsecond, 800, false},
	{48, 48, time.Millisecond, 4, false},
	{96, 96, time.Millisecond, 4, true},
	{192, 192, time.Millisecond, 4, true},
	{1000, 1000, time.Millisecond, 4, true},
	{1000, 1000, 10 * time.Microsecond, 400, true},
	{0, 6, time.Millisecond, 4, false},
	{0, 1000, time.Millisecond, 4, true},
	{24, 24, 100 * time.Microsecond, 4, true},
	{24, 24, 10 * time.Microsecond, 4, true},
	{24, 24, time.Microsecond, 4, true},
}

func (c cliff) String() string {
	return fmt.Sprintf("%d detents, %d cycles, scan %v, debounce %d", c.detents, c.cycles, c.scan, c.debounce)
}

func (c cliff) rig(set func(*encoder.Rig)) *encoder.Rig {
	rig := encoder.Default()
	set(&rig)
	rig.Knob.Detents, rig.Knob.Cycles, rig.Firmware.Scan, rig.Firmware.Debounce = c.detents, c.cycles, c.scan, c.debounce
	return &rig
}

// What a detent costs does not depend on how often contacts are read nor on how finely
// a knob is divided. Detents that stand alone cost one event for the contacts, and three
// behind them. Where edges crowd, an edge costs itself and three looks at it. Chatter
// that is believed flips a level every 30 readings (the mean wait for four equal ones in
// a row is 2+4+8+16), and costs two events a flip, and one for each word of readings.
func TestADetentCostsTheSameOnEveryKnob(t *testing.T) {
	for _, x := range cliffs {
		for _, path := range paths {
			rig := x.rig(path.set)
			p, err := encoder.NewPath(encoder.Setup{Rig: rig})
			if err != nil {
				t.Fatal(err)
			}
			detents, events := 0, int64(0)
			for trial := range 20 {
				detents += turning(p, rig, trial)
				events += p.Events()
			}
			e := float64(p.EdgesPerDetent())
			most := 4.0
			if p.EdgesPerDetent() == 1 { // nothing of it stands alone
				most += 2
			}
			if x.crowds {
				most += 4 * e
			}
			if readings := float64(rig.Knob.Bounce) / 2 / float64(x.scan); 2*readings > float64(x.debounce) {
				most += e * readings * (2.0/30 + 1.0/64) * 1.1
			}
			if each := float64(events) / float64(detents); each > most {
				t.Errorf("%v, %s: %.1f events a detent, not at most %.1f", x, path.name, each, most)
			} else {
				t.Logf("%v, %s: %.1f events a detent of %.1f", x, path.name, each, most)
			}
		}
	}
}

// Detents given by time stand alone too, and cost nothing but themselves.
func TestSlowDetentsCostOneEvent(t *testing.T) {
	rig := encoder.Default()
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	if n := openLoop(p, 0); p.Events() != int64(n) {
		t.Errorf("%d events for %d detents", p.Events(), n)
	}
}
