package radio

import (
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// C1 through the whole path, from the contacts to the screen: the knob is turned
// once through the band and a little further, a click every 60 ms, and the
// screen shows every name of ICAO Annex 10 Vol V Table 4-1 (bis) after the one
// before it, then the first again.
func TestTheScreenShowsEveryNameInTurn(t *testing.T) {
	for _, task := range []*scenarios.Task{COM25(), COM833()} {
		rig := encoder.Default()
		rig.Firmware.Output = encoder.Relative
		path, err := encoder.NewPath(encoder.Setup{Rig: &rig, Scale: task.Scale()})
		if err != nil {
			t.Fatal(err)
		}
		for _, dir := range []int8{+1, -1} {
			clicks := task.Count() + 10
			path.Start(draw.NewTrial(1, task.Name, 0), 0)
			for i := range clicks {
				path.Detent((i+1)*int64(60*time.Millisecond), dir)
			}
			path.Finish()
			changes := path.Changes()
			if int64(len(changes)) != clicks {
				t.Fatalf("%s: %d clicks made %d changes", task.Name, clicks, len(changes))
			}
			want := task.At(0)
			for _, c := range changes {
				want = neighbour(want, dir)
				for task.Name == "com-25" && want%kHz(25) != 0 { // a name of the other spacing
					want = neighbour(want, dir)
				}
				if got := task.At(c.Value); got != want {
					t.Fatalf("%s shows %v, want %v", task.Name, got, want)
				}
			}
		}
	}
}

// neighbour returns the next name of the band on a grid of 5 kHz, going round.
func neighbour(name scenarios.Amount, dir int8) scenarios.Amount {
	for {
		name += scenarios.Amount(dir) * kHz(5)
		if name < kHz(comFirst) {
			name = kHz(comEnd - 5)
		}
		if name >= kHz(comEnd) {
			name = kHz(comFirst)
		}
		if last := name / scenarios.Unity % 100; last != 20 && last != 45 && last != 70 && last != 95 {
			return name
		}
	}
}
