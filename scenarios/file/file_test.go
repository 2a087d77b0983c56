package file_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
	"dialwright/testdata/golden"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v4"
	"pgregory.net/rapid"
)

func loader() *file.Loader {
	names := func(items []demo.Item) (ns []string) {
		for _, i := range items {
			ns = append(ns, i.Name)
		}
		return ns
	}
	var operators []string
	for _, o := range scenarios.Operators() {
		operators = append(operators, o.Name)
	}
	return &file.Loader{
		Operators: file.Builtins[scenarios.Operator]{Names: operators, Find: func(name string) *scenarios.Operator {
			if i := slices.Index(operators, name); i >= 0 {
				return &scenarios.Operators()[i]
			}
			return nil
		}},
		Profiles: file.Builtins[scenarios.Profile]{Names: []string{"plain"}, Find: func(name string) *scenarios.Profile {
			all := scenarios.Profiles()
			if i := slices.IndexFunc(all, func(p scenarios.Profile) bool { return p.Name == name }); i >= 0 {
				return &all[i]
			}
			return nil
		}},
		Tasks:  file.Builtins[scenarios.Task]{Names: names(demo.Tasks()), Find: demo.Task},
		Rigs:   file.Builtins[scenarios.Rig]{Names: names(demo.Rigs()), Find: demo.Rig},
		Panels: file.Builtins[scenarios.Panel]{Names: names(demo.Panels()), Find: demo.Panel},
	}
}

func Example() {
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	if err := os.Chdir(dir); err != nil {
		fmt.Println(err)
		return
	}
	os.WriteFile("knob.yaml", []byte("kind: rig\nversion: 1\nname: mine\nfirmware: {puls: 30ms, scan: -1ms}\n"), 0o666)
	_, err = (&file.Loader{}).Rig("knob.yaml")
	fmt.Println(err)
	// Output:
	// knob.yaml:4:18: firmware.puls: there is no key firmware.puls; did you mean firmware.pulse?
	// knob.yaml:4:30: firmware.scan: -1ms is negative; from 1us to 1s would do
}

// The demo's files and the values that the program has of them are the same.
func TestDemoFilesReadAsTheDemo(t *testing.T) {
	for _, item := range demo.Rigs() {
		got, err := loader().Rig("../demo/rigs/" + item.Name + ".yaml")
		if err != nil || !reflect.DeepEqual(got, demo.Rig(item.Name)) {
			t.Errorf("%s: %v\n%+v\nnot\n%+v", item.Name, err, got, demo.Rig(item.Name))
		}
	}
	got, err := loader().Panel("../demo/quillmoor.yaml")
	if err != nil || !reflect.DeepEqual(got, demo.Panel("quillmoor")) {
		t.Errorf("quillmoor: %v\n%+v\nnot\n%+v", err, got, demo.Panel("quillmoor"))
	}
}

