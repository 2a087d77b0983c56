package accel_test

import (
	"fmt"
	"testing"
	"time"

	"dialwright/accel"
)

func ExampleGain_Detent() {
	a := accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}
	g, err := a.Compile()
	if err != nil {
		fmt.Println(err)
		return
	}
	var knob accel.State
	for _, at := range []time.Duration{0, 500e6, 700e6, 800e6, 850e6, 900e6, 940e6} {
		fmt.Println(at, g.Detent(&knob, g.Ticks(int64(at)), +1, 0))
	}
	// Output:
	// 0s 1
	// 500ms 1
	// 700ms 1
	// 800ms 3
	// 850ms 8
	// 900ms 8
	// 940ms 10
}

func BenchmarkDetent(b *testing.B) {
	for _, c := range []struct {
		name string
		a    accel.Acceleration
	}{
		{"constant", accel.Acceleration{}},
		{"ladder", accel.Acceleration{Curve: accel.Ladder{Steps: []accel.Step{{8, 5}, {16, 10}}, Hysteresis: .15}}},
		{"power", accel.Acceleration{Curve: accel.Power{15, 4, 2, 10}}},
		{"average", accel.Acceleration{Rate: accel.Rate{From: accel.Average}, Curve: accel.Power{15, 4, 2, 10}}},
		{"window", accel.Acceleration{Rate: accel.Rate{From: accel.Window}, Curve: accel.Power{15, 4, 2, 10}}},
	} {
		g, err := c.a.Compile()
		if err != nil {
			b.Fatal(err)
		}
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			var s accel.State
			var now, sum int64
			for i := 0; b.Loop(); i++ {
				now += int64(20 + i*7919%97)
				sum += g.Detent(&s, now, 1, 0)
			}
			sink = sum
		})
	}
}

var sink int64
