package encoder_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"testing"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/draw"

	"pgregory.net/rapid"
)

// twinCase is one rig, scale and turn that both models are asked about.
type twinCase struct {
	rig           encoder.Rig
	scale         encoder.Scale
	start         int64
	turns         []turn
	pulses, steps int // constant gains of firmware and program; one of them is 1
}

func drawTwinCase(t *rapid.T) twinCase {
	r := random{t}
	c := twinCase{rig: r.rig(true), turns: r.turns(), pulses: 1, steps: 1}
	c.scale, c.start = r.scale()
	if c.rig.Firmware.Output == encoder.AxisOutput {
		return c
	}
	if r.yes("no range") {
		c.scale = encoder.Scale{}
	}
	switch r.whole("gain", 0, 3) {
	case 0:
		c.pulses = r.whole("pulses", 2, 3)
	case 1:
		c.steps = r.whole("steps", 2, 5)
	}
	return c
}

// MarshalJSON writes the case as testdata/twin/README.md says.
func (c twinCase) MarshalJSON() ([]byte, error) {
	type obj map[string]any
	r, f, g := &c.rig, &c.rig.Firmware, &c.rig.Program
	orNull := func(ok bool, v any) any {
		if ok {
			return v
		}
		return nil
	}
	detents := make([][2]int64, len(c.turns))
	for i, t := range c.turns {
		detents[i] = [2]int64{t.at, int64(t.dir)}
	}
	frame := int64(1)
	if g.Frames > 0 {
		frame = int64(g.Frames.Period())
	}
	var list any
	if len(g.FrameList) > 0 {
		list = g.FrameList
	}
	return json.Marshal(obj{
		"rig": obj{
			"knob": obj{"detents": orNull(r.Knob.Detents > 0, r.Knob.Detents), "cycles": r.Knob.Cycles, "min_state_thousandths": int(r.Knob.MinState*1000 + .5)},
			"firmware": obj{
				"scan_ns": f.Scan, "scan_phase_ns": f.Phase.At, "debounce": f.Debounce, "decoder": f.Decoder.String(),
				"counts_per_detent": f.CountsPerDetent, "output": f.Output.String(),
				"pulse_ns": max(f.Pulse, 1), "gap_ns": f.Gap, "queue": f.Queue, "overflow": f.Overflow.String(),
				"reversal": f.Reversal.String(), "hold_ns": orNull(f.Hold > 0, f.Hold),
				"coarse": orNull(f.Coarse.Above > 0, obj{"above_period_ns": int64(max(f.Coarse.Above, 1).Period()), "steps": f.Coarse.Steps}),
				"axis":   orNull(f.Output == encoder.AxisOutput, obj{"bits": f.Axis.Bits, "counts_per_detent": f.Axis.CountsPerDetent}),
				"gain_m": c.pulses,
			},
			"usb":    obj{"poll_ns": r.USB.Poll, "poll_phase_ns": r.USB.Phase.At, "reports": r.USB.Reports.String()},
			"system": obj{"latency_ns": r.System.Latency, "repeat": orNull(r.System.Repeat.Rate > 0, obj{"delay_ns": r.System.Repeat.Delay, "period_ns": int64(max(r.System.Repeat.Rate, 1).Period())})},
			"program": obj{
				"sampling": g.Sampling.String(), "frame_ns": frame, "frame_phase_ns": g.Phase.At, "frame_list_ns": list,
				"max_per_frame": orNull(g.MaxPerFrame > 0, g.MaxPerFrame), "excess": g.Excess.String(), "repeats": g.Repeats.String(),
				"hold": orNull(g.Hold.Period > 0, obj{"delay_ns": g.Hold.Delay, "period_ns": g.Hold.Period}), "gain": c.steps,
			},
			"display": obj{"latency_ns": r.Display.Latency},
		},
		"scale":   obj{"low": c.scale.Low, "count": c.scale.Count, "wrap": c.scale.Wrap, "start": c.start},
		"detents": detents,
	})
}

// twinAnswer is what a model says of a case.
type twinAnswer struct {
	Steps   [][5]any       `json:"steps"`
	Fates   []string       `json:"fates"`
	Account map[string]any `json:"account"`
	Error   string         `json:"error"`
}

