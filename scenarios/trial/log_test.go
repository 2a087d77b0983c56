package trial

import (
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/radio"
)

// ended is the number of a dial at the end of a run.
func ended(r *Run) int64 {
	value := r.Start
	for _, e := range r.Events {
		if e.Kind == encoder.Stepped {
			value = e.Value
		}
	}
	return value
}

// A ring that was taken for the other is turned the way that the other had to go, and
// is dialed anew: in the end each dial shows its part of the target.
func TestAMistakenRingIsSetRightInTheEnd(t *testing.T) {
	rig := encoder.Default()
	o := scenarios.Practised()
	o.WrongRing = 0.5
	b := bench(t, Cell{Task: radio.COM25(), Rings: 2, Inner: &rig, Operator: &o})
	var log Log
	mistaken, down := [2]int{}, 0
	for n := range 400 {
		b.Record(&log, 1, n)
		var shown [2]int64
		for i, d := range b.Dials() {
			shown[i] = d.Part(log.Start)
		}
		for i := range log.Runs {
			r := &log.Runs[i]
			if r.Start != shown[r.Number] {
				t.Fatalf("trial %d, run %d: ring %d begins at %d and had been left at %d", n, i, r.Number, r.Start, shown[r.Number])
			}
			shown[r.Number] = ended(r)
			if !r.Mistaken {
				continue
			}
			mistaken[r.Number]++
			meant := &log.Runs[i+1]
			if meant.Number == r.Number || meant.Mistaken {
				t.Fatalf("trial %d: after the slip on ring %d comes ring %d", n, r.Number, meant.Number)
			}
			way := int8(1)
			if meant.Scale.Distance(meant.Start, meant.Target) < 0 {
				way, down = -1, down+1
			}
			for _, e := range r.Events {
				if e.Kind == encoder.Turned && e.Dir != way {
					t.Fatalf("trial %d: the wrong ring is turned %+d, the right one has to go %+d", n, e.Dir, way)
				}
			}
		}
		for i, d := range b.Dials() {
			if !log.Timeout && shown[i] != d.Part(log.Target) {
				t.Errorf("trial %d: ring %d ends at %d, its target is %d", n, i, shown[i], d.Part(log.Target))
			}
		}
	}
	if mistaken[0] < 50 || mistaken[1] < 50 || down < 50 {
		t.Errorf("slips on the rings %v, %d of them downwards", mistaken, down)
	}
}

// What is written down of a trial is what its hooks see, and its fates add up to the
// account; the room is used again.
func TestALogIsTheTrial(t *testing.T) {
	rig := encoder.Default()
	rig.Firmware.Queue = 2
	rig.Display.Latency = 70 * time.Millisecond
	for _, task := range []*scenarios.Task{scenarios.Heading(), scenarios.Transponder()} {
		b := bench(t, Cell{Task: task, Inner: &rig})
		var log Log
		var fates []encoder.Fate
		for n := range 60 {
			var acts []hand.Act
			var events []encoder.Event
			b.Trace = func(_ int, a hand.Act) { acts = append(acts, a) }
			b.Path = func(_ int, e encoder.Event) { events = append(events, e) }
			want := b.Run(3, n)
			b.Trace, b.Path = nil, nil
			b.Record(&log, 3, n)
			if log.Result != want {
				t.Fatalf("%s, trial %d: %+v, written down %+v", task.Name, n, want, log.Result)
			}
			tally := map[encoder.Fate]int{}
			for i := range log.Runs {
				r := &log.Runs[i]
				if r.Latency != 70e6 {
					t.Fatalf("latency %d", r.Latency)
				}
				for _, a := range r.Acts {
					if len(acts) == 0 || acts[0] != a {
						t.Fatalf("%s, trial %d: another act: %+v", task.Name, n, a)
					}
					acts = acts[1:]
				}
				for _, e := range r.Events {
					if len(events) == 0 || events[0] != e {
						t.Fatalf("%s, trial %d: another event: %+v", task.Name, n, e)
					}
					events = events[1:]
				}
				for _, f := range r.Fates(fates[:0]) {
					tally[f]++
				}
			}
			a := want.Account
			if len(acts)+len(events) > 0 || tally[encoder.Delivered] != a.Delivered || tally[encoder.QueueDropped] != a.QueueDropped || tally[encoder.Illegal] != a.Illegal ||
				tally[encoder.FrameMissed] != a.FrameMissed || tally[encoder.MergedAtFrame]+tally[encoder.MergedAtPoll] != a.Merged {
				t.Errorf("%s, trial %d: fates %v, %d acts and %d events too few; the account says %+v", task.Name, n, tally, len(acts), len(events), a)
			}
		}
	}
}

// Where a profile cannot be set the knob stays plain, with the trials of plain, and
// the seat says why; a seat that insists is refused.
func TestASeatStaysPlainWhereTheProfileDoesNotFit(t *testing.T) {
	rig := &scenarios.Rig{Rig: *quickRig()}
	rig.Knob.Push = false
	o := scenarios.Practised()
	u := scenarios.Served{Task: numberTask(0), Knob: &scenarios.Knob{Name: "knob", Rings: 1, Inner: rig}, PerHour: 1}
	press := &scenarios.Profile{Name: "press", PressCoarse: 10}
	if _, err := new(Grips).Seat(u, press, &o); err == nil {
		t.Fatal("a knob without a push takes press-for-coarse")
	}
	stays, err := SeatOrPlain(u, press, &o)
	if err != nil || stays.Stays == nil || stays.Profile.Name != "plain" {
		t.Fatalf("%+v, %v", stays, err)
	}
	plain, err := SeatOrPlain(u, scenarios.Plain(), &o)
	if err != nil || plain.Stays != nil {
		t.Fatalf("%+v, %v", plain, err)
	}
	for n := range 20 {
		if a, b := stays.Run(1, n), plain.Run(1, n); a != b {
			t.Fatalf("trial %d: %+v, plain %+v", n, a, b)
		}
	}
	u.Others = 1
	behind, err := new(Grips).Seat(u, scenarios.Plain(), &o)
	if err != nil {
		t.Fatal(err)
	}
	for n := range 20 {
		if a, b := plain.Run(1, n), behind.Run(1, n); b.Confirmed <= a.Confirmed {
			t.Errorf("trial %d: the selector costs nothing: %d and %d ns", n, a.Confirmed, b.Confirmed)
		}
	}
	rig.Knob.Detents = -1
	if _, err := SeatOrPlain(u, press, &o); err == nil {
		t.Error("a rig that cannot run has a seat")
	}
}
