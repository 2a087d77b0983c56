package workbench_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/export"
	"dialwright/scenarios/workbench"
)

// node runs a script that may import the page's modules, and reads the JSON that it
// prints. Without node it skips with a word; in CI it must be there.
func node(t *testing.T, script string, in, out any) {
	t.Helper()
	program, err := exec.LookPath("node")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("node is not installed")
		}
		t.Skip("node is not installed: the page's modules cannot be run outside a browser")
	}
	dir := t.TempDir()
	// Outside the repository nothing says that .js is a module.
	files := workbench.Page()
	files["package.json"] = []byte(`{"type":"module"}`)
	files["script.js"] = []byte("import fs from 'node:fs';\nconst given = JSON.parse(fs.readFileSync(0, 'utf8'));\n" + script)
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	given, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(program, filepath.Join(dir, "script.js"))
	c.Stdin = bytes.NewReader(given)
	var errs bytes.Buffer
	c.Stderr = &errs
	text, err := c.Output()
	if err != nil {
		t.Fatalf("%v\n%.4000s", err, errs.String())
	}
	if err := json.Unmarshal(text, out); err != nil {
		t.Fatalf("%v\n%.1000s", err, text)
	}
}

// setting is a path and a turn, as the page gets them.
type setting struct {
	Module string     `json:"module"` // of the gain; "": none
	Home   string     `json:"home"`
	Frames *float64   `json:"frames"`
	Phase  float64    `json:"phase"`
	Lag    float64    `json:"lag"`
	Low    int64      `json:"low"`
	Count  int64      `json:"count"`
	Wrap   bool       `json:"wrap"`
	Start  int64      `json:"start"`
	Clicks []click    `json:"clicks"`
	Looks  [][2]int64 `json:"looks"` // before click number i the page asks for the number at a time, µs

	setup encoder.Setup
}

type click [2]int64 // µs, direction

// some returns setting number i: all curves, estimates, homes, ends and lags in turn,
// turned slowly and fast, with reversals, rests, and clicks in the very instant of a
// frame.
func some(t *testing.T, i int) setting {
	s := draw.NewTrial(3, "page", i).Stream(draw.Search)
	n := int64(0)
	below := func(k int64) int64 { n++; return s.Below(n, k) }
	between := func(low, high float64) float64 { n++; return low + (high-low)*float64(s.Unit(n))/draw.Share }
	x := setting{Home: []string{"program", "firmware"}[below(2)], Low: below(400) - 200, Lag: float64(below(400)), Wrap: below(2) == 0}
	if below(4) > 0 {
		x.Count = 2 + below(3000)
		x.Start = below(x.Count)
	}
	rig := encoder.Default()
	rig.Knob = encoder.Knob{Detents: 24, Cycles: 6} // one edge a detent
	rig.Firmware.Scan, rig.Firmware.Phase, rig.Firmware.Debounce = time.Microsecond, encoder.PhaseAt(0), 1
	rig.Firmware.Output = encoder.Relative
	rig.USB = encoder.USB{Poll: time.Microsecond, Phase: encoder.PhaseAt(0)}
	rig.System.Latency = 0
	rig.Program = encoder.Program{Sampling: encoder.Immediate}
	frame := int64(33_333)
	if below(5) > 0 {
		frames := []float64{20, 25, 30, 50, 60, 72, 144}[below(7)]
		x.Frames = &frames
		frame = int64(1e6 / frames)
		phase := below(frame)
		x.Phase = float64(phase) / 1000
		rig.Program = encoder.Program{Sampling: encoder.Events, Frames: encoder.PerSecond(frames), Phase: encoder.PhaseAt(time.Duration(phase) * time.Microsecond)}
	}
	rig.Display.Latency = time.Duration(x.Lag) * time.Millisecond
	x.setup = encoder.Setup{Rig: &rig, Scale: encoder.Scale{Low: x.Low, Count: x.Count, Wrap: x.Wrap}}
	if x.Home == "firmware" {
		x.setup.Home = encoder.InFirmware
	}
	if below(8) > 0 {
		kind := accel.Curves()[below(int64(len(accel.Curves())))]
		a := accel.Acceleration{Curve: kind.Rising(between(2, 20), between(4, 20), between(0.1, 0.9)), Base: 1 + int(below(3)), Steps: accel.Steps(below(2)), Landing: int(below(2) * below(9))}
		a.Rate = accel.Rate{From: accel.From(below(3)), Rest: time.Duration(200+below(900)) * time.Millisecond, Reversal: accel.Reversal(below(2))}
		if below(2) == 0 {
			a.Tick = time.Microsecond
		}
		var module bytes.Buffer
		if err := export.Module(&module, &scenarios.Profile{Name: "x", Acceleration: a}); err != nil {
			t.Fatal(err)
		}
		x.Module = module.String()
		var err error
		if x.setup.Gain, err = a.Compile(); err != nil {
			t.Fatal(err)
		}
	}
	at, dir := below(500_000), int64(1)
	phase := int64(x.Phase * 1000)
	for c := range 150 {
		if c%20 == 0 {
			x.Looks = append(x.Looks, [2]int64{int64(c), max(0, at-1+below(200_000))})
		}
		if below(9) == 0 {
			dir = -dir
		}
		switch below(12) {
		case 0:
			at += 300_000 + below(2_000_000)
		case 1:
			at++ // in one report
		case 2:
			at += 1_000
			if x.Frames != nil && 1_000_000%frame == 0 { // on to the instant of a frame, for which the page has not waited
				if at += frame - ((at-phase)%frame+frame)%frame; below(2) == 0 {
					x.Looks = append(x.Looks, [2]int64{int64(c), at + 1})
				}
			}
		default:
			at += 2_000 + below(120_000)
		}
		x.Clicks = append(x.Clicks, click{at, dir})
	}
	return x
}