// faulty are files that cannot be used, each with a name that says why.
var faulty = []struct{ name, text string }{
	{"a population without anything", "kind: population\nversion: 1\nname: x\n"},
	{"weights that sum to nothing", "kind: population\nversion: 1\nname: x\nrigs: [{rig: left-pulse, weight: 0}, {rig: middle-keys, weight: 0}]\noperators: [{operator: novice}]\ndialed: [{task: heading}]\n"},
	{"spreads that cannot be", "kind: population\nversion: 1\nname: x\nrigs: [{rig: left-pulse, weight: -1}]\nvary:\n  firmware.pulse: {from: 60ms, to: 15ms}\n  firmware.puls: [3ms]\n  firmware.gap: {from: 10ms}\n  program.frames: {median: 30, spread: 20%}\n  display.latency: {median: 30ms}\n  firmware.output: {from: keys, to: buttons}\n  usb.poll: [1ms, 8, {value: 2ms, weight: x}, {weight: 1}]\n  system.latency: 3ms\n  knob.cycles: []\noperators: []\ndialed: [{task: heading, rings: 3}, {panel: nowhere}, {}]\nprofiles: [plain]\n"},
	{"unknown key", "kind: rig\nversion: 1\nname: x\nfirmware: {puls: 30ms}\nknobb: {}\n"},
	{"old words", "kind: rig\nversion: 1\nname: x\nfirmware: {on: 30ms, off: 40ms}\nadjustable: {firmware.on: [30ms]}\n"},
	{"wrong unit", "kind: rig\nversion: 1\nname: x\nfirmware: {pulse: 30deg}\nprogram: {frames: 30ms, jitter: 10}\n"},
	{"negative time", "kind: rig\nversion: 1\nname: x\nfirmware: {pulse: -30ms}\n"},
	{"zero frames", "kind: rig\nversion: 1\nname: x\nprogram: {frames: 0/s}\n"},
	{"two kinds in one file", "kind: rig\nkind: task\nversion: 1\nname: x\n"},
	{"no detents", "kind: rig\nversion: 1\nname: x\nknob: {detents: 0}\n"},
	{"not a number", "kind: rig\nversion: 1\nname: x\nprogram: {jitter: NaN, frames: .inf}\n"},
	{"no whole number of edges", "kind: rig\nversion: 1\nname: x\nknob: {detents: 24, cycles: 25}\n"},
	{"a fraction where a whole number belongs", "kind: rig\nversion: 1\nname: x\nfirmware: {debounce: 2.5, queue: 1e1}\n"},
	{"a key the output does not use", "kind: rig\nversion: 1\nname: x\nfirmware: {output: relative, pulse: 30ms}\nsystem: {repeat: windows}\n"},
	{"a key the sampling does not use", "kind: rig\nversion: 1\nname: x\nprogram: {sampling: immediate, frames: 30/s}\n"},
	{"hold and pulses", "kind: rig\nversion: 1\nname: x\nfirmware: {hold: 150ms, queue: 8}\n"},
	{"target off the band", "kind: task\nversion: 1\nname: x\nunit: kHz\nrange: {from: 118000, to: 136975}\nstep: 25kHz\ntarget: {list: [118000, 140000, 118010]}\n"},
	{"range of no whole steps", "kind: task\nversion: 1\nname: x\nrange: {from: 0, to: 10}\nstep: 3\n"},
	{"two distributions", "kind: task\nversion: 1\nname: x\nrange: {from: 0, to: 10}\ntarget: {list: [1], near: {sd: 1}}\n"},
	{"a second document", "kind: rig\nversion: 1\nname: x\n---\nkind: rig\n"},
	{"another kind", "kind: panel\nversion: 1\nname: x\n"},
	{"another version", "kind: rig\nversion: 2\nname: x\n"},
	{"no name", "kind: rig\nversion: 1\n"},
	{"only comments", "# nothing\n"},
	{"a list", "- 1\n- 2\n"},
	{"broken YAML", "kind: rig\nversion: 1\nname: [x\nknob: {\n"},
	{"an alias", "kind: rig\nversion: 1\nname: &a x\nknob: *a\n"},
	{"a tag", "kind: rig\nversion: 1\nname: !!binary aGVsbG8=\n"},
	{"empty", ""},
	{"binary", "\x00\x01\x02\xff\xfe\x00garbage"},
	{"UTF-16", "\xff\xfek\x00i\x00n\x00d\x00"},
	{"UTF-16 without a mark", "k\x00i\x00n\x00d\x00:\x00"},
	{"a curve that falls", "kind: profile\nversion: 1\nname: x\nacceleration: {curve: {ladder: {steps: [{above: 8/s, gain: 5}, {above: 4/s, gain: 9}]}}}\n"},
	{"two curves", "kind: profile\nversion: 1\nname: x\nacceleration: {curve: {constant: {gain: 1}, linear: {per: 1/s, factor: 1, cap: 2}}}\n"},
	{"a setting that is none", "kind: profile\nversion: 1\nname: x\nsettings: {firmware.puls: 3ms, firmware.pulse: 3deg}\n"},
	{"tasks without a selector", "kind: panel\nversion: 1\nname: x\nknobs: [{name: a, rig: left-pulse, tasks: [{task: heading}, {task: course}, {task: headin}]}]\n"},
	{"an outer ring on a knob with one", "kind: panel\nversion: 1\nname: x\nknobs: [{name: a, rig: {outer: left-pulse, inner: left-puls}, tasks: [{task: nav, per_hour: 0}]}]\n"},
	{"kind is not first", "name: x\nkind: rig\nversion: 1\n"},
	{"no kind", "version: 1\nname: x\n"},
	{"a kind there is not", "kind: rigg\nversion: 1\nname: x\n"},
	{"a list for a key, a key without a value", "kind: rig\nversion: 1\nname: x\nknob: 24x24\nfirmware: {pulse: [30ms], gap: }\nusb: {poll: {speed: fast, interval: 0}}\n"},
	{"a repeated key", "kind: rig\nversion: 1\nname: x\nfirmware: {pulse: 30ms, pulse: 40ms}\nfirmware: {gap: 30ms}\n"},
	{"half of a pair", "kind: rig\nversion: 1\nname: x\nfirmware: {coarse: {above: 12/s}}\nprogram: {hold: {delay: 400ms}, jitter: 50%}\n"},
	{"adjustable", "kind: rig\nversion: 1\nname: x\nadjustable:\n  firmware.pulse: {from: 10ms}\n  firmware.gap: {from: 60ms, to: 10ms, by: 5ms}\n  firmware.output: {from: 1, to: 2, by: 1}\n  firmware.decoder: [table, edg]\n  firmware.scn: [1ms]\n  acceleration: {home: [keyboard], curves: []}\n"},
	{"frame times in the file", "kind: rig\nversion: 1\nname: x\nprogram: {frame_list: [33ms, 0ms, 16], frames: 30/s}\n"},
	{"no text at all", "kind: profile\nversion: 1\nname: \"\"\npress: {}\nsettings: 3\n"},
	{"too deep", "kind: rig\nversion: 1\nname: x\nknob: " + strings.Repeat("[", 60) + strings.Repeat("]", 60) + "\n"},
	{"limits of a curve", "kind: profile\nversion: 1\nname: x\nsettings: {firmware.pulse: -1ms}\nacceleration: {base: 0, rate: {from: first, rest: 1s}, curve: {table: {points: [{rate: 1/s}, {gain: 2, rat: 3/s}]}}}\n"},
	{"numbers by name", "kind: task\nversion: 1\nname: x\nnumbers: [10, 30, 20]\ntolerance: 1\nlimit: 0s\n"},
	{"changes off the band", "kind: task\nversion: 1\nname: x\nunit: ft\nrange: {from: 0, to: 100ft}\nstep: 10\nstart: {pairs: [[0, 10], [5, 20ft], [1]]}\ntarget: {near: {sd: 20m, around: 200}}\n"},
	{"digits", "kind: task\nversion: 1\nname: x\ndigits: {count: 4, base: 8, order: [1, 1, 5], alarms: [[7500, 7800], 7700]}\n"},
	{"outer ring", "kind: task\nversion: 1\nname: x\nunit: kHz\nrange: {from: 118000, to: 136975}\nstep: 25\nouter: 700\n"},
	{"a hand that reaches round", "kind: operator\nversion: 1\nname: x\nreach: {mean: 400deg, cv: 200%}\nreaction: {mean: -1ms}\n"},
}

