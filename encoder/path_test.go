package encoder_test

import (
	"fmt"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

const ms = int64(time.Millisecond)

// ideal returns a rig without bounce, jitter and free phases.
func ideal() encoder.Rig {
	r := encoder.Default()
	r.Knob.Bounce = 0
	r.Program.Jitter = 0
	r.Firmware.Phase = encoder.PhaseAt(0)
	r.USB.Phase = encoder.PhaseAt(0)
	r.Program.Phase = encoder.PhaseAt(0)
	return r
}

func ExamplePath() {
	rig := ideal()
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		fmt.Println(err)
		return
	}
	path.Start(draw.NewTrial(1, "example", 0), 100)
	for i := int64(1); i <= 10; i++ {
		path.Detent(i*40*ms, +1)
	}
	path.Finish()
	fmt.Println(path.Shown(10_000*ms), path.Account().Delivered, path.Account().FrameMissed)
	for _, c := range path.Changes() {
		fmt.Print(c.At/ms, " ")
	}
	// Output:
	// 108 8 0
	// 116 183 249 349 416 483 583 649
}

// BenchmarkOpenLoop turns the button-pulse rig in bursts of 24 detents at 24 a
// second.
func BenchmarkOpenLoop(b *testing.B) {
	rig := encoder.Default()
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		b.Fatal(err)
	}
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		path.Start(draw.NewTrial(1, "", n), 0)
		for i := int64(1); i <= 240; i++ {
			path.Detent((i+(i-1)/24*48)*1e9/24, +1)
		}
		path.Finish()
		n++
	}
	b.ReportMetric(float64(n)*240/b.Elapsed().Seconds(), "detents/s")
}
