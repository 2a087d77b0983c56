package evidence

import (
	"context"
	"fmt"
	"math"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// pulseQueue is the pulse output as a queue: every count is a pulse that takes
// so long, one after the other.
func pulseQueue(service time.Duration) (*encoder.Path, error) {
	rig := ideal(detentedKnob)
	rig.Firmware.Output, rig.Firmware.Queue = encoder.Buttons, 1000
	rig.Firmware.Pulse, rig.Firmware.Gap = service/2, service-service/2
	rig.Firmware.Scan = 2 * time.Microsecond
	return encoder.NewPath(encoder.Setup{Rig: &rig})
}

// waits feeds detents at the given times and returns the waits of their pulses,
// from the count to the press, in units of the service.
func (s Size) waits(path *encoder.Path, service time.Duration, next func(i int64) int64, n int, each func(wait float64)) {
	var counted []int64
	first := 0
	path.Trace = func(e encoder.Event) {
		switch e.Kind {
		case encoder.Counted:
			counted = append(counted, e.At)
		case encoder.Pressed:
			each(float64(e.At-counted[first]) / float64(service))
			first++
		}
	}
	path.Start(s.source("queue"), 0)
	at := int64(1e9)
	for i := range int64(n) {
		at += next(i)
		path.Detent(at, +1)
	}
	path.Finish()
	path.Trace = nil
}

func queues(ctx context.Context, s Size) ([]Check, error) {
	const service = 20 * time.Millisecond
	path, err := pulseQueue(service)
	if err != nil {
		return nil, err
	}
	stream := s.source("poisson").Stream(draw.Recording)
	text, ok := "", true
	const chunk = 50_000
	for _, load := range []float64{0.5, 0.8} {
		sum, n := 0.0, 0.0
		for done := 0; done < 20*s.Events; done += chunk {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			s.waits(path, service, func(i int64) int64 {
				u := (float64(stream.Unit(int64(done)+i)) + 0.5) / draw.Share
				// Each of the four edges needs a scan of its own.
				return max(10e3, int64(math.Round(-math.Log(u)*float64(service)/load)))
			}, chunk, func(w float64) { sum += w; n++ })
		}
		want := load / (2 * (1 - load))
		got := sum / n
		tolerance := 0.02 * max(1, math.Sqrt(2e6/n))
		ok = ok && math.Abs(got-want) <= tolerance*want
		text += fmt.Sprintf("%.3f at load %g (%.1f million), ", got, load, n/1e6)
	}
	b12 := Check{ID: "B12", What: "mean wait of a pulse over its length, detents at random (M/D/1)", Status: Memory, Source: "Kleinrock, Queueing Systems I (1975): ρ/(2(1−ρ))",
		Published: "0.5 at load 0.5, 2.0 at load 0.8", Band: "within 2 % at two million detents", Measured: text[:len(text)-2]}

	exact, k := true, int64(0)
	interval := int64(15 * time.Millisecond) // faster than the pulses
	s.waits(path, service, func(int64) int64 { return interval }, 300, func(w float64) {
		want := float64(k*(int64(service)-interval)) / float64(service)
		exact = exact && math.Abs(w-want) < 1e-9
		k++
	})
	b13 := Check{ID: "B13", What: "waits of 300 pulses of 20 ms, a detent every 15 ms (D/D/1)", Status: Derived, Source: "the n-th waits n(S − T)",
		Published: "n·5 ms", Band: "exact", Measured: fmt.Sprintf("exact for %d: %v", k, exact)}
	return []Check{b12.judged(ok), b13.judged(exact && k == 300)}, nil
}