// Every kind of bad input is told with its place, what was found and what would
// do; all faults at once.
func TestBadFilesAreToldLineByLine(t *testing.T) {
	dir := t.TempDir()
	var got strings.Builder
	for _, f := range faulty {
		path := filepath.Join(dir, "bad.yaml")
		if err := os.WriteFile(path, []byte(f.text), 0o666); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&got, "# %s\n", f.name)
		c := loader().Check(path)
		if f.name == "another kind" {
			_, err := loader().Rig(path)
			var faults file.Faults
			errors.As(err, &faults)
			c.Faults = faults
		}
		if len(c.Faults) == 0 {
			t.Errorf("%s: no fault was found", f.name)
		}
		for _, x := range c.Faults {
			line := strings.TrimPrefix(x.Error(), dir+string(filepath.Separator))
			fmt.Fprintln(&got, strings.ReplaceAll(line, strings.Join(accel.CurveWords(), ", "), "(curves)")) // there may be more one day
		}
	}
	golden.Check(t, "testdata/faults.txt", got.String())
}

func TestFilesThatCannotBeReadAreNamed(t *testing.T) {
	dir := t.TempDir()
	large := filepath.Join(dir, "large.yaml")
	f, err := os.Create(large)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(f.Truncate(100<<20), f.Close()); err != nil {
		t.Fatal(err)
	}
	locked := filepath.Join(dir, "locked.yaml")
	if err := os.WriteFile(locked, []byte("kind: rig\n"), 0); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		large:                              "longer than 1 MiB",
		dir:                                "this is a directory",
		filepath.Join(dir, "nowhere.yaml"): "there is no such file",
		locked:                             "not permitted",
		"left-puls":                        "did you mean left-pulse?",
		"/dev/zero":                        "longer than 1 MiB",
	} {
		if path == "/dev/zero" && runtime.GOOS == "windows" {
			continue
		}
		if path == locked && (os.Getuid() == 0 || runtime.GOOS == "windows") {
			continue // root may read everything
		}
		if _, err := loader().Rig(path); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", path, err, want)
		}
	}
}

