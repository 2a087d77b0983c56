package export_test

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
	"dialwright/testdata/golden"
)

// What was exported before is exported again to the byte: a header, gains and
// vectors for each estimate, home, tick and rule.
func TestExportsAreAsTheyWere(t *testing.T) {
	power := accel.Power{At: 15, Factor: 4, Exponent: 2, Cap: 10}
	ladder := accel.Ladder{Steps: []accel.Step{{Above: 8, Gain: 3}, {Above: 16, Gain: 10}}, Hysteresis: 0.15}
	for name, p := range map[string]scenarios.Profile{
		"constant": {Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: 2.5}, Base: 3}},
		"ladder": {
			Acceleration: accel.Acceleration{Curve: ladder, Landing: 5, Rate: accel.Rate{Reversal: accel.Keep}},
			Settings:     []scenarios.Setting{{Key: "firmware.pulse", Value: "40ms"}}, PressCoarse: 10,
		},
		"power":   {Home: encoder.InFirmware, Acceleration: accel.Acceleration{Curve: power, Steps: accel.Round, Base: 2}},
		"average": {Acceleration: accel.Acceleration{Curve: power, Tick: time.Microsecond, Rate: accel.Rate{From: accel.Average, Reversal: accel.Keep}, Landing: 9}},
		"window":  {Acceleration: accel.Acceleration{Curve: accel.Linear{Per: 1, Factor: 1, Cap: 200}, Rate: accel.Rate{From: accel.Window}}},
		"short":   {Acceleration: accel.Acceleration{Curve: power, Tick: time.Microsecond, Rate: accel.Rate{Rest: 12 * time.Millisecond}}},
	} {
		p.Name = name + "\nof a/b?c*d with a name that is so long that it does not fit into one line of a comment of the header: " + strings.Repeat("very ", 20) + "long"
		asItWas(t, name+".h", func(w io.Writer) error { return export.Header(w, &p) })
		asItWas(t, name+".js", func(w io.Writer) error { return export.Module(w, &p) })
		p.Name = "=" + name
		asItWas(t, name+".gain.csv", func(w io.Writer) error { return export.CSV(w, &p) })
		asItWas(t, name+".json", func(w io.Writer) error { return export.JSON(w, &p) })
		if name != "constant" && name != "power" {
			asItWas(t, name+".vectors.csv", func(w io.Writer) error { return export.Vectors(w, &p) })
		}
	}
}

// asItWas compares what is written with a golden file.
func asItWas(t *testing.T, name string, write func(io.Writer) error) {
	t.Helper()
	var got bytes.Buffer
	if err := write(&got); err != nil {
		t.Fatal(err)
	}
	golden.Check(t, "testdata/"+name, got.String())
}

// The steps of a detent fit into the number that holds them: 16 bits up to 65535
// steps, 32 beyond, for each way in which a gain is told.
func TestAHeadersNumbersAreWideEnough(t *testing.T) {
	curves := map[string]func(gain float64) accel.Curve{
		"constant": func(g float64) accel.Curve { return accel.Constant{Gain: g} },
		"ladder":   func(g float64) accel.Curve { return accel.Ladder{Steps: []accel.Step{{Above: 5, Gain: g}}} },
		"linear":   func(g float64) accel.Curve { return accel.Linear{Per: 1, Factor: 100, Cap: g} },
		"table":    func(g float64) accel.Curve { return accel.Table{Points: []accel.Point{{Rate: 5, Gain: g}}} },
	}
	for name, of := range curves {
		for _, x := range []struct {
			base int
			gain float64
			bits string
		}{
			{1, 1.5, "16"}, {4095, 16, "16"}, {4096, 16 - 1.0/256, "16"}, {4096, 16, "32"}, {4096, 17, "32"}, {4096, 31, "32"}, {4096, 32, "32"}, {4096, 255, "32"},
			{257, 255, "16"}, // 65535
			{258, 255, "32"},
			{401, 163.43, "32"}, // 65535.4…: a fraction carried makes 65536 of it
		} {
			var out bytes.Buffer
			if err := export.Header(&out, &scenarios.Profile{Name: "x", Acceleration: accel.Acceleration{Base: x.base, Curve: of(x.gain)}}); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(out.String(), "typedef uint"+x.bits+"_t dial_steps;") {
				t.Errorf("%s, base %d, gain %g: not in %s bits", name, x.base, x.gain, x.bits)
			}
		}
	}
}

// The ring of a window has a place for every detent that it remembers.
func TestAWindowsRingIsLargeEnough(t *testing.T) {
	for remembered, places := range map[int]string{2: "times[2]", 3: "times[4]", 4: "times[4]", 5: "times[8]", 8: "times[8]", 9: "times[16]", 17: "times[32]"} {
		a := accel.Acceleration{Curve: accel.Linear{Per: 1, Factor: 1, Cap: float64(5 * remembered)}, Rate: accel.Rate{From: accel.Window}}
		if g, err := a.Compile(); err != nil || len(g.Spaced)-1 != remembered {
			t.Fatalf("%d places of %d, %v", len(g.Spaced)-1, remembered, err)
		}
		var out bytes.Buffer
		if err := export.Header(&out, &scenarios.Profile{Name: "x", Acceleration: a}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(out.String(), " "+places+";") {
			t.Errorf("%d detents are not in %s", remembered, places)
		}
	}
}
