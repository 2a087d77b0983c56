package accel_test

import (
	"testing"

	"dialwright/accel"

	"pgregory.net/rapid"
)

var sink int64

// benched are the accelerations whose hot path is worth watching.
var benched = []struct {
	name string
	accel.Acceleration
}{
	{"constant", accel.Acceleration{}},
	{"ladder", accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 5}, {Above: 16, Gain: 10}}, Hysteresis: .15}}},
	{"power", accel.Acceleration{Curve: power}},
	{"average", accel.Acceleration{Rate: accel.Rate{From: accel.Average}, Curve: power}},
	{"window", accel.Acceleration{Rate: accel.Rate{From: accel.Window}, Curve: power}},
	{"landing", accel.Acceleration{Curve: power, Landing: 5}},
}

var power = accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}

func BenchmarkDetent(b *testing.B) {
	for _, c := range benched {
		g := compile(b, c.Acceleration)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			var s accel.Memory
			var now, value int64
			for i := 0; b.Loop(); i++ {
				now += int64(20 + i*7919%97)
				value += g.Detent(&s, now, 1, value)
			}
			sink = value
		})
	}
}

func BenchmarkCompile(b *testing.B) {
	for b.Loop() {
		g := compile(b, accel.Acceleration{Rate: accel.Rate{From: accel.Average}, Curve: power})
		sink = int64(g.Base)
	}
}

func TestADetentAllocatesNothing(t *testing.T) {
	for _, c := range benched {
		g := compile(t, c.Acceleration)
		var s accel.Memory
		var now int64
		if n := testing.AllocsPerRun(1000, func() { now += 30; sink += g.Detent(&s, now, 1, now) }); n != 0 {
			t.Errorf("%s: %g allocations a detent", c.name, n)
		}
	}
}

func compile(tb rapid.TB, a accel.Acceleration) *accel.Gain {
	tb.Helper()
	g, err := a.Compile()
	if err != nil {
		tb.Fatal(err)
	}
	return g
}
