package evidence

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/part"
	"dialwright/scenarios"
)

// source is where a row of the path draws its phases from.
func (s Size) source(name string) draw.Trial { return draw.NewTrial(s.Seed, name, 0) }

// heldKey holds a key down for a time and returns when the number changed: at the
// press and at every repeat.
func (s Size) heldKey(repeat encoder.Repeat, held time.Duration) ([]encoder.Change, error) {
	rig := ideal(detentedKnob)
	rig.Firmware.Output, rig.Firmware.Pulse, rig.Firmware.Queue = encoder.Keys, held, 1
	rig.Firmware.Scan, rig.Firmware.Phase = time.Microsecond, encoder.PhaseAt(0)
	rig.USB.Poll, rig.USB.Phase = time.Microsecond, encoder.PhaseAt(0)
	rig.System.Repeat = repeat
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		return nil, err
	}
	path.Start(s.source("held key"), 0)
	path.Detent(1e9, +1)
	path.Finish()
	return path.Changes(), nil
}

// publishedTypematic are the 32 rates of command F3h by code, per second, as the
// BIOS INT 16h/03h tables list them (tables/typematic_rates.csv).
var publishedTypematic = [32]float64{
	30.0, 26.7, 24.0, 21.8, 20.0, 18.5, 17.1, 16.0, 15.0, 13.3, 12.0, 10.9, 10.0, 9.2, 8.6, 8.0,
	7.5, 6.7, 6.0, 5.5, 5.0, 4.6, 4.3, 4.0, 3.7, 3.3, 3.0, 2.7, 2.5, 2.3, 2.1, 2.0,
}

func keyRepeat(_ context.Context, s Size) ([]Check, error) {
	worst, delays := 0.0, true
	for code, rate := range publishedTypematic {
		r := part.Typematic(byte(code | code%4<<5))
		changes, err := s.heldKey(r, 10*time.Second)
		if err != nil {
			return nil, err
		}
		n := len(changes)
		got := float64(n-2) / (float64(changes[n-1].At-changes[1].At) / 1e9)
		worst = max(worst, math.Abs(got-rate))
		delays = delays && changes[1].At-changes[0].At == int64(250+250*(code%4))*1e6
	}
	b1 := Check{ID: "B1", What: "a held key under the 32 typematic codes of keyboard command F3h", Status: Read, Source: "BIOS INT 16h/03h tables, Linux atkbd.c; formula 240/((8+A)·2^B) derived",
		Published: "30.0 … 2.0 per s after 250, 500, 750 or 1000 ms", Band: "every rate within 0.051 per s, every delay exact", Measured: fmt.Sprintf("largest difference %.3f per s, delays exact: %v", worst, delays)}

	wrong, tried := 0, 0
	for _, system := range part.Systems() {
		for _, held := range []time.Duration{100, 700, 1000, 2345} {
			held *= time.Millisecond
			changes, err := s.heldKey(system.Repeat, held)
			if err != nil {
				return nil, err
			}
			want := 0
			if held > system.Repeat.Delay {
				want = int((held-system.Repeat.Delay-1)/system.Repeat.Rate.Period()) + 1
			}
			tried++
			if len(changes)-1 != want {
				wrong++
			}
		}
	}
	b2 := Check{ID: "B2", What: "a key held T under the key repeat that systems come with", Status: Read, Source: "tables/os_repeat_defaults.csv, each row its own source",
		Published: "⌊(T − delay)·rate⌋ + 1 repeats", Band: "exact", Measured: fmt.Sprintf("%d of %d presses on %d systems exact", tried-wrong, tried, len(part.Systems()))}

	var ends [2]float64
	for i, speed := range []int{0, 31} {
		changes, err := s.heldKey(part.WindowsSpeed(speed, 0), 10*time.Second)
		if err != nil {
			return nil, err
		}
		n := len(changes)
		ends[i] = float64(n-2) / (float64(changes[n-1].At-changes[1].At) / 1e9)
	}
	b3 := Check{ID: "B3", What: "ends of the Windows speed scale, a key held down", Status: Read, Source: "SystemParameters.KeyboardSpeed documentation",
		Published: "2.5 and 30 per s", Band: "the ends, ±0.01", Measured: fmt.Sprintf("%.2f and %.2f per s", ends[0], ends[1])}
	return []Check{b1.judged(worst <= 0.051 && delays), b2.judged(wrong == 0), b3.judged(math.Abs(ends[0]-2.5) <= 0.01 && math.Abs(ends[1]-30) <= 0.01)}, nil
}

