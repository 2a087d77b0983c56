package encoder_test

import (
	"math"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// presses returns a rig on which pulses of a width come one by one, far apart,
// through a poll and a frame that may be made too quick to matter.
func presses(width, poll, frame time.Duration) encoder.Rig {
	r := encoder.Default()
	r.Knob.Bounce = 0
	r.Firmware.Debounce, r.Firmware.Scan = 1, time.Microsecond
	r.Firmware.Pulse, r.Firmware.Gap = width, width
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
// random phase with probability min(1, w/P).
//
// In series, a poll of period P and then a frame of period F: the polls carry
// levels, so the press that the program sees lasts from the first poll that finds
// the line down to the first that finds it up, N·P, where N polls fall into the
// pulse: ⌊w/P⌋ of them or, with probability w/P − ⌊w/P⌋, one more. The frames know
// nothing of the polls, so a press of N·P is seen with probability min(1, N·P/F),
// and the whole with Σ P(N=n)·min(1, n·P/F). (F → 0 gives min(1, w/P) back, P → 0
// gives min(1, w/F).)
func TestPulseIsSeenAsOftenAsItIsLong(t *testing.T) {
	const n = 100_000
	const us, ms = time.Microsecond, time.Millisecond
	for _, x := range []struct{ w, poll, frame time.Duration }{
		{3 * ms, 8 * ms, quick},
		{7900 * us, 8 * ms, quick},
		{8 * ms, 8 * ms, quick},
		{12 * ms, 8 * ms, quick},
		{20 * ms, quick, 33333 * us},
		{30 * ms, quick, 33333 * us},
		{20 * ms, 8 * ms, 33333 * us},
		{5 * ms, 8 * ms, 16667 * us},
		{34 * ms, 8 * ms, 33333 * us},
		{40 * ms, 32 * ms, 50 * ms},
	} {
		w, p, f := x.w.Seconds(), x.poll.Seconds(), x.frame.Seconds()
		low := math.Floor(w / p)
		more := w/p - low // P(N = low+1)
		want := (1-more)*min(1, low*p/f) + more*min(1, (low+1)*p/f)
		rig, hits := presses(x.w, x.poll, x.frame), 0
		single(t, &rig, n, func(p *encoder.Path) { hits += p.Account().Delivered })
		got := float64(hits) / n
		// Three standard errors. A sampler that should not matter takes up to a period
		// off either end of the pulse.
		blur := 2 * quick.Seconds() / max(p, f)
		if p > 1e-4 && f > 1e-4 {
			blur = 0
		}
		if tolerance := 3*math.Sqrt(want*(1-want)/n) + blur; math.Abs(got-want) > tolerance {
			t.Errorf("w %v, poll %v, frame %v: seen %.4f, want %.4f ± %.4f", x.w, x.poll, x.frame, got, want, tolerance)
		}
	}
}

// Row B10 (derived): the latency of one sampler is uniform, mean P/2, variance
// P²/12, by a poll alone and by a frame alone.
func TestLatencyOfASamplerIsUniform(t *testing.T) {
	const n, bins = 100_000, 20
	byPoll := presses(50*time.Millisecond, 8*time.Millisecond, quick)
	byPoll.Program.Sampling, byPoll.Program.FrameList = encoder.Immediate, nil
	byFrame := presses(50*time.Millisecond, time.Microsecond, 40*time.Millisecond)
	for _, x := range []struct {
		rig    encoder.Rig
		period float64
	}{{byPoll, 8e-3}, {byFrame, 40e-3}} {
		late := make([]float64, 0, n)
		seen, even := make([]float64, bins), make([]float64, bins)
		single(t, &x.rig, n, func(path *encoder.Path) {
			l := float64(path.Changes()[0].At)/1e9 - 1
			late = append(late, l)
			seen[min(int(l/x.period*bins), bins-1)]++
		})
		mean, variance := stat.MeanVariance(late, nil)
		if p := x.period; math.Abs(mean/(p/2)-1) > 0.01 || math.Abs(variance/(p*p/12)-1) > 0.01 {
			t.Errorf("period %v s: mean %.4g of %.4g, variance %.4g of %.4g", p, mean, p/2, variance, p*p/12)
		}
		for i := range even {
			even[i] = n / bins
		}
		if chi := stat.ChiSquare(seen, even); chi > (distuv.ChiSquared{K: bins - 1}).Quantile(0.999) {
			t.Errorf("period %v s: chi-square %.1f over %v", x.period, chi, seen)
		}
	}
}

// train returns the steps a second that a train of presses, T apart and w long, is
// counted as, over 40 random phases. The sampler is the program's frames, or, with
// byPoll, the polls.
func train(t *testing.T, interval, width, sampler time.Duration, byPoll bool) float64 {
	rig := presses(width, quick, sampler)
	if byPoll {
		rig = presses(width, sampler, quick)
		rig.Program.Sampling, rig.Program.FrameList = encoder.Immediate, nil
	}
	rig.Firmware.Gap, rig.Firmware.Queue = interval-width, 0
	p, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		t.Fatal(err)
	}
	const trials, detents = 40, 500
	steps := 0
	for i := range trials {
		p.Start(draw.NewTrial(3, "train", i), 0)
		for k := int64(1); k <= detents; k++ {
			p.Detent(k*int64(interval), +1)
		}
		p.Finish()
		if a := p.Account(); a.QueueDropped+a.Illegal > 0 || a.Delivered != a.Steps {
			t.Fatalf("not a train of presses: %+v", a)
		}
		steps += p.Account().Delivered
	}
	return float64(steps) / (trials * detents * interval.Seconds())
}

// A train of presses that comes faster than a sampler of levels can follow is
// counted as a slower one (derived). With the interval T, the width w and the
// sampler's period P, the place of a sample in the train goes on by θ = P/T mod 1 of
// a round. A sample counts when it falls into the press and the one before did not:
// the press is an arc δ = w/T of the circle, and of an arc δ the part that is not in
// the same arc turned by θ is min(δ, 1−δ, θ, 1−θ). So the train counts as
// min(δ, 1−δ, θ, 1−θ)/P steps a second: 1/T as long as w and T−w are longer than P,
// w/(PT) when short pulses are missed (row B9), (T−w)/(PT) when short gaps merge, and
// else the difference to the nearest multiple of the sampler's rate, as strobes
// show a wheel.
func TestTrainsOfPressesAlias(t *testing.T) {
	const ms = time.Millisecond
	for _, x := range []struct {
		interval, width, sampler time.Duration
		want                     float64 // a second, worked by hand
	}{
		{50 * ms, 20 * ms, 10 * ms, 20},                    // followed
		{29 * ms, 3 * ms, 10 * ms, 10.345},                 // short presses: 3/29 of a hundred
		{50 * ms, 4 * ms, 7 * ms, 11.429},                  // 4/50 of 142.9
		{31 * ms, 28 * ms, 10 * ms, 9.677},                 // short gaps: 3/31 of a hundred
		{12 * ms, 6 * ms, 10 * ms, 16.667},                 // θ = 10/12: 100 − 83.3
		{9 * ms, 4 * ms, 10 * ms, 11.111},                  // θ = 1/9: 111.1 − 100
		{10 * ms, 5 * ms, 10 * ms, 0},                      // in step: all up or all down
		{20 * ms, 10 * ms, 10 * ms, 50},                    // θ = ½, the most there is
		{7 * ms, 3500 * time.Microsecond, 10 * ms, 42.857}, // θ = 3/7
	} {
		delta := x.width.Seconds() / x.interval.Seconds()
		_, theta := math.Modf(x.sampler.Seconds() / x.interval.Seconds())
		if form := min(delta, 1-delta, theta, 1-theta) / x.sampler.Seconds(); math.Abs(form-x.want) > 0.001 {
			t.Errorf("the closed form gives %.3f, worked by hand %.3f", form, x.want)
		}
		for _, byPoll := range []bool{false, true} {
			if got := train(t, x.interval, x.width, x.sampler, byPoll); math.Abs(got-x.want) > 0.01*x.want+0.25 {
				t.Errorf("presses of %v every %v, sampled every %v (polls: %t): %.2f a second, want %.2f", x.width, x.interval, x.sampler, byPoll, got, x.want)
			}
		}
	}
}

// Row B11 (derived): a program that samples levels counts at most 1/(2P) presses a
// second, 30 at 60 frames a second: with presses and gaps of equal length it follows
// up to there, saturates there, and beyond it counts fewer.
func TestLevelSamplingSaturatesAtHalfTheFrameRate(t *testing.T) {
	const frame = 16_666_667 * time.Nanosecond // 60 a second
	most := 0.0
	for rate := 4.0; rate <= 90; rate++ {
		interval := time.Duration(math.Round(1e6/rate/2)) * 2 * time.Microsecond
		got := train(t, interval, interval/2, frame, false)
		if rate <= 30 && math.Abs(got-rate) > 0.01*rate {
			t.Errorf("%.0f presses a second, below the limit, are counted as %.2f", rate, got)
		}
		most = max(most, got)
	}
	if math.Abs(most-30) > 0.15 {
		t.Errorf("at most %.2f presses a second are counted, want 30", most)
	}
}
