package scenarios

import (
	"fmt"
	"math"

	"dialwright/encoder"
)

// Reach is the highest rate, steps a second, that a program can come to know on a rig
// with a profile's settings: pulses and their gaps take their time, and a program that
// looks at levels needs a frame for each. It is infinite where nothing limits it, as
// where the firmware, which sees the knob itself, makes the acceleration.
func Reach(r *encoder.Rig, home Home) float64 {
	if home == encoder.InFirmware || !pulses(r) {
		return math.Inf(1)
	}
	most := 1 / (r.Firmware.Pulse + r.Firmware.Gap).Seconds()
	if r.Program.Sampling == encoder.State && r.Program.FrameList == nil {
		most = min(most, float64(r.Program.Frames)/2)
	}
	return most
}

// Gains says what a click counts at the rates that get through a rig with the profile's
// settings: click by click, brisk and flicked. Through no rig, nil, all do.
func (p *Profile) Gains(on *encoder.Rig) string {
	base, c := float64(max(1, p.Acceleration.Base)), p.Acceleration.Curve
	if c == nil {
		return fmt.Sprintf("%.3g at every rate", base)
	}
	if a, b := c.Of(0), c.Of(1000); a == b {
		return fmt.Sprintf("%.3g at every rate", base*a)
	}
	reach, text := math.Inf(1), ""
	if on != nil {
		r, err := Apply(p, *on)
		if err != nil {
			r = *on
		}
		reach = Reach(&r, p.Home)
	}
	for _, rate := range []float64{5, 12, 25} {
		if rate > reach {
			return text + fmt.Sprintf("%.3g at %.3g/s, the most that gets through", base*c.Of(reach), reach)
		}
		text += fmt.Sprintf("%.3g at %g/s, ", base*c.Of(rate), rate)
	}
	return text[:len(text)-2]
}
