package encoder_test

import (
	"encoding/json"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
)

// openLoop turns the demo's button-pulse rig in bursts of 24 detents at 24 a second
// with 2 s of rest between them, ten bursts a trial.
func openLoop(path *encoder.Path, trial int) (detents int) {
	path.Start(draw.NewTrial(1, "", trial), 0)
	at := int64(0)
	for burst := range 10 {
		if burst > 0 {
			at += int64(2 * time.Second)
		}
		for range 24 {
			at += int64(time.Second) / 24
			path.Detent(at, +1)
		}
	}
	path.Finish()
	return 240
}

func demoPath(b *testing.B) *encoder.Path {
	rig := encoder.Default()
	path, err := encoder.NewPath(encoder.Setup{Rig: &rig})
	if err != nil {
		b.Fatal(err)
	}
	return path
}

func BenchmarkOpenLoop(b *testing.B) {
	path := demoPath(b)
	n, trial := 0, 0
	b.ReportAllocs()
	for b.Loop() {
		n += openLoop(path, trial)
		trial++
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "detents/s")
}

// BenchmarkBits is the yardstick of the machine: the random generator alone.
func BenchmarkBits(b *testing.B) {
	s := draw.NewTrial(1, "bench", 0).Stream(draw.Path)
	var sum uint64
	n := 0
	for b.Loop() {
		for range 1000 {
			sum += s.Bits(int64(n))
			n++
		}
	}
	sink = sum
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "draws/s")
}

var sink uint64

// BenchmarkAgainstTwin runs the reference model on SimPy and the engine on the same
// turn of the same rig in one run, and reports how many times as fast the engine
// is.
func BenchmarkAgainstTwin(b *testing.B) {
	const detents = 1200
	out, err := exec.Command("/usr/bin/python3", "../testdata/twin/twin.py", "--bench", strconv.Itoa(detents)).Output()
	if err != nil {
		b.Skipf("the reference model cannot run: %v", err)
	}
	var twin struct {
		Rate float64 `json:"detents_per_s"`
	}
	if err := json.Unmarshal(out, &twin); err != nil {
		b.Fatal(err)
	}
	path := demoPath(b)
	n, trial := 0, 0
	for b.Loop() {
		n += openLoop(path, trial)
		trial++
	}
	ours := float64(n) / b.Elapsed().Seconds()
	b.ReportMetric(ours, "detents/s")
	b.ReportMetric(twin.Rate, "twin-detents/s")
	b.ReportMetric(ours/twin.Rate, "times")
}
