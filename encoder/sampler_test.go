package encoder_test

import (
	"math"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/stat"
)

// presses returns a rig on which pulses of a width come one by one, far apart,
// through a poll and a frame that may be made too quick to matter.
func presses(width, poll, frame time.Duration) encoder.Rig {
	r := encoder.Default()
	r.Knob.Bounce = 0
	r.Firmware.Debounce, r.Firmware.Scan = 1, time.Microsecond
	r.Firmware.On, r.Firmware.Off = width, width
	r.USB.Poll = poll
	r.System.Latency = 0
	r.Program.Jitter = 0
	r.Program.FrameList = []time.Duration{frame}
	r.Display.Latency = 0
	return r
}

const quick = 7 * time.Microsecond

// single turns one detent in each of n trials and hands the trial's path to use.
func single(t *testing.T, rig *encoder.Rig, n int, use func(p *encoder.Path)) {
	p, err := encoder.NewPath(encoder.Setup{Rig: rig})
	if err != nil {
		t.Fatal(err)
	}
	for i := range n {
		p.Start(draw.NewTrial(7, "single", i), 0)
		p.Detent(int64(time.Second), +1)
		p.Finish()
		use(p)
	}
}

// Row B9 (derived): a pulse of width w is seen by a sampler of period P at a
// random phase with probability min(1, w/P). Through a poll and then a frame, both
// at random phases: the press that the program sees lasts from poll to poll, N
// polls long, where N is ⌊w/P⌋ or ⌈w/P⌉; so the probability is Σ P(N=n)·min(1, n·P/F).
func TestPulseIsSeenAsOftenAsItIsLong(t *testing.T) {
	const n = 100_000
	seen := func(w, poll, frame time.Duration) float64 {
		rig, hits := presses(w, poll, frame), 0
		single(t, &rig, n, func(p *encoder.Path) { hits += p.Account().Delivered })
		return float64(hits) / n
	}
	for _, x := range []struct{ w, poll, frame time.Duration }{
		{3 * time.Millisecond, 8 * time.Millisecond, quick},
		{7900 * time.Microsecond, 8 * time.Millisecond, quick},
		{12 * time.Millisecond, 8 * time.Millisecond, quick},
		{20 * time.Millisecond, quick, 33333 * time.Microsecond},
		{30 * time.Millisecond, quick, 33333 * time.Microsecond},
		{20 * time.Millisecond, 8 * time.Millisecond, 33333 * time.Microsecond},
		{5 * time.Millisecond, 8 * time.Millisecond, 16667 * time.Microsecond},
		{34 * time.Millisecond, 8 * time.Millisecond, 33333 * time.Microsecond},
	} {
		w, p, f := x.w.Seconds(), x.poll.Seconds(), x.frame.Seconds()
		low := math.Floor(w / p)
		more := w/p - low // P(N = low+1)
		want := (1-more)*math.Min(1, low*p/f) + more*math.Min(1, (low+1)*p/f)
		got := seen(x.w, x.poll, x.frame)
		// 0.0005 more for the 7 µs of the sampler that should not matter.
		if tolerance := 3*math.Sqrt(want*(1-want)/n) + 0.0005; math.Abs(got-want) > tolerance {
			t.Errorf("w %v, poll %v, frame %v: seen %.4f, want %.4f ± %.4f", x.w, x.poll, x.frame, got, want, tolerance)
		}
	}
}

// Row B10 (derived): the latency of one sampler is uniform, mean P/2, variance
// P²/12.
func TestLatencyOfASamplerIsUniform(t *testing.T) {
	const n = 100_000
	const p = 8e-3
	rig := presses(50*time.Millisecond, 8*time.Millisecond, quick)
	rig.Program.Sampling = encoder.Immediate
	rig.Program.FrameList = nil
	late := make([]float64, 0, n)
	single(t, &rig, n, func(path *encoder.Path) { late = append(late, float64(path.Changes()[0].At)/1e9-1) })
	mean, variance := stat.MeanVariance(late, nil)
	if math.Abs(mean/(p/2)-1) > 0.01 || math.Abs(variance/(p*p/12)-1) > 0.01 {
		t.Errorf("mean %.4g of %.4g, variance %.4g of %.4g", mean, p/2, variance, p*p/12)
	}
}

// Row B11 (derived): a program that samples levels counts at most one press in
// two frames: 30 a second at 60 frames a second.
func TestLevelSamplingSaturatesAtHalfTheFrameRate(t *testing.T) {
	for _, rate := range []float64{20, 29, 33, 40, 55} {
		rig := presses(0, time.Millisecond, 0)
		period := time.Duration(1e9 / rate)
		rig.Firmware.On, rig.Firmware.Off = period/2, period/2
		rig.Program.Frames, rig.Program.FrameList = 60, nil
		rig.Firmware.Queue = 10_000
		p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			t.Fatal(err)
		}
		const trials, detents = 40, 400
		steps := 0
		for i := range trials {
			p.Start(draw.NewTrial(3, "saturate", i), 0)
			for k := int64(1); k <= detents; k++ {
				p.Detent(k*int64(period), +1)
			}
			p.Finish()
			steps += p.Account().Delivered
		}
		got := float64(steps) / (trials * detents / rate)
		if got > 30.5 {
			t.Errorf("%.0f presses a second are counted as %.1f", rate, got)
		}
		if rate < 30 && math.Abs(got-rate) > 0.5 {
			t.Errorf("%.0f presses a second, below the limit, are counted as %.1f", rate, got)
		}
	}
}
