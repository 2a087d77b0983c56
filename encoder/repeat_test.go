package encoder_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/part"
)

// heldKey holds a key down for a time, which a firmware hold does, and returns when
// it was delivered and when it repeated. Polls and times are whole milliseconds.
func heldKey(t *testing.T, r encoder.Repeat, hold time.Duration) (press int64, repeats []int64) {
	rig := still()
	rig.Firmware.Output, rig.Firmware.Hold = encoder.Keys, hold
	rig.USB.Poll = time.Millisecond
	rig.System.Repeat = r
	rig.Program.Sampling = encoder.Immediate
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	p.Trace = func(e encoder.Event) {
		switch {
		case e.Kind == encoder.Stepped && e.Cause == encoder.ByRepeat:
			repeats = append(repeats, e.At)
		case e.Kind == encoder.Stepped:
			press = e.At
		}
	}
	p.Start(draw.NewTrial(1, "", 0), 0)
	p.Detent(100*ms, +1)
	p.Finish()
	return press, repeats
}

// Row B1: the 32 rates of command F3h as published (cps_published of
// tables/typematic_rates.csv, whose copy is encoder/part/typematic.csv: BIOS INT
// 16h/03h tables, Linux atkbd.c), within 0.051 a second, and the four delays, 250 to
// 1000 ms. A key is held for ten seconds; the rate is the repeats after the
// first over the time between the first and the last.
func TestHeldKeyRepeatsAtTheTypematicRates(t *testing.T) {
	f, err := os.Open("part/typematic.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil || len(rows) != 33 || rows[0][0] != "code" || rows[0][3] != "cps_published" {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		code, err := strconv.Atoi(row[0])
		if err != nil {
			t.Fatal(err)
		}
		published, err := strconv.ParseFloat(row[3], 64)
		if err != nil {
			t.Fatal(err)
		}
		for delay := range 4 {
			press, repeats := heldKey(t, part.Typematic(byte(delay<<5|code)), 10*time.Second)
			first, last := repeats[0], repeats[len(repeats)-1]
			if got := float64(len(repeats)-1) / (float64(last-first) / 1e9); math.Abs(got-published) > 0.051 {
				t.Errorf("code %d repeats %.3f a second, published %.1f", code, got, published)
			}
			if got, want := first-press, int64(delay+1)*250*ms; got != want {
				t.Errorf("delay code %d: the first repeat comes after %d ns, want %d", delay, got, want)
			}
		}
	}
}

// Row B2: with the default of every system (encoder/part, whose rows name their
// sources) a key held T gives floor((T−delay)·rate)+1 repeats; none before the
// delay. That the presets equal the rows is held in encoder/part.
func TestHeldKeyRepeatsAsOftenAsTheFormulaSays(t *testing.T) {
	systems := part.Systems()
	if len(systems) != 14 {
		t.Fatalf("%d systems", len(systems))
	}
	for _, s := range systems {
		for _, held := range []time.Duration{101 * time.Millisecond, 299 * time.Millisecond, 777 * time.Millisecond, 2501 * time.Millisecond, 9999 * time.Millisecond} {
			after := (held - s.Repeat.Delay).Seconds()
			want := 0
			if after > 0 {
				want = int(math.Floor(after*float64(s.Repeat.Rate))) + 1
			}
			if _, got := heldKey(t, s.Repeat, held); len(got) != want {
				t.Errorf("%s (%v then %.3f a second): a key held %v repeats %d times, want %d", s.Name, s.Repeat.Delay, float64(s.Repeat.Rate), held, len(got), want)
			}
		}
	}
}

// A repeat that is due at the very release does not come (model.md, stage 5:
// strictly before), so there the formula gives one more than the key.
func TestRepeatAtTheReleaseDoesNotCome(t *testing.T) {
	r := encoder.Repeat{Delay: 660 * time.Millisecond, Rate: 25} // X server
	for held, want := range map[time.Duration]int{659: 0, 660: 0, 661: 1, 700: 1, 701: 2, 1660: 25, 1661: 26} {
		if _, got := heldKey(t, r, held*time.Millisecond); len(got) != want {
			t.Errorf("held %d ms: %d repeats, want %d", held, len(got), want)
		}
	}
}
