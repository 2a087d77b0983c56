package file_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
)

// An editor underlines what the reader would refuse, as far as a schema can say
// it: names, units, words, forms, what is missing.
func TestSchemasRefuseWhatTheReaderRefuses(t *testing.T) {
	for kind, bad := range map[string][]string{
		"rig": {
			"firmware: {puls: 30ms}", "firmware: {pulse: 30}", "firmware: {pulse: 30deg}", "firmware: {pulse: NaN}", "firmware: {debounce: 2.5}", "firmware: {debounce: 0}",
			"firmware: {output: button}", "firmware: {axis: {bits: 99}}", "firmware: {coarse: 3}", "knob: {detents: 0}", "knob: {push: 1}", "knob: {part: 1x1}",
			"knob: {min_state: 0}", "knob: {min_state: 0.3}", "usb: {poll: {speed: fast, interval: 1}}", "usb: {poll: {speed: full}}", "usb: {poll: {interval: 256}}",
			"system: {repeat: doors}", "program: {frames: 30ms}", "program: {jitter: 10}", "program: {frame_list: []}", "program: {frame_list: [3]}", "knob: 24x24",
			"adjustable: {firmware.puls: [1ms]}", "adjustable: {firmware.pulse: {from: 1ms}}", "adjustable: {firmware.output: {from: 1, to: 2, by: 3}}", "adjustable: {acceleration: {home: [desk]}}",
		},
		"profile": {
			"settings: {firmware.puls: 3ms}", "settings: {firmware.pulse: 3}", "acceleration: {base: 0}", "acceleration: {curve: {}}", "acceleration: {curve: {constant: {gain: 1}, linear: {}}}",
			"acceleration: {curve: {ladder: {steps: []}}}", "acceleration: {curve: {ladder: {}}}", "acceleration: {curve: {power: {at: 15}}}", "acceleration: {curve: {pow: {}}}",
			"acceleration: {rate: {rest: 400}}", "acceleration: {landing: {}}", "acceleration: {landing: {above: 1044481}}", "press: {coarse: 1}", "press: {coarse: 1000001}", "acceleration: {curve: {power: {at: 15/s, cap: 256}}}", "acceleration: {curve: {power: {exponent: 0}}}", "press: {}", "acceleration: {tick: 2ms}",
		},
		"panel": {"knobs: []", "knobs: [{name: a}]", "knobs: [{name: a, rig: b, tasks: []}]", "knobs: [{name: a, rings: 3, rig: b, tasks: [{task: c}]}]", "knobs: [{name: a, rig: b, tasks: [{per_hour: 3}]}]"},
		"task": {
			"range: {from: 1, till: 3}", "range: {from: 1, to: 3, ends: round}", "limit: 300", "target: {uniform: {share: 80}}", "target: {pairs: [[1]]}", "target: {near: {}}", "target: {list: []}",
			"digits: {}", "digits: {count: 4, alarms: [[1, 2, 3]]}", "effect: {unit: ft}",
		},
		"population": {
			"rigs: [{rig: left-pulse, weight: -1}]", "rigs: []", "vary: {firmware.puls: [1ms]}", "vary: {firmware.pulse: {from: 1ms}}", "vary: {firmware.pulse: {from: 1, to: 2ms}}", "vary: {firmware.pulse: {median: 1ms}}",
			"vary: {firmware.output: {from: keys, to: keys}}", "vary: {firmware.queue: [1.5]}", "vary: {firmware.pulse: {from: 1ms, to: 2ms, scale: round}}", "dialed: [{task: heading, rings: 3}]", "operators: [{weight: 1}]", "profiles: []", "title: [x]",
		},
		"operator": {"reaction: 240ms", "reaction: {mean: 240}", "reach: {mean: 120}", "pace: {mean: 3deg/s}", "pace: {slow: {mean: 3deg}}", "wrong_ring: 0.1"},
	} {
		s := compiled(t, kind)
		for _, text := range bad {
			text = "kind: " + kind + "\nversion: 1\nname: x\n" + text + "\n"
			if s.Validate(treeOf(t, text)) == nil {
				t.Errorf("the schema accepts\n%s", text)
			}
			l := loader()
			l.In = strings.NewReader(text)
			if c := l.Check("-"); len(c.Faults) == 0 {
				t.Errorf("the reader accepts\n%s", text)
			}
		}
	}
}

func treeOf(t *testing.T, text string) any {
	t.Helper()
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		t.Fatal(err)
	}
	if m, ok := v.(map[string]any); ok {
		dropNaN(m)
	}
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	if v, err = jsonschema.UnmarshalJSON(bytes.NewReader(b)); err != nil {
		t.Fatal(err)
	}
	return v
}

// dropNaN writes numbers that JSON does not have as words.
func dropNaN(m map[string]any) {
	for k, v := range m {
		switch v := v.(type) {
		case map[string]any:
			dropNaN(v)
		case float64:
			if v != v {
				m[k] = "NaN"
			}
		}
	}
}