func TestByteOrderMarkAndCarriageReturnsAreFine(t *testing.T) {
	l := loader()
	l.In = strings.NewReader("\xef\xbb\xbfkind: rig\r\nversion: 1\r\nname: mine\r\nfirmware: {pulse: 40ms}\r\n")
	r, err := l.Rig("-")
	if err != nil || r.Name != "mine" || r.Firmware.Pulse != 40*time.Millisecond {
		t.Errorf("%+v, %v", r, err)
	}
	if in := l.Inputs(); len(in) != 1 || in[0].Name != "-" || len(in[0].SHA256) != 64 {
		t.Errorf("inputs %v", in)
	}
}

func TestPresetsFillTheRestAndKeysBesideThemWin(t *testing.T) {
	l := loader()
	l.In = strings.NewReader("kind: rig\nversion: 1\nname: x\nknob: {bounce: 1ms, part: 15x30}\nfirmware: {output: keys}\nusb: {poll: {speed: full, interval: 10}}\nsystem: {repeat: windows}\n")
	r, err := l.Rig("-")
	if err != nil {
		t.Fatal(err)
	}
	if k := r.Knob; k.Cycles != 15 || k.Detents != 30 || k.Bounce != time.Millisecond {
		t.Errorf("knob %+v", k)
	}
	if r.USB.Poll != 8*time.Millisecond || r.System.Repeat.Delay != 500*time.Millisecond {
		t.Errorf("poll %v, repeat %+v", r.USB.Poll, r.System.Repeat)
	}
}

// readBack writes a thing and reads it again.
func readBack[T any](t interface{ Fatalf(string, ...any) }, thing *T, read func(*file.Loader) (*T, error)) *T {
	text, err := file.Write(thing)
	if err != nil {
		t.Fatalf("%v", err)
	}
	l := loader()
	l.In = bytes.NewReader(text)
	got, err := read(l)
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return got
}

func TestWhatIsWrittenReadsBack(t *testing.T) {
	for _, item := range demo.Rigs() {
		want := demo.Rig(item.Name)
		if got := readBack(t, want, func(l *file.Loader) (*scenarios.Rig, error) { return l.Rig("-") }); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v\nnot\n%+v", item.Name, got, want)
		}
	}
	for _, item := range demo.Tasks() {
		want := demo.Task(item.Name)
		got := readBack(t, want, func(l *file.Loader) (*scenarios.Task, error) { return l.Task("-") })
		if want.Start.Pairs != nil || want.Called != "" || want.Effect != (scenarios.Effect{}) {
			got.Start, got.Target, got.Called, got.Effect = want.Start, want.Target, want.Called, want.Effect // built-in tasks only
		}
		if want.Step == 0 && want.Named == nil && got.Step == scenarios.Unity {
			got.Step = 0
		}
		if want.Named != nil {
			got.From, got.To = want.From, want.To // not used where numbers are named
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v\nnot\n%+v", item.Name, got, want)
		}
	}
	for _, want := range scenarios.Operators() {
		if got := readBack(t, &want, func(l *file.Loader) (*scenarios.Operator, error) { return l.Operator("-") }); !reflect.DeepEqual(got, &want) {
			t.Errorf("%s: %+v\nnot\n%+v", want.Name, got, &want)
		}
	}
	panel := demo.Panel("quillmoor")
	if got := readBack(t, panel, func(l *file.Loader) (*scenarios.Panel, error) { return l.Panel("-") }); !reflect.DeepEqual(got, panel) {
		t.Errorf("quillmoor: %+v\nnot\n%+v", got, panel)
	}
}

