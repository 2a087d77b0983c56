package encoder_test

import (
	"encoding/csv"
	"math"
	"os"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/part"
)

// smooth is a rig that counts quarter steps and shows every one at once.
func smooth(scan time.Duration) encoder.Rig {
	r := presses(time.Millisecond, time.Millisecond, quick)
	r.Knob.Detents, r.Knob.MinState = 0, 0.25
	r.Firmware.Scan, r.Firmware.Phase = scan, encoder.PhaseAt(0)
	r.Firmware.Output = encoder.Relative
	r.Program.Sampling, r.Program.FrameList = encoder.Immediate, nil
	return r
}

// Row B5: the 16 transitions of the quadrature table, four of them invalid
// (testdata/quadrature_transitions.csv; Linux rotary-encoder and generic-counter
// documentation). The knob is turned to the first pair at leisure and then, between
// two scans, to the second.
func TestDecoderKnowsTheQuadratureTable(t *testing.T) {
	f, err := os.Open("testdata/quadrature_transitions.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := csv.NewReader(f)
	in.Comment = '#'
	rows, err := in.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	place := map[string]int{"00": 0, "10": 1, "11": 2, "01": 3} // along a clockwise turn
	delta := map[string]int64{"-1": -1, "0": 0, "1": 1}
	rig := smooth(10 * time.Millisecond)
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	invalid := 0
	for _, row := range rows[1:] {
		from, to := place[row[0]], place[row[1]]
		p.Start(draw.NewTrial(1, "", 0), 100)
		for i := range from {
			p.Turn(+1, []int64{(int64(i)*100 + 55) * ms})
		}
		p.RunTo(1000 * ms)
		before := p.Shown(1000 * ms)
		steps := (to - from + 4) % 4
		dir := int8(1)
		if steps == 3 {
			steps, dir = 1, -1
		}
		for i := range steps {
			p.Turn(dir, []int64{1001*ms + int64(i)})
		}
		p.Finish()
		got := p.Shown(5000*ms) - before
		illegal := p.Account().IllegalTransitions == 1
		if want := delta[row[4]]; got != want || illegal != (row[3] == "0") {
			t.Errorf("%s to %s: %+d, illegal %t; want %+d, valid %s", row[0], row[1], got, illegal, want, row[3])
		}
		if illegal {
			invalid++
		}
	}
	if len(rows) != 17 || invalid != 4 {
		t.Errorf("%d rows, %d invalid", len(rows)-1, invalid)
	}
}

// The table in testdata is that of shared/tables, where that is beside the clone.
func TestQuadratureTableIsUnchanged(t *testing.T) {
	original, err := os.ReadFile("../../shared/tables/quadrature_transitions.csv")
	if err != nil {
		t.Skip("shared/tables is not beside this clone")
	}
	if copied, err := os.ReadFile("testdata/quadrature_transitions.csv"); err != nil || string(copied) != string(original) {
		t.Errorf("quadrature_transitions.csv differs from the table that it is a copy of (%v)", err)
	}
}

// Row B6 (derived): s true quarter steps a scan are read as s mod 4: up to the limit
// of one a scan all are counted, at two a scan all are skipped, and at three, three
// times the limit, the knob counts backwards.
func TestSlowScanAliases(t *testing.T) {
	for s, want := range map[int64]int64{1: 100, 2: 0, 3: -100, 4: 0, 5: 100} {
		rig := smooth(12 * time.Millisecond)
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		p.Start(draw.NewTrial(1, "", 0), 0)
		for i := range 100 * s {
			p.Turn(+1, []int64{(1 + 2*i) * 12 * ms / (2 * s)}) // none at the instant of a scan
		}
		p.Finish()
		if got := p.Shown(1 << 60); got != want {
			t.Errorf("%d quarter steps a scan: 100 scans count %+d, want %+d", s, got, want)
		}
		if got, skipped := p.Account().IllegalTransitions, s == 2; (got == 100) != skipped || (got == 0) == skipped {
			t.Errorf("%d quarter steps a scan: %d illegal transitions", s, got)
		}
	}
}

// Row B6 on a knob with detents: turned clockwise at three times the speed that the
// scan can follow, the number falls.
func TestKnobTurnedTooFastCountsBackwards(t *testing.T) {
	rig := smooth(4 * time.Millisecond)
	rig.Knob.Detents = 24 // four quarter steps
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	for times, want := range map[int64]int64{1: 90, 3: -30} {
		p.Start(draw.NewTrial(1, "", 0), 0)
		const detents = 90
		for i := range int64(detents) {
			var edges []int64
			for j := range int64(4) {
				edges = append(edges, 100*ms+(1+2*(4*i+j))*4*ms/(2*times))
			}
			p.Turn(+1, edges)
		}
		p.Finish()
		if got := p.Shown(1 << 60); got != want {
			t.Errorf("%d detents at %d times the limit move the number by %+d, want %+d", detents, times, got, want)
		}
	}
}

// Row B7: the sheets of three parts (encoder/part) promise a bounce of at most 2, 3
// and 5 ms. With the edge decoder a debounce longer than that gives 0 false counts
// (no run of wrong readings is long enough), a shorter one gives some. False counts
// are those beyond one for each rising edge of A, one a cycle.
func TestDebounceLongerThanTheBounceGivesNoFalseCounts(t *testing.T) {
	const scan = 250 * time.Microsecond
	for _, part := range part.Parts() {
		if part.Bounce == 0 {
			continue // an optical one has nothing that chatters
		}
		bounce := int(part.Bounce / scan) // as many scans may fall into it
		for debounce, some := range map[int]bool{1: true, 3: true, bounce / 3: true, bounce + 1: false, bounce + 5: false} {
			rig := presses(time.Millisecond, time.Millisecond, quick)
			rig.Knob = part.Knob()
			rig.Firmware.Scan, rig.Firmware.Debounce, rig.Firmware.Decoder = scan, debounce, encoder.Edge
			rig.Firmware.Queue = 100
			p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
			if err != nil {
				t.Fatal(err)
			}
			counts, back := 0, 0
			p.Trace = func(e encoder.Event) {
				if e.Kind == encoder.Counted {
					counts++
					back += int(1-e.Dir) / 2
				}
			}
			const trials, detents = 300, 40
			for i := range trials {
				p.Start(draw.NewTrial(9, "bounce", i), 0)
				for k := int64(1); k <= detents; k++ {
					p.Detent(k*100*ms, +1)
				}
				p.Finish()
			}
			wrong := counts - trials*detents*part.Cycles/part.Detents
			if (wrong > 0) != some || wrong < 0 || !some && back > 0 {
				t.Errorf("%s, bounce %v, debounce %d times %v: %d false counts, %d backwards", part.Name, part.Bounce, debounce, scan, wrong, back)
			}
		}
	}
}

// illegal turns 48 detents at a speed in each of 50 trials and returns how many
// have no count.
func illegal(t *testing.T, rig *encoder.Rig, degPerS float64) int {
	p, err := encoder.NewPath(encoder.Setup{Rig: rig})
	if err != nil {
		t.Fatal(err)
	}
	lost := 0
	for i := range 50 {
		p.Start(draw.NewTrial(1, "limit", i), 0)
		for k := int64(1); k <= 48; k++ {
			p.Detent(100*ms+int64(float64(k)*360e9/(float64(rig.Knob.Detents)*degPerS)), +1)
		}
		p.Finish()
		lost += p.Account().Illegal
	}
	return lost
}

// Row B8 (derived): the firmware follows while `debounce` scans fit into the part's
// shortest state, f > debounce·PPR·rpm/(60·d). A scan just shorter than that loses
// nothing, whatever the debounce and the part. Without bounce, two things break the
// count: two edges between two scans, and a contact that stays for fewer than
// `debounce` scans, which is two states, the shortest and a half of the cycle less
// it, together ½. So where the debounce is 1 the count breaks just beyond the limit,
// and a longer one leaves a margin: it breaks beyond min(d, ½/debounce) of a cycle.
func TestScanLimitIsWhereTheCountBreaks(t *testing.T) {
	const degPerS = 900.0 // 150 turns a minute, 60 detents a second
	for _, x := range []struct {
		cycles, detents int
		d               float64
		debounce        int
	}{
		{24, 24, 0.25, 1}, {24, 24, 0.08, 1}, {24, 24, 0.05, 1}, {15, 30, 0.08, 1}, {24, 12, 0.2, 1},
		{24, 24, 0.25, 2}, {24, 24, 0.08, 4}, {24, 24, 0.25, 4}, {15, 30, 0.08, 8},
	} {
		rig := smooth(0)
		rig.Knob = encoder.Knob{Detents: x.detents, Cycles: x.cycles, MinState: x.d}
		rig.Firmware.Debounce, rig.Firmware.Phase = x.debounce, encoder.Phase{}
		limit := rig.ScanFor(degPerS)
		formula := 60 * x.d / (float64(x.debounce) * float64(x.cycles) * degPerS / 6) // 1/f in seconds; rpm = degrees a second / 6
		if math.Abs(limit.Seconds()-formula) > 1e-9 {
			t.Errorf("%+v: ScanFor gives %v, the formula %.6f s", x, limit, formula)
		}
		cycle := 360 / degPerS / float64(x.cycles)
		breaks := time.Duration(min(x.d, 0.5/float64(x.debounce)) * cycle * 1e9)
		if x.debounce == 1 && math.Abs(float64(breaks-limit)) > 2 {
			t.Fatalf("%+v: limit %v, breaks at %v", x, limit, breaks)
		}
		for scan, holds := range map[time.Duration]bool{limit * 99 / 100: true, breaks * 99 / 100: true, breaks * 103 / 100: false} {
			rig.Firmware.Scan = scan
			if lost := illegal(t, &rig, degPerS); (lost == 0) != holds {
				t.Errorf("%+v: scan %v (limit %v, breaks at %v): %d detents of 2400 without a count", x, scan, limit, breaks, lost)
			}
		}
	}
}
