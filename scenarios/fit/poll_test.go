package fit

import (
	"math"
	"testing"
)

// A period that cannot be told from one of USB's is that one: within half a percent of
// it (clocks, ours), or within what the intervals leave open, but never 2 % away. Every
// other period stands as it was measured.
func TestAPollThatCannotBeToldFromAUsualOneIsIt(t *testing.T) {
	type reading struct{ period, within, want float64 } // ms
	readings := []reading{
		{8.03, 0.001, 8}, {7.97, 0.001, 8}, // half a percent
		{8.06, 0.001, 8.06}, {7.94, 0.001, 7.94}, // more than that, and the intervals tell it
		{8.06, 0.07, 8}, {7.94, 0.07, 8}, // they do not
		{8.17, 0.5, 8.17}, {7.83, 0.5, 7.83}, // too far from 8 whatever they tell
		{10, 0.01, 10}, {5, 0.1, 5}, {33, 2, 33},
	}
	for _, u := range []float64{0.125, 0.25, 0.5, 1, 2, 4, 8, 16, 32} { // USB_ENDPOINT_DESCRIPTOR documentation
		readings = append(readings, reading{1.004 * u, 0.0001 * u, u})
	}
	for _, x := range readings {
		for _, wanders := range []bool{false, true} {
			f := &fitting{r: &Result{}, grid: grid{period: 1e6 * x.period, low: 1e6 * (x.period - x.within), high: 1e6 * (x.period + x.within), intervals: 40, wanders: wanders}}
			f.poll()
			v, _ := f.r.Path.Get("usb.poll")
			if !v.Known || math.Abs(v.Value-x.want) > 1e-9 || v.Low > v.Value || v.High < v.Value {
				t.Errorf("%g ms ± %g: a poll of %g (%g to %g), known %t; want %g", x.period, x.within, v.Value, v.Low, v.High, v.Known, x.want)
			}
		}
	}
}
