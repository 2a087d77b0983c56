package export

import (
	"bytes"
	"fmt"
	"io"

	"dialwright/accel"
	"dialwright/scenarios"
)

// Vectors writes test vectors for a header in a firmware of one's own: CSV, a line
// for each detent of a turn, with the tick (a 32-bit counter that wraps on the
// way), the direction, the number before the detent and the steps that it makes.
// The turn meets slow and quick detents, reversals at every speed, rests to the
// tick, and numbers below 0.
func Vectors(w io.Writer, p *scenarios.Profile) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	ms := g.TicksPerSecond / 1000
	unit := "ms"
	if ms > 1 {
		unit = "us"
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "tick_%s,direction,number_steps,steps\n", unit)
	var s accel.Memory
	rest := int64(g.Rest)
	now, number := int64(1<<32)-4*min(300*ms, rest-1), int64(5)
	turn := func(detents int, gap int64, dir int) {
		for range detents {
			now += gap
			steps := g.Detent(&s, now, dir, number)
			fmt.Fprintf(&out, "%d,%d,%d,%d\n", uint32(now), dir, number, steps)
			number += int64(dir) * steps
		}
	}
	for i, gap := range []int64{300, 150, 80, 50, 35, 20, 10, 3} {
		gap = min(gap*ms+int64(i), rest-1)
		turn(8, gap, +1)
		turn(1, rest-1, +1)
		turn(3, gap, -1)
		turn(2, rest, -1)
		turn(12, gap, -1)
		turn(1, gap, +1)
	}
	_, err = w.Write(out.Bytes())
	return err
}
