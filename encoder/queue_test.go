package encoder_test

import (
	"math"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// serve returns a rig whose pulses are a queue with one server: a pulse and its
// gap are the service.
func serve(service time.Duration) encoder.Rig {
	r := presses(service/2, time.Millisecond, quick)
	r.Firmware.Queue = 4000
	r.Program.Sampling, r.Program.FrameList = encoder.Immediate, nil
	return r
}

// Row B12: the mean wait of M/D/1 is Wq/S = ρ/(2(1−ρ)) (Kleinrock, Queueing
// Systems I, 1975; from memory). Poisson detents feed the pulse queue; of 2 million
// and more the wait of each is the start of its pulse less its count.
func TestPulsesWaitAsInAnMD1Queue(t *testing.T) {
	const service = 10 * time.Millisecond
	for _, x := range []struct{ rho, wait float64 }{{0.5, 0.5}, {0.8, 2.0}} {
		rig := serve(service)
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		var counted []int64
		waits, n := 0.0, 0
		p.Trace = func(e encoder.Event) {
			switch e.Kind {
			case encoder.Counted:
				counted = append(counted, e.At)
			case encoder.Pressed:
				waits += float64(e.At - counted[e.Detent])
				n++
			}
		}
		const trials, detents = 22, 100_000
		for i := range trials {
			trial := draw.NewTrial(5, "poisson", i)
			s := trial.Stream(draw.Targets)
			p.Start(trial, 0)
			counted = counted[:0]
			at := int64(0)
			for k := range int64(detents) {
				u := (float64(s.Unit(k)) + 0.5) / draw.Share
				// At least 5 µs apart, so that each of the four edges has a scan of its
				// own: one interval in 2500 is lengthened, by some 3 µs of 12 ms.
				at += max(5e3, int64(math.Round(-math.Log(u)*float64(service)/x.rho)))
				p.Detent(at, +1)
			}
			p.Finish()
			if a := p.Account(); a.Illegal+a.QueueDropped > 0 {
				t.Fatalf("rho %.1f: %d illegal, %d dropped", x.rho, a.Illegal, a.QueueDropped)
			}
		}
		if n < 2_000_000 {
			t.Fatalf("only %d pulses", n)
		}
		if got := waits / float64(n) / float64(service); math.Abs(got/x.wait-1) > 0.02 {
			t.Errorf("rho %.1f: mean wait %.4f services, want %.4f", x.rho, got, x.wait)
		}
	}
}

// Row B13 (derived): in D/D/1 with ρ > 1 the n-th arrival (from 0) waits n(S−T).
func TestPulsesWaitAsInADD1Queue(t *testing.T) {
	const service, gap = 10 * time.Millisecond, 7 * time.Millisecond
	rig := serve(service)
	rig.Firmware.Phase = encoder.PhaseAt(0)
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	var counted []int64
	p.Trace = func(e encoder.Event) {
		switch e.Kind {
		case encoder.Counted:
			counted = append(counted, e.At)
		case encoder.Pressed:
			if wait, want := e.At-counted[e.Detent], int64(e.Detent)*int64(service-gap); wait != want {
				t.Errorf("pulse %d waits %d ns, want %d", e.Detent, wait, want)
			}
		}
	}
	p.Start(draw.NewTrial(1, "", 0), 0)
	for k := int64(0); k < 500; k++ {
		p.Detent(int64(100*time.Millisecond)+k*int64(gap), +1)
	}
	p.Finish()
	if len(counted) != 500 {
		t.Errorf("%d counts", len(counted))
	}
}
