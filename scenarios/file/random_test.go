package file_test

import (
	"bytes"
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/file"

	"go.yaml.in/yaml/v4"
	"pgregory.net/rapid"
)

// names are hard for YAML: other types, quotes, words with a meaning.
func drawName(t *rapid.T) string {
	name := rapid.OneOf(
		rapid.StringMatching(`[ -~°…"'#:]{1,20}`),
		rapid.SampledFrom([]string{"1", "1e3", "true", "null", "~", "yes", "2024-01-01", "- a", "a: b", "# c", "'", "\"", "{", "[", "*a", "&a", "!a", "|", ">", "%", "@", "`", "a ", " a", "../x", "<script>", "=1+1", "a|b", "\u2205", "#\u2205"}),
	).Draw(t, "name")
	if strings.TrimSpace(name) == "" {
		return "x"
	}
	return name
}

// drawValue returns a value that a key takes.
func drawValue(t *rapid.T, k scenarios.Key) string {
	switch {
	case k.Absent && rapid.IntRange(0, 3).Draw(t, "none") == 0:
		return "none"
	case k.Words != nil:
		return rapid.SampledFrom(k.Words).Draw(t, k.Name)
	case k.Quantity == scenarios.Switch:
		return rapid.SampledFrom([]string{"true", "false"}).Draw(t, k.Name)
	case k.Name == "knob.min_state":
		return scenarios.Fraction.Text(float64(rapid.IntRange(1, 250).Draw(t, k.Name)) / 1000)
	}
	low, err := k.Quantity.Exact(k.Low)
	if err != nil {
		t.Fatal(err)
	}
	high, err := k.Quantity.Exact(k.High)
	if err != nil {
		t.Fatal(err)
	}
	if k.Above {
		low++
	}
	if k.Quantity == scenarios.Rate && rapid.Bool().Draw(t, "odd") {
		return scenarios.Rate.Text(rapid.Float64Range(float64(low)/1e6, float64(high)/1e6).Draw(t, k.Name))
	}
	return k.Quantity.ExactText(rapid.Int64Range(low, high).Draw(t, k.Name))
}

// drawRig returns a valid rig of any kind with some of it adjustable.
func drawRig(t *rapid.T) *scenarios.Rig {
	r := &scenarios.Rig{Rig: encoder.Default()}
	set := func(key, value string) {
		if err := scenarios.Set(&r.Rig, key, value); err != nil {
			t.Fatal(err)
		}
	}
	all := scenarios.Describe()
	for _, first := range []string{"firmware.output", "program.sampling", "firmware.hold", ""} {
		for _, k := range all {
			switch {
			case k.Presets != nil || k.Quantity == scenarios.Word && k.Words == nil || strings.HasPrefix(k.Name, "firmware.coarse.") || strings.HasPrefix(k.Name, "program.hold."):
			case k.Name == "knob.detents" || k.Name == "knob.cycles" || strings.HasPrefix(k.Name, "firmware.axis."):
			case first != "" && k.Name != first || first == "" && slices.Contains([]string{"firmware.output", "program.sampling", "firmware.hold"}, k.Name):
			case k.Used(&r.Rig) && rapid.Bool().Draw(t, "set "+k.Name):
				set(k.Name, drawValue(t, k))
			}
		}
	}
	geometry := rapid.SampledFrom([][2]string{{"24", "24"}, {"30", "15"}, {"12", "24"}, {"24", "6"}, {"none", "20"}}).Draw(t, "geometry")
	set("knob.detents", geometry[0])
	set("knob.cycles", geometry[1])
	more := func(key string) bool {
		i := slices.IndexFunc(all, func(k scenarios.Key) bool { return k.Name == key })
		return all[i].Used(&r.Rig) && rapid.Bool().Draw(t, "more "+key)
	}
	if more("firmware.coarse.above") {
		set("firmware.coarse.above", "12.5/s")
		set("firmware.coarse.steps", "10")
	}
	if more("program.hold.period") {
		set("program.hold.delay", "400ms")
		set("program.hold.period", "100ms")
	}
	if more("firmware.axis.bits") {
		set("firmware.axis.bits", "12")
	}
	if more("program.frame_list") {
		r.Program.FrameList = []time.Duration{33 * time.Millisecond, 16_666_667, time.Minute}
	}
	scenarios.Settle(&r.Rig)
	if faults := scenarios.Check(&r.Rig); faults != nil {
		t.Fatalf("the generator makes a bad rig: %v", faults)
	}
	r.Name = drawName(t)
	if rapid.Bool().Draw(t, "adjustable") {
		r.Adjustable = scenarios.Adjustable{
			Settings: []scenarios.Range{{Key: "firmware.pulse", From: "10ms", To: "60ms", By: "5ms"}, {Key: "firmware.output", Values: []string{"buttons", "keys"}}, {Key: "firmware.hold", Values: []string{"none", "150ms"}}},
			Homes:    []scenarios.Home{encoder.InFirmware, encoder.InProgram},
			Curves:   []string{"ladder", "power"},
		}
	}
	return r
}