// pollPeriods runs a change through polls of each published period and finds the
// period again from when changes come out.
func pollPeriods(_ context.Context, s Size) ([]Check, error) {
	rows := []struct {
		speed part.Speed
		from  int
		to    int
		want  time.Duration
	}{
		{part.FullSpeed, 1, 1, 1}, {part.FullSpeed, 2, 3, 2}, {part.FullSpeed, 4, 7, 4}, {part.FullSpeed, 8, 15, 8}, {part.FullSpeed, 16, 31, 16}, {part.FullSpeed, 32, 255, 32},
		{part.LowSpeed, 1, 15, 8}, {part.LowSpeed, 16, 35, 16}, {part.LowSpeed, 36, 255, 32},
	}
	right, tried := 0, 0
	measure := func(speed part.Speed, interval int, want time.Duration) error {
		poll, err := part.Poll(speed, interval)
		if err != nil {
			return err
		}
		rig := ideal(detentedKnob)
		rig.USB.Poll = poll
		path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			return err
		}
		path.Start(s.source("polls"), 0)
		for i := range int64(200) { // many counts in every poll
			path.Detent(1e9+i*int64(want)/4, +1)
		}
		path.Finish()
		c := path.Changes()
		tried++
		if len(c) > 2 && time.Duration(c[2].At-c[1].At)%want == 0 && poll == want {
			right++
		}
		return nil
	}
	for _, r := range rows {
		for _, interval := range []int{r.from, r.to} {
			if err := measure(r.speed, interval, r.want*time.Millisecond); err != nil {
				return nil, err
			}
		}
	}
	for b := 1; b <= 6; b++ {
		if err := measure(part.HighSpeed, b, 125*time.Microsecond<<(b-1)); err != nil {
			return nil, err
		}
	}
	c := Check{ID: "B4", What: "bInterval → time between polls, from when reports come", Status: Read, Source: "USB_ENDPOINT_DESCRIPTOR documentation",
		Published: "full speed 1/2–3/4–7/8–15/16–31/32+ → 1/2/4/8/16/32 ms; low ≤15/16–35/36+ → 8/16/32 ms; high 2^(b−1)·125 µs to 4 ms",
		Band:      "exact", Measured: fmt.Sprintf("%d of %d", right, tried)}
	return []Check{c.judged(right == tried)}, nil
}

// quarterSteps turns a knob whose detent is a quarter step so that a scan sees
// every one of the first few edges and then so many at once, and returns what the
// last ones counted and whether they were illegal.
func (s Size) quarterSteps(before, atOnce int, dir int8) (counts int64, illegal int, err error) {
	rig := ideal(encoder.Knob{Detents: 24, Cycles: 6})
	rig.Firmware.Scan, rig.Firmware.Phase = 10*time.Millisecond, encoder.PhaseAt(0)
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		return 0, 0, err
	}
	path.Start(s.source("quarter steps"), 0)
	at := int64(1e9) + 5e6
	for range before {
		path.Turn(+1, []int64{at})
		at += 20e6
	}
	path.RunTo(at - 6e6)
	reached := path.Shown(at - 6e6)
	for i := range int64(atOnce) {
		path.Turn(dir, []int64{at + i*1000})
	}
	path.Finish()
	return path.Shown(math.MaxInt64) - reached, path.Account().IllegalTransitions, nil
}

func quadrature(_ context.Context, s Size) ([]Check, error) {
	right, invalid := 0, 0
	for state := range 4 {
		for next := range 4 { // that many quarter steps further
			counts, illegal, err := s.quarterSteps(state, next, +1)
			if err != nil {
				return nil, err
			}
			want := []int64{0, +1, 0, -1}[next]
			if counts == want && (illegal > 0) == (next == 2) {
				right++
			}
			invalid += illegal
		}
	}
	b5 := Check{ID: "B5", What: "the quadrature table: every state, followed by every state", Status: Read, Source: "Linux rotary-encoder and generic-counter documentation; signs derived (tables/quadrature_transitions.csv)",
		Published: "16 transitions, 4 of them invalid", Band: "exact", Measured: fmt.Sprintf("%d right, %d invalid", right, invalid)}

	rig := ideal(encoder.Knob{Detents: 24, Cycles: 6})
	rig.Firmware.Scan = 10 * time.Millisecond
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		return nil, err
	}
	turned := func(perScan int64) int64 {
		path.Start(s.source("aliasing"), 0)
		for i := range int64(120) {
			path.Turn(+1, []int64{1e9 + (i+1)*10e6/perScan})
		}
		path.Finish()
		return path.Shown(math.MaxInt64)
	}
	one, two, three := turned(1), turned(2), turned(3)
	b6 := Check{ID: "B6", What: "120 quarter steps at 1, 2 and 3 for each scan", Status: Derived, Source: "s quarter steps a scan read as s mod 4",
		Published: "counted, skipped, counted backwards", Band: "all forwards at 1, about none at 2, backwards at 3",
		Measured: fmt.Sprintf("%+d, %+d, %+d", one, two, three)}
	return []Check{b5.judged(right == 16 && invalid == 4), b6.judged(one == 120 && two <= 2 && two >= -2 && three <= -38)}, nil
}

