package encoder_test

import (
	"slices"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// Where polls and frames look only at levels, a pulse is taken to its step at once;
// a path that is traced, or whose step may change on the way, walks every poll and
// frame. Both must give the same numbers at the same times, the same fates and the
// same account.
func TestTakingPulsesAtOnceDecidesAsWalkingDoes(t *testing.T) {
	walked := 0
	law(t, func(r random) {
		rig := r.rig(r.yes("deterministic"))
		f := &rig.Firmware
		if !f.Output.Lines() {
			f.Output, f.Axis = encoder.Keys, encoder.Axis{}
		}
		if f.Pulse == 0 {
			f.Hold = 0
			f.Pulse, f.Gap = r.time("pulse", time.Millisecond, 60*time.Millisecond), r.time("gap", 0, 60*time.Millisecond)
			f.Queue = r.whole("places", 0, 8)
		}
		rig.USB.Reports = encoder.StateReports
		m := &rig.Program
		m.Sampling, m.Hold, m.Repeats, m.MaxPerFrame, m.Excess = encoder.State, encoder.Hold{}, 0, 0, 0
		if m.Frames == 0 && m.FrameList == nil {
			m.Frames = encoder.PerSecond(r.whole("frames", 10, 90))
		}
		var gain *accel.Gain
		var home encoder.Home
		if f.Coarse.Above == 0 {
			gain, home = r.gain()
		}
		scale, start := r.scale()
		setup := encoder.Setup{Rig: &rig, Gain: gain, Home: home, Scale: scale}
		ts := r.turns()
		number := r.whole("trial", 0, 1<<20)
		stops, strokes := r.yes("stops"), r.yes("strokes")
		do := func(p *encoder.Path) {
			p.Start(draw.NewTrial(1, "levels", number), start)
			for i, d := range ts {
				if strokes {
					if i == 0 || ts[i-1].dir != d.dir || ts[i-1].at+int64(400*time.Millisecond) < d.at {
						p.Stroke(d.dir, edges(p, ts[i:]))
					}
					continue
				}
				p.Detent(d.at, d.dir)
				// The person looks now and then; that must not matter.
				if stops && i%3 == 1 {
					next := d.at + int64(time.Second)
					if i+1 < len(ts) {
						next = max(d.at, ts[i+1].at-int64(40*time.Millisecond)-1)
					}
					p.RunTo(next)
				}
			}
			p.Finish()
		}
		path := func(s encoder.Setup) *encoder.Path {
			p, err := encoder.NewPath(s)
			if err != nil {
				r.Fatal(err)
			}
			return p
		}
		once, traced := path(setup), path(setup)
		setup.Pushes = true
		pushed := path(setup)
		traced.Trace = func(e encoder.Event) {
			if e.Kind == encoder.Polled {
				walked++
			}
		}
		do(once)
		do(traced)
		do(pushed)
		for what, p := range map[string]*encoder.Path{"traced": traced, "with pushes": pushed} {
			if !slices.Equal(once.Changes(), p.Changes()) {
				r.Fatalf("at once %v\n%s %v", once.Changes(), what, p.Changes())
			}
			if once.Account() != p.Account() || once.WorstBacklog() != p.WorstBacklog() {
				r.Fatalf("at once %+v\n%s %+v", once.Account(), what, p.Account())
			}
			for i := range ts {
				if once.Detents()[i].Fate != p.Detents()[i].Fate {
					r.Fatalf("detent %d: at once %v, %s %v", i, once.Detents()[i].Fate, what, p.Detents()[i].Fate)
				}
			}
			if !once.Empty() || !p.Empty() {
				r.Fatalf("a finished path is not empty: %v %v %s", once.Empty(), p.Empty(), what)
			}
		}
	})
	if walked == 0 {
		t.Error("nothing was walked")
	}
}

// edges returns the edges of the detents that ts begins with up to a rest or a
// reversal, evenly over the time since the detent before, 17 ms at least.
func edges(p *encoder.Path, ts []turn) (at []int64) {
	e := int64(p.EdgesPerDetent())
	gap := int64(17 * time.Millisecond)
	for i, d := range ts {
		if i > 0 {
			if d.dir != ts[0].dir || ts[i-1].at+int64(400*time.Millisecond) < d.at {
				break
			}
			gap = d.at - ts[i-1].at
		}
		for j := e - 1; j >= 0; j-- {
			at = append(at, d.at-j*gap/e)
		}
	}
	return at
}