func TestRigsReadBackFromYAMLAndJSONAndOverAnyOtherRig(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawRig(t)
		read := func(l *file.Loader) (*scenarios.Rig, error) { return l.Rig("-") }
		if got := readBack(t, want, read); !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v\nnot\n%+v", got, want)
		}
		text, err := file.Write(want)
		if err != nil {
			t.Fatal(err)
		}
		l := &file.Loader{In: bytes.NewReader(asJSON(t, text))}
		if got, err := l.Rig("-"); err != nil || !reflect.DeepEqual(got.Rig, want.Rig) {
			t.Fatalf("as JSON: %v\n%+v\nnot\n%+v", err, got, want)
		}
		for _, old := range []string{rigText, "kind: rig\nversion: 1\nname: x\n"} {
			over, err := file.Rewrite([]byte(old), want)
			if err != nil {
				t.Fatal(err)
			}
			l := &file.Loader{In: bytes.NewReader(over)}
			if got, err := l.Rig("-"); err != nil || !reflect.DeepEqual(got, want) {
				t.Fatalf("over another rig: %v\n%+v\nnot\n%+v\n%s", err, got, want, over)
			}
		}
	})
}

func asJSON(t *rapid.T, text []byte) []byte {
	var tree any
	if err := yaml.Unmarshal(text, &tree); err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func drawDistribution(t *rapid.T, task *scenarios.Task, which string) (d scenarios.Distribution) {
	number := func() scenarios.Amount {
		return task.At(rapid.Int64Range(0, task.Count()-1).Draw(t, which))
	}
	some := func() scenarios.Amount { return scenarios.Amount(rapid.Int64Range(1, 1e9).Draw(t, which)) }
	n := rapid.IntRange(1, 5).Draw(t, "n")
	switch rapid.IntRange(0, 5).Draw(t, which+" kind") {
	case 1:
		for range n {
			d.List = append(d.List, number())
		}
	case 2:
		for range n {
			d.Pairs = append(d.Pairs, scenarios.Pair{From: number(), To: number()})
		}
	case 3:
		d.Near = scenarios.Near{SD: some(), Around: number()}
	case 4:
		d.Move.From = some()
		d.Move.To = d.Move.From + some()
	case 5:
		if task.Named == nil && task.Digits == nil && task.Count() > 3 {
			d.MultiplesOf = 2 * task.Step
			d.Share = rapid.Float64Range(0, 1).Draw(t, "share")
		}
	}
	return d
}

func drawTask(t *rapid.T) *scenarios.Task {
	task := &scenarios.Task{Name: drawName(t), Unit: rapid.SampledFrom([]string{"", "deg", "kHz", "ft/min", "°"}).Draw(t, "unit"), Wrap: rapid.Bool().Draw(t, "wrap")}
	if rapid.Bool().Draw(t, "said") {
		task.Title, task.Source = drawName(t), drawName(t)
		task.Limit = time.Duration(rapid.Int64Range(1, int64(24*time.Hour)).Draw(t, "limit"))
		task.Effect = scenarios.Effect{PerStep: 10 * scenarios.Unity, Unit: "ft", Nearest: scenarios.Amount(rapid.Int64Range(0, 1e7).Draw(t, "nearest"))}
	}
	switch rapid.IntRange(0, 2).Draw(t, "numbers") {
	case 0:
		task.Step = scenarios.Amount(rapid.Int64Range(1, 1e8).Draw(t, "step"))
		n := rapid.Int64Range(1, 500).Draw(t, "count")
		task.From = scenarios.Amount(rapid.Int64Range(-1e9, 1e9).Draw(t, "from"))
		task.To = task.From + scenarios.Amount(2*n-1)*task.Step
		task.Tolerance = scenarios.Amount(rapid.Int64Range(0, 1e9).Draw(t, "tolerance"))
		if rapid.Bool().Draw(t, "outer") {
			task.PerOuter = n
		}
	case 1:
		a := scenarios.Amount(rapid.Int64Range(-1e9, 1e9).Draw(t, "first"))
		for range 2 * rapid.IntRange(1, 20).Draw(t, "half") {
			task.Named = append(task.Named, a)
			a += scenarios.Amount(rapid.Int64Range(1, 1e8).Draw(t, "gap"))
		}
		task.PerOuter = rapid.SampledFrom([]int64{0, 2}).Draw(t, "outer")
		task.Called = rapid.SampledFrom([]string{"", "channel name"}).Draw(t, "called")
	case 2:
		task.Wrap, task.Base, task.Digits = false, 8, []int{3, 2, 1, 0}
		if rapid.Bool().Draw(t, "order") {
			task.Digits = []int{0, 2, 3, 1}
		}
		task.Alarms = []scenarios.Alarm{{From: 0o7500, To: 0o7500}, {From: 0o7700, To: 0o7777}}
	}
	task.Start, task.Target = drawDistribution(t, task, "start"), drawDistribution(t, task, "target")
	return task
}

func TestTasksReadBackFromYAMLAndJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawTask(t)
		if want.Moves() != nil {
			t.Skip("nothing to dial")
		}
		read := func(l *file.Loader) (*scenarios.Task, error) { return l.Task("-") }
		if got := readBack(t, want, read); !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v\nnot\n%+v", got, want)
		}
		text, err := file.Write(want)
		if err != nil {
			t.Fatal(err)
		}
		over, err := file.Rewrite([]byte("kind: task\nversion: 1\nname: old # name\nrange: {from: 1, to: 3}\ntarget: {uniform: {}} # target\n"), want)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range [][]byte{over, asJSON(t, text)} {
			if len(want.Digits) > 0 && text[0] == '{' {
				continue // a leading zero is lost in JSON, as it is in YAML for any other program
			}
			l := &file.Loader{In: bytes.NewReader(text)}
			if got, err := l.Task("-"); err != nil || !reflect.DeepEqual(got, want) {
				t.Fatalf("%v\n%+v\nnot\n%+v\n%s", err, got, want, text)
			}
		}
	})
}