func parts(_ context.Context, s Size) ([]Check, error) {
	text, ok := []string{}, true
	for _, p := range part.Parts() {
		if p.Bounce == 0 {
			continue // it has no contacts
		}
		falseCounts := func(debounce time.Duration) (n int, err error) {
			rig := ideal(p.Knob())
			rig.Firmware.Decoder = encoder.Edge
			rig.Firmware.Scan = 100 * time.Microsecond
			rig.Firmware.Debounce = max(1, int(debounce/rig.Firmware.Scan))
			path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
			if err != nil {
				return 0, err
			}
			path.Start(s.source(p.Name), 0)
			for i := range int64(max(200, s.Events/50)) {
				path.Detent(1e9+i*400e6, +1)
			}
			path.Finish()
			return path.Account().Extra.Bounce, nil
		}
		long, err := falseCounts(p.Bounce + 200*time.Microsecond)
		if err != nil {
			return nil, err
		}
		short, err := falseCounts(p.Bounce / 10)
		if err != nil {
			return nil, err
		}
		ok = ok && long == 0 && short > 0
		text = append(text, fmt.Sprintf("%s (%v): %d, %d", p.Name, p.Bounce, long, short))
	}
	b7 := Check{ID: "B7", What: "false counts of the edge decoder, debounce longer than the part's bounce and a tenth of it", Status: Read,
		Source: "component data sheets, tables/encoder_parts.csv", Published: "bounce ≤ 2 ms at 15 rpm to 5 ms", Band: "0 with the longer one, some with the shorter", Measured: strings.Join(text, "; ")}

	o := scenarios.Practised()
	rig := encoder.Default()
	need := rig.ScanFor(scenarios.FlickDegPerS(&o))
	follows := func(scan time.Duration) (warned bool, lost int, err error) {
		r := rig
		r.Knob.Bounce, r.Firmware.Scan, r.Firmware.Debounce = 0, scan, 1
		limit := r.ScanFor(scenarios.FlickDegPerS(&o))
		r.Firmware.Scan = time.Duration(float64(limit) * float64(scan) / float64(need))
		r.Firmware.Output, r.Program = encoder.Relative, encoder.Program{Sampling: encoder.Immediate}
		for _, w := range scenarios.Warnings(&r, &o) {
			warned = warned || w.Link == scenarios.ContactAndScan
		}
		path, err := encoder.NewPath(encoder.Setup{Rig: &r})
		if err != nil {
			return warned, 0, err
		}
		path.Start(s.source("flick"), 0)
		interval := int64(1e9 * 360 / float64(r.Knob.Detents) / scenarios.FlickDegPerS(&o))
		for i := range int64(500) {
			path.Detent(1e9+i*interval, +1)
		}
		path.Finish()
		return warned, path.Account().Lost(), nil
	}
	warnedSlow, lostSlow, err := follows(3 * need)
	if err != nil {
		return nil, err
	}
	warnedFast, lostFast, err := follows(need * 9 / 10)
	if err != nil {
		return nil, err
	}
	b8 := Check{ID: "B8", What: "the scan that the operator's fastest flick needs", Status: Derived, Source: "f > debounce·PPR·rpm/(60·d); d = 0.08 on an EC11-type sheet",
		Published: "a slower scan loses clicks", Band: "warned and losing at three times the period, neither at 0.9 times",
		Measured: fmt.Sprintf("%.0f %% lost at 3 times (warned: %v), %.0f %% at 0.9 (warned: %v)", float64(lostSlow)/5, warnedSlow, float64(lostFast)/5, warnedFast)}
	return []Check{b7.judged(ok), b8.judged(warnedSlow && lostSlow > 0 && !warnedFast && lostFast == 0)}, nil
}

