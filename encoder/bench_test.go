package encoder_test

import (
	"encoding/json"
	"math"
	"os/exec"
	"strconv"
	"strings"
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

// strokeEdges returns the edges of a stroke of n detents of e edges with minimum jerk.
func strokeEdges(n, e int, lasts time.Duration) []int64 {
	edges := make([]int64, n*e)
	for i := range edges {
		x := (float64(i) + 0.5) / float64(len(edges))
		low, high := 0.0, 1.0
		for range 50 {
			if s := (low + high) / 2; s*s*s*(10+s*(6*s-15)) < x {
				low = s
			} else {
				high = s
			}
		}
		edges[i] = int64(math.Round(low * float64(lasts)))
	}
	return edges
}

func strokes(path *encoder.Path, trial int, sizes [][]int64, edges []int64, stroke func(*encoder.Path, int8, []int64)) (detents int) {
	path.Start(draw.NewTrial(1, "", trial), 0)
	at := int64(0)
	for i, size := range sizes {
		at += int64(500 * time.Millisecond)
		edges = edges[:0]
		for _, e := range size {
			edges = append(edges, at+e)
		}
		stroke(path, int8(1-2*(i/2&1)), edges)
		at = edges[len(edges)-1] + 1
		path.RunTo(at)
		detents += len(edges) / 4
	}
	path.Finish()
	return detents
}

func BenchmarkStrokes(b *testing.B) {
	path := demoPath(b)
	var sizes [][]int64
	for _, n := range []int{12, 7, 3, 1, 20, 9, 2, 1} {
		sizes = append(sizes, strokeEdges(n, 4, time.Duration(80+n*50)*time.Millisecond))
	}
	n, trial := 0, 0
	edges := make([]int64, 0, 100)
	for b.Loop() {
		n += strokes(path, trial, sizes, edges, func(p *encoder.Path, dir int8, edges []int64) {
			p.Stroke(dir, edges)
		})
		trial++
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "detents/s")
}

// BenchmarkCliffs turns knobs and firmwares that a plain engine would be slow on.
func BenchmarkCliffs(b *testing.B) {
	for _, x := range cliffs {
		b.Run(strings.ReplaceAll(x.String(), ", ", "/"), func(b *testing.B) {
			rig := x.rig(func(*encoder.Rig) {})
			path, err := encoder.NewPath(encoder.Setup{Rig: rig})
			if err != nil {
				b.Fatal(err)
			}
			n, trial, events := 0, 0, int64(0)
			for b.Loop() {
				n += turning(path, rig, trial)
				events += path.Events()
				trial++
			}
			b.ReportMetric(b.Elapsed().Seconds()*1e9/float64(n), "ns/detent")
			b.ReportMetric(float64(events)/float64(n), "events/detent")
		})
	}
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
