package fit

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/encoder/recording"
)

// recorded is a session on a random rig, and what is true of it.
type recorded struct {
	rig     encoder.Rig
	session *Session
	fit     *fitting

	backToBack    float64 // share of the pulses, after the slow turn, that started as soon as the line was free
	first, next   int     // repeats
	bursts        []float64
	pauses, rates []float64          // of the strokes of the fast turns
	lost          float64            // share of the clicks of the fast turns that no poll carried
	lostIn        map[string]float64 // the same of each
}

// record sits through session n and identifies it.
func record(t *testing.T, n int) recorded {
	t.Helper()
	d := newDice("recorded", n)
	x := recorded{rig: recordedRig(d)}
	o := recordedOperator(d)
	source := draw.NewTrial(2026, "recorded", n)
	s, l, err := sit(&x.rig, &o, source, recording.Steps())
	if err != nil {
		t.Fatalf("rig %d: %v", n, err)
	}
	x.session = s
	pulses, last := 0, int64(math.MinInt64/2)
	for _, e := range l.heard {
		if e.Kind == encoder.Pressed && e.At > s.Parts[1].Start {
			pulses++
			if e.At-last == int64(x.rig.Firmware.Pulse+x.rig.Firmware.Gap) {
				x.backToBack++
			}
			last = e.At
		}
	}
	x.backToBack /= float64(max(1, pulses))
	s.Events = l.recorded(source, int64(d.between(10e3, 100e3))) // stamps up to some 0.1 ms late
	s.mark()
	was := recording.Press
	for _, e := range s.Events {
		if e.Kind == recording.Repeat {
			if was == recording.Repeat {
				x.next++
			} else {
				x.first++
			}
		}
		was = e.Kind
	}
	turned := 0
	x.lostIn = map[string]float64{}
	for _, p := range s.Parts[1:7] {
		for _, f := range s.Fates[p.First:p.Last] {
			turned++
			switch f {
			case encoder.Illegal, encoder.QueueDropped, encoder.Cleared, encoder.PollMissed, encoder.MergedAtPoll:
				x.lost++
				x.lostIn[p.Name] += 1 / float64(p.Last-p.First)
			}
		}
		for i, at := range p.Strokes {
			x.bursts = append(x.bursts, float64(len(at)))
			if i > 0 {
				before := p.Strokes[i-1]
				x.pauses = append(x.pauses, float64(at[0]-before[len(before)-1])/1e9)
			}
			if len(at) >= leastMoves {
				x.rates = append(x.rates, float64(len(at)-1)*1e9/float64(at[len(at)-1]-at[0]))
			}
		}
	}
	x.lost /= float64(turned)
	r, err := newRecording("session", recording.Device{}, s.Events)
	if err != nil {
		t.Fatalf("rig %d: %v", n, err)
	}
	x.fit = &fitting{Study: &Study{Recordings: []*Recording{r}, Turned: turned}, r: &Result{}}
	if _, err := x.fit.identify(); err != nil {
		t.Fatalf("rig %d: %v", n, err)
	}
	x.fit.downstream()
	return x
}

// tally counts claims about one quantity.
type tally struct{ matters, found, claims, right int }

