package evidence

import (
	"fmt"
	"os"
	"sort"
	"strconv"
	"testing"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/hand"
	"dialwright/scenarios/trial"
)

func TestZZTrace(t *testing.T) {
	d, _ := strconv.Atoi(os.Getenv("D"))
	rig := demo.Rig(os.Getenv("RIG")).Rig
	if l := os.Getenv("LAG"); l != "" {
		n, _ := strconv.Atoi(l)
		rig.Display.Latency = time.Duration(n) * time.Millisecond
	}
	o := scenarios.Practised()
	var prof *scenarios.Profile
	for _, x := range scenarios.Profiles() {
		if x.Name == os.Getenv("PROF") {
			prof = &x
		}
	}
	b, err := trial.NewBench(trial.Cell{Task: fixedDistance(int64(d)), Rings: 1, Inner: &rig, Profile: prof, Operator: &o})
	if err != nil {
		t.Fatal(err)
	}
	counts := map[string]int{}
	strokes, first := 0, ""
	lost := map[string][]float64{}
	prev := int64(0)
	prevAt := int64(0)
	show := os.Getenv("SHOW") != ""
	nt := 0
	b.Trace = func(_ int, a hand.Act) {
		if show && nt < 12 {
			fmt.Printf("   %s %d..%d seen %d missing %.1f planned %d turned %d travel %.1f pace %d standing %v\n", a.Kind, a.At/1e6, a.Until/1e6, a.Seen, float64(a.Missing)/256, a.Planned, a.Turned, float64(a.Travel)/256, a.Pace, a.Standing)
		}
		if a.Kind == hand.Look && a.Standing {
			if strokes == 1 {
				x := (a.Missing) / 256
				if prev < 0 {
					x = -x
				}
				counts[fmt.Sprintf("%s -> left %d", first, x)]++
			}
			if strokes > 0 {
				lost["wait"] = append(lost["wait"], float64(a.At-prevAt)/1e6)
			}
		}
		if a.Kind == hand.Stroke {
			strokes++
			prev = a.Missing
			prevAt = a.Until
			if strokes == 1 {
				first = fmt.Sprintf("%d@%d", a.Planned, a.Pace)
			}
		}
	}
	sum := 0.0
	for n := range 2000 {
		strokes = 0
		if show && n < 12 {
			fmt.Println("trial", n)
		}
		nt = n
		r := b.Run(1, n)
		if show && n < 12 {
			fmt.Printf("   over %v\n", r.Overshot())
		}
		sum += float64(r.TimeToTarget) / 1e9
	}
	var keys []string
	for k := range counts {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool { return counts[keys[i]] > counts[keys[j]] })
	for _, k := range keys[:min(len(keys), 30)] {
		fmt.Println(k, counts[k])
	}
	w := lost["wait"]
	sort.Float64s(w)
	fmt.Println("mean", sum/2000, "wait ms quartiles", w[len(w)/4], w[len(w)/2], w[3*len(w)/4], w[len(w)*95/100])
}
