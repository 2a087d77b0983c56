package recording_test

import (
	"errors"
	"io/fs"
	"math"
	"slices"
	"testing"

	"dialwright/encoder/draw"
	"dialwright/encoder/recording"

	"pgregory.net/rapid"
)

// Source A13: data/wheel_scroll.evemu of the evemu-devices collection (MIT): 29
// events, bursts of 4–7 notches in 3–7 reports, pauses of 0.21–0.46 s between
// bursts, reports on a grid of about 8.6 ms.
func TestTheRealWheelGivesItsPublishedFigures(t *testing.T) {
	r, err := recording.Open("../../../shared/data/wheel_scroll.evemu")
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("../shared/data is not beside the repository")
	}
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	all, err := r.All()
	if err != nil {
		t.Fatal(err)
	}
	wheel := slices.Collect(recording.Only(slices.Values(all), "wheel"))
	if len(wheel) != 29 {
		t.Errorf("%d events", len(wheel))
	}
	bursts := recording.Bursts(slices.Values(wheel), 0)
	if len(bursts) != 6 {
		t.Errorf("%d bursts", len(bursts))
	}
	for _, b := range bursts {
		if b.Notches < 4 || b.Notches > 7 || b.Reports < 3 || b.Reports > 7 || max(b.Net, -b.Net) != b.Notches {
			t.Errorf("burst %+v", b)
		}
	}
	pauses := recording.Pauses(bursts)
	if lo, hi := slices.Min(pauses), slices.Max(pauses); lo < 210e6 || lo >= 220e6 || hi < 455e6 || hi >= 465e6 {
		t.Errorf("pauses from %d to %d ns", lo, hi)
	}
	if g := recording.ReportGrid(recording.Reports(slices.Values(wheel))); g.Period < 8.5e6 || g.Period > 8.7e6 {
		t.Errorf("grid %+v", g)
	}
}

func TestBurstsAreCutAtPausesOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rest := rapid.Int64Range(1e6, 1e9).Draw(t, "rest")
		var events []recording.Event
		var now, notches int64
		pauses := 0
		for i := range rapid.IntRange(1, 40).Draw(t, "events") {
			later := rapid.Int64Range(0, 2*rest).Draw(t, "later")
			if i > 0 && later > rest {
				pauses++
			}
			now += later
			n := rapid.Int64Range(1, 3).Draw(t, "count") * rapid.SampledFrom([]int64{-1, 1}).Draw(t, "way")
			notches += max(n, -n)
			events = append(events, recording.Event{Time: now, Control: "dial", N: n},
				recording.Event{Time: now, Control: "dial", Kind: recording.Release}) // no movement
		}
		bursts := recording.Bursts(slices.Values(events), rest)
		var sum int64
		for _, b := range bursts {
			sum += b.Notches
			if b.End < b.Start || b.Reports < 1 || int64(b.Reports) > b.Notches {
				t.Fatalf("%+v", b)
			}
		}
		if len(bursts) != pauses+1 || sum != notches {
			t.Fatalf("%d bursts of %d notches, want %d of %d", len(bursts), sum, pauses+1, notches)
		}
		for _, p := range recording.Pauses(bursts) {
			if p <= rest {
				t.Fatalf("a pause of %d", p)
			}
		}
	})
}

// reports draws times of n reports: later by a time up to spread, rounded up to a
// poll of the given period and read with a jitter.
func reports(seed uint64, n int, period, spread, jitter int64) []int64 {
	later := draw.NewTrial(seed, "reports", 0).Stream(draw.Recording)
	noise := draw.NewTrial(seed, "reports", 0).Stream(draw.Recording + 1)
	var times []int64
	k := int64(0)
	for i := range int64(n) {
		k += 1 + later.Below(i, spread/period)
		times = append(times, k*period+noise.Below(i, 2*jitter+1))
	}
	return times
}

func TestTheGridIsThePollThatReportsCameBy(t *testing.T) {
	for _, period := range []int64{1e6, 2e6, 4e6, 8e6, 10e6} {
		for _, spread := range []int64{3, 8, 20} {
			for seed := range uint64(20) {
				g := recording.ReportGrid(reports(seed, 200, period, spread*period, period/20))
				if math.Abs(float64(g.Period-period)) > 0.01*float64(period) {
					t.Errorf("seed %d: poll %d, up to %d polls apart: %+v", seed, period, spread, g)
				}
			}
		}
	}
}

// Intervals of 2 and 3 polls only: their shortest is not the poll.
func TestTheGridIsFoundBelowTheShortestInterval(t *testing.T) {
	var times []int64
	now := int64(0)
	for i := range int64(60) {
		now += 16e6 + i%2*8e6
		times = append(times, now)
	}
	if g := recording.ReportGrid(times); g.Period != 8e6 || g.Fit < 0.999 {
		t.Errorf("%+v", g)
	}
}

func TestNoGridIsFoundWhereThereIsNone(t *testing.T) {
	found := 0
	for seed := range uint64(200) {
		s := draw.NewTrial(seed, "no grid", 0).Stream(draw.Recording)
		var times []int64
		now := int64(0)
		for i := range int64(300) {
			now += 5e6 + s.Below(i, 50e6)
			times = append(times, now)
		}
		if recording.ReportGrid(times).Period != 0 {
			found++
		}
	}
	if found > 0 {
		t.Errorf("a grid in %d of 200 recordings without one", found)
	}
	if g := recording.ReportGrid([]int64{1, 2e6, 3e6}); g.Period != 0 {
		t.Errorf("a grid from two intervals: %+v", g)
	}
}

func TestEventsOfOneReportAreOneReport(t *testing.T) {
	times := recording.Reports(slices.Values([]recording.Event{
		{Time: 0, Control: "wheel", N: 1}, {Time: 0, Control: "dial", N: 1}, {Time: 2000, Control: "dial", N: 1},
		{Time: 125e3, Control: "dial", N: 1}, {Time: 126e3, Kind: recording.Mark, Control: "slow turn"},
	}))
	if !slices.Equal(times, []int64{0, 125e3}) {
		t.Error(times)
	}
}
