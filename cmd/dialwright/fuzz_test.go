package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"dialwright/scenarios/file"
)

// quickest is a task that is dialed in no time, on any knob.
const quickest = "kind: task\nversion: 1\nname: quick\nunit: deg\nrange: {from: 0, to: 9, ends: wrap}\nstep: 1\nlimit: 5s\n"

// FuzzCommands runs whole commands on files of every kind: what check calls good is
// computed, whatever the values, and what it does not is refused, by every command
// alike; nothing panics, and nothing that reaches a terminal speaks to it.
func FuzzCommands(f *testing.F) {
	if testing.Short() {
		f.Skip("much to compute: left out of short runs")
	}
	for _, seed := range []string{
		goodRig, goodProfile, quickest,
		"kind: panel\nversion: 1\nname: p\nknobs:\n  - {name: a, rig: left-pulse, tasks: [{task: heading}]}\n",
		"kind: operator\nversion: 1\nname: o\n",
		// Extreme, but good.
		goodRig + "knob: {detents: none, cycles: 1000}\nfirmware: {output: relative, decoder: edge}\n",
		goodRig + "knob: {bounce: 1s}\nfirmware: {scan: 1s, debounce: 1000}\n",
		goodRig + "firmware: {queue: 10000}\nprogram: {frames: 0.1/s, jitter: 45%}\n",
		goodRig + "firmware: {output: keys, hold: 10s}\nsystem: {repeat: {delay: 0ms, rate: 1000/s}}\nprogram: {sampling: events}\n",
		goodRig + "firmware: {output: axis, axis: {bits: 1, counts_per_detent: 100000}}\nusb: {poll: 1s}\n",
		goodRig + "display: {latency: 10s}\nsystem: {latency: 10s}\n",
		goodProfile + "acceleration: {base: 1, curve: {table: {points: [{rate: 0/s, gain: 1}, {rate: 1/s, gain: 255}]}}, steps: round}\n",
	} {
		f.Add([]byte(seed), uint8(0))
		f.Add([]byte(seed), uint8(2))
	}
	f.Fuzz(func(t *testing.T, text []byte, which uint8) {
		dir := t.TempDir()
		path, task := filepath.Join(dir, "in.yaml"), filepath.Join(dir, "quick.yaml")
		for name, text := range map[string][]byte{path: text, task: []byte(quickest)} {
			if err := os.WriteFile(name, text, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		// The budget: an input that computes much is not what is looked for here.
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		loader := builtins(streams{ctx, strings.NewReader(""), nil, nil})
		checked := loader.Check(path)
		flag := "--" + checked.Kind
		if checked.Kind == "" {
			flag = "--rig"
		}
		args := [][]string{
			{"compare", "--trials", "2"}, {"follow", "--turn", "6 in 200ms"}, {"tune", "--trials", "20"}, {"report", "--trials", "20", "--format", "json"},
		}[which%4]
		args = append(args, "--quiet", flag, path)
		if flag != "--task" && flag != "--panel" {
			args = append(args, "--task", task)
		}
		var out, errs bytes.Buffer
		code := run(ctx, args, strings.NewReader(""), &out, &errs)
		switch {
		case code == exitPanicked:
			t.Fatalf("%q: %s", args, errs.String())
		case code == exitDone && len(checked.Faults) > 0:
			t.Errorf("%q computes with what check refuses: %v", args, file.Faults(checked.Faults))
		case code == exitInterrupted && ctx.Err() == nil:
			t.Errorf("%q is interrupted by nobody", args)
		}
		for _, s := range []string{out.String(), errs.String()} {
			if strings.IndexFunc(s, loud) >= 0 {
				t.Errorf("%q speaks to the terminal: %q", args, s)
			}
		}
	})
}