// A new file says what holds without it: the default rig, a curve to start from,
// the practised operator.
func TestTemplatesSayWhatHoldsAnyhow(t *testing.T) {
	read := func(template file.Template) *file.Loader {
		text, err := file.New(template)
		if err != nil {
			t.Fatal(err)
		}
		l := loader()
		l.In = bytes.NewReader(text)
		return l
	}
	o := scenarios.Practised()
	o.Name = "someone: 1"
	if got, err := read(file.Template{Kind: "operator", Name: o.Name}).Operator("-"); err != nil || !reflect.DeepEqual(got, &o) {
		t.Errorf("operator %+v, %v", got, err)
	}
	r := encoder.Default()
	if got, err := read(file.Template{Kind: "rig"}).Rig("-"); err != nil || !reflect.DeepEqual(got.Rig.Firmware, r.Firmware) || got.Program.Frames != r.Program.Frames {
		t.Errorf("rig %+v, %v", got, err)
	}
	for _, k := range accel.Curves() {
		if got, err := read(file.Template{Kind: "profile", Curve: k.Word}).Profile("-"); err != nil || !reflect.DeepEqual(got.Acceleration, accel.Acceleration{Curve: k.Example}) {
			t.Errorf("%s: %+v, %v", k.Word, got, err)
		}
	}
	for _, bad := range []file.Template{{Kind: "rigg"}, {Kind: "profile", Curve: "powr"}, {Kind: "rig", Part: "1x1"}, {Kind: "rig", System: "doors"}, {Kind: "rig", System: "windows"}, {Kind: "rig", Output: "key"}} {
		if _, err := file.New(bad); err == nil || !strings.Contains(err.Error(), "; ") {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

// drawCurve draws a curve of any kind, with odd and even numbers.
func drawCurve(t *rapid.T, hundredths func(what string, low, high int) float64) accel.Curve {
	kinds := accel.Curves()
	n := rapid.IntRange(0, len(kinds)).Draw(t, "curve")
	if n == len(kinds) {
		return nil
	}
	k := kinds[n]
	c := k.Rising(hundredths("rate", 4, 25), hundredths("gain", 2, 60), hundredths("bend", 0, 1))
	for _, p := range k.Parameters {
		with := p.With(c, rapid.Float64Range(p.Low, min(p.High, 20)).Draw(t, p.Word))
		if _, err := (accel.Acceleration{Curve: with}).Compile(); err == nil {
			c = with
		}
	}
	return c
}

func drawProfile(t *rapid.T) *scenarios.Profile {
	hundredths := func(what string, low, high int) float64 {
		if rapid.Bool().Draw(t, "odd "+what) {
			return rapid.Float64Range(float64(low), float64(high)).Draw(t, what)
		}
		return float64(rapid.IntRange(low*100, high*100).Draw(t, what)) / 100
	}
	p := &scenarios.Profile{Name: drawName(t)}
	a := &p.Acceleration
	a.Curve = drawCurve(t, hundredths)
	if rapid.Bool().Draw(t, "more") {
		p.Home = encoder.InFirmware
		a.Base = rapid.IntRange(1, 10).Draw(t, "base")
		a.Tick = time.Microsecond
		a.Rate = accel.Rate{From: accel.Average, Over: 120 * time.Millisecond, Rest: 500 * time.Millisecond, Reversal: accel.Keep}
		a.Steps = accel.Round
		a.Landing = rapid.IntRange(1, 9).Draw(t, "landing")
		p.Settings = []scenarios.Setting{{Key: "firmware.pulse", Value: "40ms"}, {Key: "program.sampling", Value: "events"}}
		p.PressCoarse = 10
		p.Parts = []scenarios.Part{
			{For: []string{"autopilot", "radio/com-25"}, Profile: scenarios.Profile{Name: p.Name, Settings: p.Settings, Acceleration: accel.Acceleration{Curve: drawCurve(t, hundredths)}}},
			{For: []string{"12"}, Profile: scenarios.Profile{Name: p.Name, Home: encoder.InFirmware, PressCoarse: 5}},
		}
	}
	return p
}

func TestProfilesReadBackFromYAMLAndJSON(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawProfile(t)
		got := readBack(t, want, func(l *file.Loader) (*scenarios.Profile, error) { return l.Profile("-") })
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%+v\nnot\n%+v", got, want)
		}
		text, err := file.Write(want)
		if err != nil {
			t.Fatal(err)
		}
		var tree any
		if err := yaml.Unmarshal(text, &tree); err != nil {
			t.Fatal(err)
		}
		asJSON, err := json.Marshal(tree)
		if err != nil {
			t.Fatal(err)
		}
		l := loader()
		l.In = bytes.NewReader(asJSON)
		if got, err := l.Profile("-"); err != nil || got.Name != want.Name || !reflect.DeepEqual(got.Acceleration, want.Acceleration) {
			t.Fatalf("as JSON %s: %+v, %v", asJSON, got, err)
		}
	})
}

