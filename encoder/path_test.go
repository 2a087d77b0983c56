package encoder_test

import (
	"fmt"
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
