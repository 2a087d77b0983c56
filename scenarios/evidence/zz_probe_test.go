package evidence

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/trial"
)

func fixedDistance(n int64) *scenarios.Task {
	return &scenarios.Task{Name: fmt.Sprintf("probe %d", n), Unit: "x", From: 0, To: 2000 * scenarios.Unity, Step: scenarios.Unity,
		Start: scenarios.Distribution{List: []scenarios.Amount{1000 * scenarios.Unity}}, Target: moved(float64(n))}
}

func TestZZ(t *testing.T) {
	seed := uint64(1)
	if s := os.Getenv("ZSEED"); s != "" {
		n, _ := strconv.Atoi(s)
		seed = uint64(n)
	}
	trials := 400
	if s := os.Getenv("ZTRIALS"); s != "" {
		trials, _ = strconv.Atoi(s)
	}
	what := os.Getenv("Z")
	has := func(c byte) bool {
		for i := range what {
			if what[i] == c {
				return true
			}
		}
		return what == ""
	}
	ctx := context.Background()
	o := scenarios.Practised()
	if has('1') {
		for _, p := range []scenarios.Profile{wheelConstant(), wheelAccelerated()} {
			cells, err := wheel(ctx, o, p, seed, trials)
			if err != nil {
				t.Fatal(err)
			}
			l := regression(cells)
			fmt.Printf("A1 %-12s %+v at4 %.3f", p.Name, l, l.intercept+4*l.slope)
			for _, c := range cells {
				fmt.Printf(" %.2f/%.0f%%", c.confirmed, 100*c.over)
			}
			fmt.Println()
		}
	}
	if has('2') {
		var first float64
		for i, lag := range lags {
			cells, err := lagged(ctx, o, lag, seed, trials)
			if err != nil {
				t.Fatal(err)
			}
			p := pooled(cells)
			if i == 0 {
				first = p.time
			}
			fmt.Printf("A2 %v time %.3f ratio %.3f confirmed %.3f over %.1f%% strokes %.2f\n", lag, p.time, p.time/first, p.confirmed, 100*p.over, p.strokes)
		}
	}
	left, rel := demo.Rig("left-pulse"), demo.Rig("right-relative")
	task := func(n string) *scenarios.Task { return demo.Task(n) }
	prof := map[string]*scenarios.Profile{}
	names := []string{"plain", "ladder", "power", "constant 3"}
	for _, n := range names[:3] {
		for _, x := range scenarios.Profiles() {
			if x.Name == n {
				prof[n] = &x
			}
		}
	}
	prof["constant 3"] = &scenarios.Profile{Name: "constant 3", Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 3}}}
	if has('3') {
		for _, rig := range []encoder.Rig{left.Rig, rel.Rig} {
			for _, tn := range []string{"heading", "com-25"} {
				for _, n := range names {
					began := time.Now()
					rings := 1
					if tn == "com-25" {
						rings = 2
					}
					c, err := run(ctx, trial.Cell{Task: task(tn), Rings: rings, Inner: &rig, Profile: prof[n], Operator: &o}, seed, trials, nil)
					if err != nil {
						fmt.Println(tn, n, err)
						continue
					}
					fmt.Printf("%-15s %-8s %-10s time %6.2f over %4.1f%% strokes %.1f turns %.1f to %d  %v\n", rig.Name, tn, n, c.time, 100*c.over, c.strokes, c.turns, c.timeouts, time.Since(began).Round(time.Millisecond))
				}
			}
		}
	}
	if has('4') {
		for _, rig := range []encoder.Rig{left.Rig, rel.Rig} {
			for _, n := range names {
				fmt.Printf("%-15s %-10s", rig.Name, n)
				for d := int64(1); d <= 40; d++ {
					if d > 14 && d%3 != 0 {
						continue
					}
					c, _ := run(ctx, trial.Cell{Task: fixedDistance(d), Rings: 1, Inner: &rig, Profile: prof[n], Operator: &o}, seed, trials, nil)
					fmt.Printf(" %d:%.2f/%.0f", d, c.time, 100*c.over)
				}
				fmt.Println()
			}
		}
	}
	if what == "8" {
		idl := ideal(encoder.Knob{Detents: 24, Cycles: 24})
		fast := rel.Rig
		fast.Program.Frames = 60
		fast.Program.Jitter = 0.1
		pulse := left.Rig
		pulse.Program.Frames = 60
		for _, rig := range []encoder.Rig{idl, rel.Rig, fast, left.Rig, pulse} {
			pool := map[int64]float64{}
			for _, x := range scenarios.Profiles() {
				if x.Acceleration.Curve == nil {
					continue
				}
				fmt.Printf("%-15s %-10s", rig.Name, x.Name)
				before := 0.0
				for d := int64(1); d <= 30; d++ {
					c, _ := run(ctx, trial.Cell{Task: fixedDistance(d), Rings: 1, Inner: &rig, Profile: &x, Operator: &o}, seed, trials, nil)
					pool[d] += c.time
					mark := ""
					if c.time < 0.97*before {
						mark = fmt.Sprintf("!%.0f", 100-100*c.time/before)
					}
					fmt.Printf(" %.2f%s", c.time, mark)
					before = c.time
				}
				fmt.Println()
			}
			fmt.Printf("pooled")
			for d := int64(1); d <= 30; d++ {
				mark := ""
				if d > 1 && pool[d] < 0.97*pool[d-1] {
					mark = fmt.Sprintf("!%.0f", 100-100*pool[d]/pool[d-1])
				}
				fmt.Printf(" %.2f%s", pool[d]/4, mark)
			}
			fmt.Println()
		}
	}
	if has('5') {
		for _, lag := range []int{0, 300, 600, 1000, 1500, 2000, 3000} {
			rig := left.Rig
			rig.Display.Latency = time.Duration(lag) * time.Millisecond
			fmt.Printf("lag %d", lag)
			for _, n := range []string{"plain", "power"} {
				c, _ := run(ctx, trial.Cell{Task: fixedDistance(20), Rings: 1, Inner: &rig, Profile: prof[n], Operator: &o}, seed, trials, nil)
				h, _ := run(ctx, trial.Cell{Task: task("heading"), Rings: 1, Inner: &rig, Profile: prof[n], Operator: &o}, seed, trials, nil)
				fmt.Printf("  %s 20: %.2f/%.0f%% to %d; heading %.2f/%.0f%% to %d", n, c.time, 100*c.over, c.timeouts, h.time, 100*h.over, h.timeouts)
			}
			fmt.Println()
		}
	}
	if has('6') {
		for _, g := range []float64{1, 1.8, 10, 40} {
			rig := left.Rig
			rig.Firmware.On, rig.Firmware.Off = 40*time.Millisecond, 40*time.Millisecond
			p := scenarios.Profile{Name: "p"}
			if g > 1 {
				p.Acceleration.Curve = accel.Ladder{Steps: []accel.Step{{Above: 25, Gain: g}}, Hysteresis: .15}
			}
			c, err := run(ctx, trial.Cell{Task: task("heading"), Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, seed, trials, nil)
			fmt.Printf("placebo %g %.4f %.2f%% %v\n", g, c.time, 100*c.over, err)
		}
	}
	if has('7') {
		ideal := ideal(encoder.Knob{Detents: 24, Cycles: 24})
		plain := scenarios.Profile{Name: "plain"}
		a, _ := run(ctx, trial.Cell{Task: fixedDistance(300), Rings: 1, Inner: &ideal, Profile: &plain, Operator: &o}, seed, trials, nil)
		b, _ := run(ctx, trial.Cell{Task: fixedDistance(100), Rings: 1, Inner: &ideal, Profile: &plain, Operator: &o}, seed, trials, nil)
		fmt.Printf("A14 %.2f detents/s\n", 200/(a.time-b.time))
	}
}
