package accel_test

import (
	"fmt"
	"math"
	"time"

	"dialwright/accel"
)

// The worked example of the package comment.
func ExampleGain_Detent() {
	a := accel.Acceleration{Curve: accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}}
	g, err := a.Compile()
	if err != nil {
		fmt.Println(err)
		return
	}
	var knob accel.Memory
	for _, ms := range []int64{0, 500, 700, 800, 850, 900, 940} {
		fmt.Printf("%d ms: %d\n", ms, g.Detent(&knob, ms, +1, 0))
	}
	fmt.Printf("1000 ms, the other way: %d\n", g.Detent(&knob, 1000, -1, 0))
	// Output:
	// 0 ms: 1
	// 500 ms: 1
	// 700 ms: 1
	// 800 ms: 3
	// 850 ms: 8
	// 900 ms: 8
	// 940 ms: 10
	// 1000 ms, the other way: 1
}

// A heading knob that goes by tens when it is spun, and by ones when it is not.
func ExampleLadder() {
	a := accel.Acceleration{
		Curve:   accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 10}}, Hysteresis: 0.15},
		Landing: 5,
	}
	g, err := a.Compile()
	if err != nil {
		fmt.Println(err)
		return
	}
	var knob accel.Memory
	heading := int64(92)
	turn := func(ms int64, dir int) {
		heading += int64(dir) * g.Detent(&knob, ms, dir, heading)
		fmt.Print(heading, " ")
	}
	turn(0, +1)
	for ms := int64(50); ms <= 250; ms += 50 {
		turn(ms, +1)
	}
	turn(600, -1)
	turn(900, -1)
	fmt.Println()
	// Output: 93 100 110 120 130 140 139 138
}

// The accelerated wheel of Hinckley, Cutrell, Bathiche, Muss (CHI 2002): gain
// max(1, 4·(1+8Δt)^−2.5) for notches less than 0.1 s apart.
func ExampleTable() {
	g, err := accel.Acceleration{Tick: time.Microsecond, Curve: wheel()}.Compile()
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, dt := range []float64{0.200, 0.090, 0.050, 0.020, 0.010} {
		fmt.Printf("%3.0f ms: %.2f (%.2f)\n", dt*1000, g.At(1/dt), max(1, 4*math.Pow(1+8*dt, -2.5)))
	}
	// Output:
	// 200 ms: 1.00 (1.00)
	//  90 ms: 1.03 (1.03)
	//  50 ms: 1.73 (1.72)
	//  20 ms: 2.76 (2.76)
	//  10 ms: 3.30 (3.30)
}

// wheel is the published curve as points over the rate.
func wheel() accel.Table {
	first := 8 / (math.Pow(4, 0.4) - 1) // where 4·(1+8/r)^−2.5 is 1
	t := accel.Table{Points: []accel.Point{{Rate: 0, Gain: 1}, {Rate: first, Gain: 1}}}
	for rate := first * 1.08; rate < accel.MaxRate; rate *= 1.08 {
		t.Points = append(t.Points, accel.Point{Rate: rate, Gain: 4 * math.Pow(1+8/rate, -2.5)})
	}
	return t
}

func ExampleFaults() {
	_, err := accel.Acceleration{
		Rate:  accel.Rate{Rest: time.Millisecond},
		Curve: accel.Linear{Per: 10, Factor: 3, Cap: 1000},
	}.Compile()
	fmt.Println(err)
	// Output:
	// acceleration.rate.rest: 1ms; 10ms to 5s
	// acceleration.curve.linear.cap: 1000; a number from 1 to 255
}
