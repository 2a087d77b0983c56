package fit

import (
	"context"
	"math"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
)

// traced is a knob whose contacts are recorded. The ranges: 24 detents with 2, 4 or 8
// quarter steps, bounce 0.5–3 ms, shortest state 0.12–0.25, two turns each way in
// strokes of 5–10 clicks at 8–30 clicks a second, and 24 single clicks. A contact
// chatters after an edge for a uniform part of the bounce.
type traced struct {
	knob   encoder.Knob
	events []recording.Event
	worst  time.Duration // the longest chatter there was
	short  float64       // ms, the mean of the shortest states of the fastest stroke
}

func trace(n int) traced {
	d := newDice("traced", n)
	e := []int{2, 4, 8}[d.of(3)]
	x := traced{knob: encoder.Knob{Detents: 24, Cycles: 24 * e / 4}}
	x.knob.Bounce = d.time(0.5, 3)
	x.knob.MinState = math.Round(d.between(120, 250)) / 1000
	now := 1e9
	quarter := 0 // position in quarter steps
	level := [2]int64{}
	add := func(at float64, contact int, l int64) {
		x.events = append(x.events, recording.Event{Time: int64(at), Control: []string{"a", "b"}[contact], Kind: recording.Level, N: l})
	}
	add(0, 0, 0)
	add(0, 1, 0)
	edge := func(at float64, way int, room float64) {
		// Clockwise AB goes 00, 10, 11, 01.
		contact := ((quarter % 2) + 2) % 2
		if way < 0 {
			contact = 1 - contact
		}
		quarter += way
		l := 1 - level[contact]
		level[contact] = l
		add(at, contact, l)
		c := min(d.between(0, 1)*float64(x.knob.Bounce), room)
		pairs := d.of(4)
		if pairs == 0 || c < 20e3 {
			return
		}
		for p := range pairs {
			add(at+c*(float64(2*p)+1)/float64(2*pairs), contact, 1-l)
			add(at+c*(float64(2*p)+2)/float64(2*pairs), contact, l)
		}
		x.worst = max(x.worst, time.Duration(c))
	}
	detent := func(way int, spacing float64) {
		q := spacing / float64(e)
		for j := 1; j <= e; j++ {
			late := 0.0
			if (e-j)%2 == 1 {
				late = (1 - 4*x.knob.MinState) * q
			}
			// The same contact's next edge comes two quarter steps later.
			edge(now+float64(j)*q+late, way, 0.8*q)
		}
		now += spacing
	}
	fastest := math.Inf(1)
	for _, way := range []int{1, -1, 1, -1} {
		for left := 24; left > 0; {
			m := min(left, 5+d.of(6))
			spacing := 1e9 / d.between(8, 30)
			fastest = min(fastest, spacing)
			for range m {
				detent(way, spacing)
			}
			now += 250e6
			left -= m
		}
		now += 2e9
	}
	for range 24 {
		detent(1, 60e6)
		now += 400e6
	}
	x.short = fastest / float64(e) * 4 * x.knob.MinState / 1e6
	return x
}

// Of a trace of the contacts come the bounce, the shortest state and the quarter steps
// of a detent; and the scan and debounce that are said to be enough lose no click of
// the same knob turned as fast.
func TestContactsAreMeasured(t *testing.T) {
	bounces, states, cycles, scans, enough := 0, 0, 0, 0, 0
	const traces = 40
	for n := range traces {
		x := trace(n)
		r, err := newRecording("trace", recording.Device{}, x.events)
		if err != nil {
			t.Fatal(err)
		}
		res, err := Run(context.Background(), &Study{Recordings: []*Recording{r}})
		if err != nil {
			t.Fatal(err)
		}
		near := func(key string, want, tolerance float64) bool {
			v, _ := res.Path.Get(key)
			if v.Known && math.Abs(v.Value-want) <= tolerance {
				return true
			}
			t.Logf("trace %d: %s %.4g (%s), %.4g is true", n, key, v.Value, v.Why, want)
			return false
		}
		worst := float64(x.worst) / 1e6
		if near("knob.bounce", worst, 0.05*worst+0.05) {
			bounces++
		}
		if near("knob.min_state", x.knob.MinState, 0.02) {
			states++
		}
		if near("knob.cycles", float64(x.knob.Cycles), 0) {
			cycles++
		}
		c := res.Contacts
		if c.Scan == 0 {
			t.Logf("trace %d: no scan is enough, shortest states %s, bounce %s", n, c.Fastest, x.worst)
			continue
		}
		scans++
		rig := encoder.Default()
		rig.Knob = x.knob
		rig.Knob.Bounce = x.worst
		rig.Firmware.Scan, rig.Firmware.Debounce = c.Scan, c.Debounce
		rig.Firmware.Output, rig.Program.Sampling = encoder.Relative, encoder.Immediate
		path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		path.Start(draw.NewTrial(7, "enough", n), 0)
		e, _ := rig.Knob.EdgesPerDetent()
		spacing := x.short / (4 * x.knob.MinState) * float64(e) * 1e6
		for i := range 200 {
			path.Detent(1e9+int64(float64(i)*spacing), 1)
		}
		path.Finish()
		if a := path.Account(); a.Delivered == 200 && a.Extra.Bounce == 0 {
			enough++
		} else {
			t.Logf("trace %d: scan %s, debounce %d: %+v", n, c.Scan, c.Debounce, a)
		}
	}
	t.Logf("of %d: bounce %d, shortest state %d, cycles %d; a scan is named for %d, %d are enough", traces, bounces, states, cycles, scans, enough)
	if 100*bounces < 95*traces || 100*states < 95*traces || 100*cycles < 95*traces {
		t.Errorf("bounce %d, shortest state %d, cycles %d of %d are right", bounces, states, cycles, traces)
	}
	if 100*scans < 80*traces || 100*enough < 95*scans {
		t.Errorf("a scan is named for %d of %d, and %d are enough", scans, traces, enough)
	}
}