// Recordings of 100 random rigs and persons (ranges in ranges_test.go). A pulse time
// matters where pulses show it: on with every pulse, off where a quarter of the pulses
// come back to back; a repeat where it came three times.
func TestWhatIsClaimedIsRight(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	tallies := map[string]*tally{}
	of := func(key string) *tally {
		if tallies[key] == nil {
			tallies[key] = &tally{}
		}
		return tallies[key]
	}
	for n := range 100 {
		x := record(t, n)
		f := &x.rig.Firmware
		check := func(vs Values, key string, matters bool, truth, tolerance float64, convert func(float64) float64) {
			v, _ := vs.Get(key)
			y := of(key)
			if matters {
				y.matters++
				if v.Known {
					y.found++
				}
			}
			if !v.Known {
				return
			}
			y.claims++
			value := v.Value
			if convert != nil {
				value = convert(value)
			}
			if math.Abs(value-truth) <= tolerance {
				y.right++
			} else {
				t.Logf("rig %d: %s %.4g is claimed (%s), %.4g is true", n, key, value, v.Why, truth)
			}
		}
		ms := func(d time.Duration) float64 { return float64(d) / 1e6 }
		poll := ms(x.rig.USB.Poll)
		near := func(d time.Duration) float64 { return max(0.05*ms(d), poll) } // 5 % or one poll
		path, hand := x.fit.r.Path, x.fit.r.Hand
		lines := f.Output.Lines()
		check(path, "usb.poll", true, poll, 0.05*poll, nil)
		check(path, "firmware.pulse", lines && f.Hold == 0, ms(f.Pulse), near(f.Pulse), nil)
		check(path, "firmware.gap", lines && f.Hold == 0 && x.backToBack > 0.25, ms(f.Gap), near(f.Gap), nil)
		check(path, "firmware.hold", lines && f.Hold > 0, ms(f.Hold), near(f.Hold), nil)
		repeat := x.rig.System.Repeat
		check(path, "system.repeat.delay", x.first >= 3, ms(repeat.Delay), near(repeat.Delay), nil)
		check(path, "system.repeat.rate", x.next >= 3, ms(repeat.Rate.Period()), near(repeat.Rate.Period()), func(r float64) float64 { return 1e3 / r })
		check(path, "knob.detents", false, float64(x.rig.Knob.Detents), 0, nil)
		for key, sample := range map[string][]float64{"burst": x.bursts, "pause": x.pauses, "rate.fast": x.rates} {
			m := meanOf(sample).value
			check(hand, key, false, m, 0.15*m, nil)
		}
		for _, l := range x.fit.r.Lost { // against turning speed: within 3 points or a click
			if want := x.lostIn[l.Turn]; !l.Slow {
				y := of("lost share of a turn")
				if y.claims++; math.Abs(l.Share-want) <= max(0.03, 1.01/float64(l.Turned)) {
					y.right++
				}
			}
		}
		if !slices.IsSortedFunc(x.fit.r.Lost, func(a, b Loss) int { return cmp.Compare(a.PerS, b.PerS) }) {
			t.Errorf("rig %d: lost clicks are not listed by turning speed", n)
		}
		if len(x.fit.r.Lost) > 0 {
			y := of("lost share")
			y.claims++
			if got := x.fit.lostShare(); math.Abs(got-x.lost) <= 0.03 {
				y.right++
			} else {
				t.Logf("rig %d: %.3f are said to be lost, %.3f are", n, got, x.lost)
			}
		}
	}
	all := tally{}
	for _, key := range slices.Sorted(maps.Keys(tallies)) {
		y := tallies[key]
		t.Logf("%-20s claimed in %d of %d cases in which it matters; %d of %d claims are right", key, y.found, y.matters, y.right, y.claims)
		if 100*y.found < 80*y.matters {
			t.Errorf("%s: claimed in %d of %d cases in which it matters; 80 %% would do", key, y.found, y.matters)
		}
		if y.claims < 5 || !atLeast(0.95, y.right, y.claims) {
			t.Errorf("%s: %d of %d claims are right; 95 %% would do", key, y.right, y.claims)
		}
		if slices.Contains([]string{"usb.poll", "firmware.pulse", "firmware.gap", "firmware.hold", "system.repeat.delay", "system.repeat.rate"}, key) {
			all.matters += y.matters
			all.found += y.found
			all.claims += y.claims
			all.right += y.right
		}
	}
	t.Logf("all of the path: claimed in %d of %d, %d of %d right", all.found, all.matters, all.right, all.claims)
	if 100*all.found < 80*all.matters || 100*all.right < 95*all.claims {
		t.Errorf("of the path %d of %d are claimed, %d of %d right", all.found, all.matters, all.right, all.claims)
	}
}

// atLeast says whether so many of n can be a share or more: two standard errors are
// left to chance.
func atLeast(share float64, right, n int) bool {
	return float64(right) >= share*float64(n)-2*math.Sqrt(share*(1-share)*float64(n))
}