// compiled returns the schema of a kind, ready to check with.
func compiled(t *testing.T, kind string) *jsonschema.Schema {
	text, err := file.Schema(kind)
	if err != nil {
		t.Fatal(err)
	}
	tree, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("schema.json", tree); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestSchemasAcceptGoodFilesAndRefuseBadOnes(t *testing.T) {
	tree := func(text []byte) any {
		var v any
		if err := yaml.Unmarshal(text, &v); err != nil {
			t.Fatal(err)
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
	good := map[string][][]byte{}
	add := func(kind string, thing any) {
		text, err := file.Write(thing)
		if err != nil {
			t.Fatal(err)
		}
		good[kind] = append(good[kind], text)
	}
	for _, i := range demo.Rigs() {
		add("rig", demo.Rig(i.Name))
		text, err := os.ReadFile("../demo/rigs/" + i.Name + ".yaml")
		if err != nil {
			t.Fatal(err)
		}
		good["rig"] = append(good["rig"], text)
	}
	for _, i := range demo.Tasks() {
		add("task", demo.Task(i.Name))
	}
	for _, p := range scenarios.Profiles() {
		add("profile", &p)
	}
	for _, o := range scenarios.Operators() {
		add("operator", &o)
	}
	add("panel", demo.Panel("quillmoor"))
	add("population", demo.Population("households"))
	good["population"] = append(good["population"], demo.Text("households"))
	if text, err := file.New(file.Template{Kind: "population"}); err != nil {
		t.Fatal(err)
	} else {
		good["population"] = append(good["population"], text)
	}
	for _, kind := range file.Kinds {
		s := compiled(t, kind)
		for _, text := range good[kind] {
			if err := s.Validate(tree(text)); err != nil {
				t.Errorf("%s is refused: %v\n%s", kind, err, text)
			}
		}
		for _, bad := range []string{
			"kind: " + kind + "\nversion: 1\nname: x\nunheard: 1\n",
			"kind: " + kind + "\nversion: 2\nname: x\n",
			"kind: nothing\nversion: 1\nname: x\n",
			"kind: " + kind + "\nversion: 1\n",
		} {
			if s.Validate(tree([]byte(bad))) == nil {
				t.Errorf("schema of %s accepts\n%s", kind, bad)
			}
		}
	}
}

func TestTemplatesPassTheirCheck(t *testing.T) {
	for _, x := range []file.Template{
		{Kind: "rig"}, {Kind: "rig", Part: "15x30", Output: "keys", System: "windows", Name: "a: [b"}, {Kind: "rig", Output: "relative"}, {Kind: "rig", Output: "axis"},
		{Kind: "profile"}, {Kind: "profile", Curve: "ladder"}, {Kind: "profile", Curve: "linear"}, {Kind: "profile", Curve: "logistic"}, {Kind: "profile", Curve: "constant"}, {Kind: "profile", Curve: "table"},
		{Kind: "panel"}, {Kind: "task", Name: "x # y"}, {Kind: "population", Name: "x: y"},
	} {
		text, err := file.New(x)
		if err != nil {
			t.Errorf("%+v: %v", x, err)
			continue
		}
		l := loader()
		path := filepath.Join(t.TempDir(), "new.yaml")
		if err := os.WriteFile(path, text, 0o666); err != nil {
			t.Fatal(err)
		}
		if c := l.Check(path); len(c.Faults) > 0 || c.Kind != x.Kind {
			t.Errorf("%+v: %v in\n%s", x, c.Faults, text)
		}
	}
}

func writing(s string) func(io.Writer) error {
	return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
}

func TestOutputIsWholeOrUntouched(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out.txt")
	if err := file.WriteOutput(t.Context(), path, false, writing("first")); err != nil {
		t.Fatal(err)
	}
	if err := file.WriteOutput(t.Context(), path, false, writing("second")); err == nil || !strings.Contains(err.Error(), "--force") || file.IsSystemFailure(err) {
		t.Errorf("an existing file is replaced without force: %v", err)
	}
	if err := file.WriteOutput(t.Context(), path, true, func(io.Writer) error { return errors.New("cut off") }); err == nil {
		t.Error("a failing writer is no failure")
	}
	if got, _ := os.ReadFile(path); string(got) != "first" {
		t.Errorf("the old file holds %q", got)
	}
	if err := file.WriteOutput(t.Context(), path, true, writing("third")); err != nil {
		t.Error(err)
	}
	if err := file.WriteOutput(t.Context(), filepath.Join(path, "below"), true, writing("x")); err == nil {
		t.Error("a file below a file can be written")
	}
	if runtime.GOOS == "linux" {
		if err := file.WriteOutput(t.Context(), "/dev/full", true, writing("x")); !file.IsSystemFailure(err) {
			t.Errorf("a full device: %v", err)
		}
	}
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil || len(left) != 1 {
		t.Errorf("%v left behind, %v", left, err)
	}
}

func TestDetentsFileIsReadStrictly(t *testing.T) {
	l := loader()
	l.In = strings.NewReader("# a turn\ntime_ms,direction\n10,1\n20.5,-1\n")
	ds, err := l.Detents("-")
	if err != nil || len(ds) != 2 || ds[1].At != 20500*time.Microsecond || ds[1].Dir != -1 {
		t.Errorf("%v, %v", ds, err)
	}
	for _, bad := range []string{"", "time,dir\n1,1\n", "time_ms,direction\n1,2\n", "time_ms,direction\n5,1\n5,1\n", "time_ms,direction\nx,1\n", "time_ms,direction\n1\n"} {
		l.In = strings.NewReader(bad)
		if _, err := l.Detents("-"); err == nil {
			t.Errorf("%q is read", bad)
		}
	}
	l.In = strings.NewReader("time_ms,direction\n10.5, 7\n")
	if _, err := l.Detents("-"); err == nil || err.Error() != "-:2:7: direction: 7; 1 or -1 would do" {
		t.Error(err)
	}
}

// Whatever the bytes are, reading ends with a value or with faults, and a file
// that passes is written and read back.
func FuzzCheck(f *testing.F) {
	for _, x := range faulty {
		f.Add([]byte(x.text))
	}
	for _, kind := range []string{"rig", "profile", "panel", "task"} {
		text, err := file.New(file.Template{Kind: kind})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text []byte) {
		l := loader()
		l.In = bytes.NewReader(text)
		p, err := l.Profile("-")
		if err == nil {
			if got := readBack(t, p, func(l *file.Loader) (*scenarios.Profile, error) { return l.Profile("-") }); !reflect.DeepEqual(got.Acceleration, p.Acceleration) {
				t.Errorf("%+v\nnot\n%+v", got, p)
			}
		}
		path := filepath.Join(dir, "fuzz.yaml")
		if err := os.WriteFile(path, text, 0o666); err != nil {
			t.Fatal(err)
		}
		c := loader().Check(path)
		if !slices.IsSortedFunc(c.Faults, func(a, b file.Fault) int { return a.Line - b.Line }) && !strings.Contains(string(text), "pairs") && !strings.Contains(string(text), "frame_list") {
			t.Errorf("faults are out of order: %v", c.Faults)
		}
	})
}

func FuzzDetents(f *testing.F) {
	f.Add([]byte("time_ms,direction\n10,1\n20.5,-1\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		l := loader()
		l.In = bytes.NewReader(text)
		ds, err := l.Detents("-")
		if err == nil {
			for i := 1; i < len(ds); i++ {
				if ds[i].At <= ds[i-1].At {
					t.Errorf("times do not rise: %v", ds)
				}
			}
		}
	})
}