// ours asks the engine.
func (c twinCase) ours(t *testing.T) twinAnswer {
	s := encoder.Setup{Rig: &c.rig, Scale: c.scale}
	if g := max(c.pulses, c.steps); g > 1 {
		a := accel.Acceleration{Curve: accel.Constant{Gain: float64(g)}}
		var err error
		if s.Gain, err = a.Compile(); err != nil {
			t.Fatal(err)
		}
		if c.pulses > 1 {
			s.Home = encoder.InFirmware
		}
	}
	p, err := encoder.NewPath(s)
	if err != nil {
		t.Fatal(err)
	}
	a := twinAnswer{Steps: [][5]any{}}
	p.Trace = func(e encoder.Event) {
		if e.Kind == encoder.Stepped {
			a.Steps = append(a.Steps, [5]any{e.At, e.Dir, e.Count, e.Value, e.Cause.String()})
		}
	}
	run(p, c.turns, draw.NewTrial(1, "twin", 0), c.start)
	n := p.Account()
	if c.rig.Firmware.Hold > 0 {
		a.Account = map[string]any{"detents": n.Detents, "illegal_transitions": n.IllegalTransitions, "presses": n.Presses, "held_ns": n.Held, "steps": n.Steps}
		return a
	}
	for i := range c.turns {
		a.Fates = append(a.Fates, p.Detents()[i].Fate.String())
	}
	a.Account = map[string]any{
		"detents": n.Detents, "delivered": n.Delivered, "merged": n.Merged, "queue_dropped": n.QueueDropped, "cleared": n.Cleared,
		"illegal": n.Illegal, "poll_missed": n.PollMissed, "frame_missed": n.FrameMissed, "clipped": n.Clipped,
		"pulses": n.Pulses, "pulses_lost": n.PulsesLost, "illegal_transitions": n.IllegalTransitions,
		"extra_steps": map[string]any{"repeat": n.Extra.Repeat, "hold": n.Extra.Hold, "bounce": n.Extra.Bounce},
	}
	return a
}

// text makes answers of both models comparable.
func text(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return err.Error()
	}
	return string(b)
}

// twin returns the command that runs the reference model, or says why not.
func twin(t *testing.T, args ...string) *exec.Cmd {
	for _, python := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(python, "-c", "import simpy").Run() == nil {
			return exec.Command(python, append([]string{"../testdata/twin/twin.py"}, args...)...)
		}
	}
	if os.Getenv("CI") != "" {
		t.Fatal("the reference model needs python3-simpy3, which is not installed")
	}
	t.Skip("python3-simpy3 is not installed: the reference model of the path cannot run")
	return nil
}

// A second model of the path, written from the model's text on a general-purpose
// simulation library (SimPy), gives the same steps at the same times and the same
// fates on random deterministic rigs of every kind.
func TestTwinAgrees(t *testing.T) {
	const cases = 600
	cmd := twin(t)
	var in bytes.Buffer
	all := make([]twinCase, cases)
	g := rapid.Custom(drawTwinCase)
	for i := range all {
		all[i] = g.Example(i)
		fmt.Fprintln(&in, text(all[i]))
	}
	cmd.Stdin = &in
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("twin: %v", err)
	}
	lines := bufio.NewScanner(bytes.NewReader(out))
	lines.Buffer(nil, 1<<24)
	different, seen := 0, map[string]int{}
	for i, c := range all {
		var theirs twinAnswer
		if !lines.Scan() {
			t.Fatalf("twin: no answer to case %d", i)
		}
		if err := json.Unmarshal(lines.Bytes(), &theirs); err != nil || theirs.Error != "" {
			t.Fatalf("twin: case %d: %v%s", i, err, theirs.Error)
		}
		ours := c.ours(t)
		for _, f := range ours.Fates {
			seen[f]++
		}
		for _, s := range ours.Steps {
			seen[s[4].(string)]++
		}
		if text(ours.Steps) == text(theirs.Steps) && slices.Equal(ours.Fates, theirs.Fates) && text(ours.Account) == text(theirs.Account) {
			continue
		}
		if different++; different <= 5 {
			t.Errorf("case %d: %s\nours   %s\ntheirs %s", i, text(c), text(ours), text(theirs))
		}
	}
	if different > 0 {
		t.Errorf("%d of %d cases differ", different, cases)
	}
	for _, kind := range []string{"delivered", "merged", "queue-dropped", "cleared", "illegal", "poll-missed", "frame-missed", "clipped", "detent", "repeat", "hold", "bounce"} {
		if seen[kind] < 10 {
			t.Errorf("only %d detents or steps are %s: the cases are too tame", seen[kind], kind)
		}
	}
}
