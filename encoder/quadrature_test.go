package encoder_test

import (
	"encoding/csv"
	"os"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
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

// Row B6 (derived): s true quarter steps a scan are read as s mod 4: at the limit
// of one a scan all are counted, at two a scan none, and at three a scan the knob
// counts backwards.
func TestSlowScanAliases(t *testing.T) {
	for s, want := range map[int]int64{1: 100, 2: 0, 3: -100} {
		rig := smooth(12 * time.Millisecond)
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		p.Start(draw.NewTrial(1, "", 0), 0)
		for i := range int64(100 * s) {
			p.Turn(+1, []int64{12*ms/int64(2*s) + i*12*ms/int64(s)})
		}
		p.Finish()
		if got := p.Shown(1 << 60); got != want {
			t.Errorf("%d quarter steps a scan: 100 scans count %+d, want %+d", s, got, want)
		}
	}
}

// Row B7: the sheets of the parts promise a bounce of at most 2 to 5 ms
// (encoder/part). With the edge decoder a debounce longer than the bounce gives no
// false count, a shorter one gives some.
func TestDebounceLongerThanTheBounceGivesNoFalseCounts(t *testing.T) {
	for debounce, some := range map[int]bool{1: true, 2: true, 6: false, 8: false} {
		rig := presses(time.Millisecond, time.Millisecond, quick)
		rig.Knob.Bounce = 5 * time.Millisecond
		rig.Firmware.Scan, rig.Firmware.Debounce = time.Millisecond, debounce
		rig.Firmware.Decoder = encoder.Edge
		rig.Firmware.Queue = 100
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		bounce := 0
		for i := range 200 {
			p.Start(draw.NewTrial(9, "bounce", i), 0)
			for k := int64(1); k <= 20; k++ {
				p.Detent(k*100*ms, +1)
			}
			p.Finish()
			bounce += p.Account().Extra.Bounce
		}
		if (bounce > 0) != some {
			t.Errorf("debounce %d of 1 ms, bounce 5 ms: %d false counts", debounce, bounce)
		}
	}
}

// Row B8 (derived): the firmware follows while `debounce` scans fit into the
// shortest state, f > debounce·PPR·rpm/(60·d). With a debounce of 1 that is where
// the count breaks; a longer one only leaves a margin, since it delays both
// contacts alike.
func TestScanLimitIsWhereTheCountBreaks(t *testing.T) {
	rig := smooth(time.Millisecond)
	rig.Knob.Detents, rig.Knob.MinState = 24, 0.08
	rig.Firmware.Debounce = 1
	for _, x := range []struct {
		share float64 // of the limit
		holds bool
	}{{0.9, true}, {1.5, false}} {
		const degPerS = 360.0
		rig.Firmware.Scan = time.Duration(float64(rig.ScanFor(degPerS)) * x.share)
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		lost := 0
		for i := range 50 {
			p.Start(draw.NewTrial(1, "limit", i), 0)
			for k := int64(1); k <= 48; k++ {
				p.Detent(100*ms+k*1e9/24, +1)
			}
			p.Finish()
			lost += p.Account().Illegal
		}
		if (lost == 0) != x.holds {
			t.Errorf("scan of %v, %.1f of the limit: %d of 2400 detents are illegal", rig.Firmware.Scan, x.share, lost)
		}
	}
}
