package hand

import (
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
)

// BenchmarkKnob makes a hand's knowledge of a knob: its experience and the value for
// a target of one step; and again where only the curve has changed.
func BenchmarkKnob(b *testing.B) {
	p := people(b, scenarios.Practised())
	for _, c := range []struct {
		name   string
		change func(*encoder.Setup)
	}{
		{"pulses plain", func(s *encoder.Setup) { s.Gain = nil }},
		{"pulses", func(*encoder.Setup) {}},
		{"relative", func(s *encoder.Setup) {
			s.Rig.Firmware = encoder.Firmware{Scan: s.Rig.Firmware.Scan, Debounce: 4, CountsPerDetent: 1, Output: encoder.Relative}
		}},
		{"ideal", func(s *encoder.Setup) { *s.Rig = *onIdeal(nil).Rig }},
		{"48 detents", func(s *encoder.Setup) { s.Rig.Knob.Detents, s.Rig.Knob.Cycles = 48, 48 }},
		{"1000 detents", func(s *encoder.Setup) {
			*s.Rig = *onIdeal(nil).Rig
			s.Rig.Knob.Detents, s.Rig.Knob.Cycles = 1000, 1000
		}},
		{"smooth 1024", func(s *encoder.Setup) {
			*s.Rig = *onIdeal(nil).Rig
			s.Rig.Knob.Detents, s.Rig.Knob.Cycles = 0, 256
		}},
		{"smooth 240", func(s *encoder.Setup) {
			*s.Rig = *onIdeal(nil).Rig
			s.Rig.Knob.Detents, s.Rig.Knob.Cycles = 0, 60
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			rig := encoder.Default()
			s := encoder.Setup{Rig: &rig, Gain: new(accel.Gain), Home: encoder.InProgram}
			c.change(&s)
			if s.Gain != nil { // the same acceleration by the turn
				curve := power
				curve.At *= float64(rig.Knob.UnitsPerTurn()) / 24
				var err error
				if s.Gain, err = (accel.Acceleration{Curve: curve}).Compile(); err != nil {
					b.Fatal(err)
				}
			}
			b.Run("new", func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					gripOf(b, s, p).valueOf(0)
				}
			})
			k, err := NewKnob(s, p)
			if err != nil {
				b.Fatal(err)
			}
			b.Run("another curve", func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					g, err := k.Grip(s.Gain, s.Rig.Display.Latency)
					if err != nil {
						b.Fatal(err)
					}
					g.valueOf(0)
				}
			})
		})
	}
}

// BenchmarkPlan finds what people do about one distance.
func BenchmarkPlan(b *testing.B) {
	rig := encoder.Default()
	gain, err := (accel.Acceleration{Curve: power}).Compile()
	if err != nil {
		b.Fatal(err)
	}
	g := gripOf(b, encoder.Setup{Rig: &rig, Gain: gain, Home: encoder.InProgram}, people(b, scenarios.Practised()))
	p := g.plansFor(0, 1)
	n := 0
	for b.Loop() {
		var to planned
		p.choose(&to, n%speedClasses, n/speedClasses%len(g.people.gainErrors), int64(1+n%61)*sub, len(g.strokes)-1, paces-1)
		n++
	}
}