// shown turns the knob of a setting on the engine's path.
func (x *setting) shown(t *testing.T) [][2]int64 {
	t.Helper()
	path, err := encoder.NewPath(x.setup)
	if err != nil {
		t.Fatal(err)
	}
	path.Start(draw.NewTrial(1, "page", 0), x.Start)
	for _, c := range x.Clicks {
		path.Detent(c[0]*1000, int8(c[1]))
	}
	path.Finish()
	list := [][2]int64{}
	for _, c := range path.Changes() {
		list = append(list, [2]int64{c.At, c.Value})
	}
	return list
}

// The page's path in real time is the engine's: every number and its time, to the
// nanosecond, for 300 settings, also where the page has asked for a number before it
// heard of a click.
func TestThePagesPathIsTheEngines(t *testing.T) {
	const settings = 300
	var all []setting
	for i := range settings {
		all = append(all, some(t, i))
	}
	var got []struct {
		Shown  [][2]int64
		Events [][2]int64
		At     int64
	}
	node(t, `
import {Path, gainOf} from "./path.js";
const out = given.map(x => {
  const p = new Path({...x, gain: x.module ? gainOf(x.module) : null});
  let at = NaN;
  x.clicks.forEach(([us, dir], i) => {
    for (const [c, when] of x.looks) if (c === i) p.at(when / 1000);
    p.detent(us / 1000, dir);
  });
  const last = x.clicks[x.clicks.length - 1][0] / 1000;
  const ns = ms => Math.round(ms * 1e6);
  return {shown: p.finish().map(([ms, v]) => [ns(ms), v]), events: p.events().map(([ms, d]) => [ns(ms), d]), at: p.at(last + 10000)};
});
console.log(JSON.stringify(out));
`, all, &got)
	if len(got) != settings {
		t.Fatalf("%d of %d settings", len(got), settings)
	}
	numbers := 0
	for i := range all {
		want := all[i].shown(t)
		numbers += len(want)
		if fmt.Sprint(got[i].Shown) != fmt.Sprint(want) {
			t.Errorf("setting %d: %d numbers on the page, %d of the engine\n%.600v\n%.600v", i, len(got[i].Shown), len(want), got[i].Shown, want)
		}
		if len(want) > 0 && got[i].At != want[len(want)-1][1] {
			t.Errorf("setting %d: %d at the end, want %d", i, got[i].At, want[len(want)-1][1])
		}
		for k, c := range all[i].Clicks {
			if got[i].Events[k] != [2]int64{c[0] * 1000, c[1]} {
				t.Errorf("setting %d: click %d is %v, want %v µs", i, k, got[i].Events[k], c)
				break
			}
		}
	}
	t.Logf("%d numbers", numbers)
}

// Clicks of one report, and those that a browser hands over out of order, come one after
// the other.
func TestClicksOfOneReportComeAMicrosecondApart(t *testing.T) {
	var got [][2]float64
	node(t, `
import {Path} from "./path.js";
const p = new Path({frames: 50});
p.detent(100, 3); p.detent(99.9, -1); p.detent(250.0004, 1);
console.log(JSON.stringify(p.events()));
`, nil, &got)
	if want := "[[99.998 1] [99.999 1] [100 1] [100.001 -1] [250 1]]"; fmt.Sprint(got) != want {
		t.Errorf("%v, want %s", got, want)
	}
}
