package part

import (
	_ "embed" // for the published rates
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"dialwright/encoder"
)

func Example() {
	p, _ := Named("15x30")
	fmt.Println(p.Sheet, p.Cycles, "cycles", p.Detents, "detents, bounce", p.Bounce, "at", p.BounceRPM, "rpm")
	w, _ := SystemNamed("windows")
	fmt.Println(w.Repeat.Delay, w.Repeat.Rate, "per s")
	poll, _ := Poll(FullSpeed, 10)
	fmt.Println(poll)
	// Output:
	// Bourns PEC11H 15 cycles 30 detents, bounce 3ms at 60 rpm
	// 500ms 30 per s
	// 8ms
}

// B7: component data sheets, encoder_parts.csv.
func TestPartsAreThoseOfTheirSheets(t *testing.T) {
	for i, want := range []Part{
		{Name: "24x24", Sheet: "Bourns PEC11R", Cycles: 24, Detents: 24, Bounce: 2 * time.Millisecond, BounceRPM: 15, MaxRPM: 60},
		{Name: "15x30", Sheet: "Bourns PEC11H", Cycles: 15, Detents: 30, Bounce: 3 * time.Millisecond, BounceRPM: 60, MaxRPM: 60},
		{Name: "20x20", Sheet: "CUI EC09P20V", Cycles: 20, Detents: 20, Bounce: 5 * time.Millisecond, BounceRPM: 60},
	} {
		got := Parts()[i]
		if got.Source == "" {
			t.Errorf("%s has no source", got.Name)
		}
		got.Source = ""
		if got != want {
			t.Errorf("got %+v, want %+v", got, want)
		}
		if e, ok := got.Knob().EdgesPerDetent(); !ok || e != 4*got.Cycles/got.Detents {
			t.Errorf("%s: %d quarter steps a detent", got.Name, e)
		}
	}
}

// B2: os_repeat_defaults.csv, each row its own source.
func TestSystemsEqualTheirRows(t *testing.T) {
	rows := read(defaults)
	if len(rows.rows) != len(systemNames) {
		t.Fatalf("%d rows, %d names", len(rows.rows), len(systemNames))
	}
	for i, s := range Systems() {
		row := rows.rows[i]
		number := func(column string) float64 { v, _ := strconv.ParseFloat(rows.at(row, column), 64); return v }
		if got := float64(s.Repeat.Delay) / 1e6; got != number("delay_ms") {
			t.Errorf("%s: delay %v ms, row %v", s.Name, got, number("delay_ms"))
		}
		if got := float64(s.Repeat.Rate); math.Abs(got-number("rate_per_s")) > 0.0005 {
			t.Errorf("%s: rate %v per s, row %v", s.Name, got, number("rate_per_s"))
		}
		if got := float64(s.Repeat.Rate.Period()) / 1e6; math.Abs(got-number("period_ms")) > 0.0005 {
			t.Errorf("%s: period %v ms, row %v", s.Name, got, number("period_ms"))
		}
		if s.Full == "" || s.Source == "" || s.Status == "" {
			t.Errorf("%+v: empty", s)
		}
	}
	// The four that sources.md names.
	for name, want := range map[string]encoder.Repeat{
		"windows":  {Delay: 500 * time.Millisecond, Rate: 30},
		"linux":    {Delay: 250 * time.Millisecond, Rate: 1000.0 / 33},
		"x-server": {Delay: 660 * time.Millisecond, Rate: 25},
		"gnome":    {Delay: 500 * time.Millisecond, Rate: 1000.0 / 30},
	} {
		if s, ok := SystemNamed(name); !ok || s.Repeat != want {
			t.Errorf("%s: %v, want %v", name, s.Repeat, want)
		}
	}
	if _, ok := SystemNamed("doors"); ok {
		t.Error("found a system that is not there")
	}
}

//go:embed typematic.csv
var typematic string

// B1: the rates published for command F3h (BIOS INT 16h/03h tables, Linux
// atkbd.c).
func TestTypematicCodesGiveThePublishedRates(t *testing.T) {
	rows := read(typematic)
	if len(rows.rows) != 32 {
		t.Fatal(len(rows.rows))
	}
	for code, row := range rows.rows {
		published, _ := strconv.ParseFloat(rows.at(row, "cps_published"), 64)
		for delay := range 4 {
			got := Typematic(byte(delay<<5 | code))
			if math.Abs(float64(got.Rate)-published) > 0.051 {
				t.Errorf("code %d: %v per s, published %v", code, got.Rate, published)
			}
			if want := time.Duration(250*(delay+1)) * time.Millisecond; got.Delay != want {
				t.Errorf("delay %d: %v, want %v", delay, got.Delay, want)
			}
		}
	}
}

// B3: SystemParameters.KeyboardSpeed documents the ends only.
func TestEndsOfTheWindowsSpeedScale(t *testing.T) {
	if r := WindowsSpeed(0, 0); r != (encoder.Repeat{Delay: 250 * time.Millisecond, Rate: 2.5}) {
		t.Error(r)
	}
	if r := WindowsSpeed(31, 3); r != (encoder.Repeat{Delay: time.Second, Rate: 30}) {
		t.Error(r)
	}
}

// B4: USB_ENDPOINT_DESCRIPTOR documentation.
func TestPollPeriodOfBInterval(t *testing.T) {
	ms := time.Millisecond
	for _, c := range []struct {
		speed    Speed
		from, to int
		want     time.Duration
	}{
		{FullSpeed, 1, 1, ms}, {FullSpeed, 2, 3, 2 * ms}, {FullSpeed, 4, 7, 4 * ms}, {FullSpeed, 8, 15, 8 * ms},
		{FullSpeed, 16, 31, 16 * ms}, {FullSpeed, 32, 255, 32 * ms},
		{LowSpeed, 1, 15, 8 * ms}, {LowSpeed, 16, 35, 16 * ms}, {LowSpeed, 36, 255, 32 * ms},
		{HighSpeed, 1, 1, ms / 8}, {HighSpeed, 2, 2, ms / 4}, {HighSpeed, 3, 3, ms / 2}, {HighSpeed, 4, 4, ms},
		{HighSpeed, 5, 5, 2 * ms}, {HighSpeed, 6, 255, 4 * ms},
	} {
		for n := c.from; n <= c.to; n++ {
			if got, err := Poll(c.speed, n); got != c.want || err != nil {
				t.Errorf("%v speed, bInterval %d: %v %v, want %v", c.speed, n, got, err, c.want)
			}
		}
	}
	for _, n := range []int{-1, 0, 256} {
		if _, err := Poll(FullSpeed, n); err == nil {
			t.Errorf("bInterval %d passes", n)
		}
	}
	if _, err := Poll(HighSpeed+1, 1); err == nil {
		t.Error("an unknown speed passes")
	}
}

func TestTablesAreUnchanged(t *testing.T) {
	for name, text := range map[string]string{"encoder_parts.csv": sheets, "os_repeat_defaults.csv": defaults, "typematic_rates.csv": typematic} {
		original, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "tables", name))
		if err != nil {
			t.Skip("shared/tables is not beside this clone")
		}
		if string(original) != text {
			t.Errorf("%s differs from the table that it is a copy of", name)
		}
	}
}