func sampling(_ context.Context, s Size) ([]Check, error) {
	const frame = 40 * time.Millisecond
	n := s.Events
	stream := s.source("sampler").Stream(draw.Recording)
	seen := func(width time.Duration) (float64, error) {
		rig := ideal(detentedKnob)
		rig.Firmware.Output, rig.Firmware.Pulse, rig.Firmware.Gap, rig.Firmware.Queue = encoder.Buttons, width, time.Millisecond, 4
		rig.USB.Poll = 10 * time.Microsecond
		rig.Program = encoder.Program{Frames: encoder.PerSecond(1 / frame.Seconds()), Sampling: encoder.State}
		path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			return 0, err
		}
		path.Start(s.source("sampler"), 0)
		at := int64(1e9)
		for i := range int64(n) {
			at += 200e6 + stream.Below(i, int64(frame))
			path.Detent(at, +1)
		}
		path.Finish()
		return float64(path.Account().Delivered) / float64(n), nil
	}
	text, ok := []string{}, true
	for _, width := range []time.Duration{10, 20, 30, 45} {
		width *= time.Millisecond
		got, err := seen(width)
		if err != nil {
			return nil, err
		}
		want := min(1, width.Seconds()/frame.Seconds())
		ok = ok && math.Abs(got-want) <= 3*math.Sqrt(want*(1-want)/float64(n))+1e-3*want
		text = append(text, fmt.Sprintf("%v %.4f", width, got))
	}
	b9 := Check{ID: "B9", What: "pulses of 10/20/30/45 ms seen by frames of 40 ms", Status: Derived, Source: "min(1, w/P) for random phases",
		Published: "0.25/0.5/0.75/1", Band: "within 3 standard errors (and the 10 µs poll)", Measured: strings.Join(text, ", ")}

	rig := ideal(detentedKnob)
	rig.Firmware.Scan = 10 * time.Microsecond
	rig.USB.Poll = 8 * time.Millisecond
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		return nil, err
	}
	path.Start(s.source("latency"), 0)
	var at []int64
	now := int64(1e9)
	for i := range int64(n) {
		now += 50e6 + stream.Below(int64(n)+i, 8e6)
		at = append(at, now)
		path.Detent(now, +1)
	}
	path.Finish()
	var sum, squares float64
	for i, c := range path.Changes() {
		d := float64(c.At-at[i]) / 8e6
		sum += d
		squares += d * d
	}
	mean := sum / float64(n)
	variance := squares/float64(n) - mean*mean
	b10 := Check{ID: "B10", What: "latency of one poll of period P: mean and variance", Status: Derived, Source: "uniform in [0, P)",
		Published: "P/2, P²/12 = 0.0833 P²", Band: "within 1 % at 10⁵", Measured: fmt.Sprintf("%.4f P, %.4f P² at %d", mean, variance, n)}
	tolerance := 0.01 * max(1, math.Sqrt(1e5/float64(n)))

	countable := func(perSecond float64) (float64, error) {
		rig := ideal(detentedKnob)
		period := time.Duration(1e9 / perSecond)
		rig.Firmware.Output, rig.Firmware.Pulse, rig.Firmware.Gap, rig.Firmware.Queue = encoder.Buttons, period/2, period/2, 1000
		rig.USB.Poll = 10 * time.Microsecond
		rig.Program = encoder.Program{Frames: 60, Sampling: encoder.State}
		path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
		if err != nil {
			return 0, err
		}
		const seconds = 60
		path.Start(s.source("countable"), 0)
		for i := range int64(seconds * perSecond) {
			path.Detent(1e9+i*int64(period), +1)
		}
		path.Finish()
		return float64(path.Account().Delivered) / seconds, nil
	}
	most := 0.0
	for _, rate := range []float64{20, 25, 29, 30, 35, 40, 55} {
		got, err := countable(rate)
		if err != nil {
			return nil, err
		}
		most = max(most, got)
	}
	b11 := Check{ID: "B11", What: "presses counted by a program that looks 60 times a second, pressed 20 to 55 times", Status: Derived, Source: "one frame up, one down: 1/(2P)",
		Published: "at most 30 per s", Band: "saturates at 30 per s, ±0.5", Measured: fmt.Sprintf("%.1f per s at most", most)}
	return []Check{
		b9.judged(ok), b10.judged(math.Abs(mean-0.5) <= tolerance*0.5 && math.Abs(variance-1.0/12) <= 2*tolerance/12),
		b11.judged(math.Abs(most-30) <= 0.5),
	}, nil
}
