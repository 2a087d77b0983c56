package file_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
)

// folder writes some files into a new folder and makes it the current one.
func folder(t *testing.T, files map[string]string) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, text := range files {
		if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

const desk = `kind: panel
version: 1
name: desk
knobs:
  - {name: a, rig: rigs/left.yaml, tasks: [{task: tasks/band.yaml, per_hour: 2.5}]}
  - {name: b, rings: 2, rig: {outer: left-pulse, inner: rigs/left.yaml}, tasks: [{task: heading}]}
`

func TestAPanelFindsFilesBesideItself(t *testing.T) {
	folder(t, map[string]string{
		"desk/panel.yaml":       desk,
		"desk/rigs/left.yaml":   "kind: rig\nversion: 1\nname: left\nprogram: {frame_list: frames.csv}\n",
		"desk/rigs/frames.csv":  "\xef\xbb\xbf# one turn\r\nframe_ms\r\n16.7\r\n33.3\r\n",
		"desk/tasks/band.yaml":  "kind: task\nversion: 1\nname: band\nunit: kHz\nrange: {from: 7000, to: 7200}\nstart: {pairs: ../moves.csv}\ntarget: {pairs: ../moves.csv}\n",
		"desk/moves.csv":        "from_khz,to_khz,note\n7000,7100,up\n7100,7050,\n",
		"desk/rigs/unused.yaml": "",
	})
	l := loader()
	p, err := l.Panel("desk/panel.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if got := p.Knobs[0].Inner.Program.FrameList; !reflect.DeepEqual(got, []time.Duration{16_700_000, 33_300_000}) {
		t.Errorf("frame times %v", got)
	}
	task := p.Knobs[0].Tasks[0].Task
	if want := []scenarios.Pair{{From: 7000 * scenarios.Unity, To: 7100 * scenarios.Unity}, {From: 7100 * scenarios.Unity, To: 7050 * scenarios.Unity}}; !reflect.DeepEqual(task.Start.Pairs, want) || !reflect.DeepEqual(task.Target.Pairs, want) {
		t.Errorf("changes %v and %v", task.Start.Pairs, task.Target.Pairs)
	}
	var names []string
	for _, i := range l.Inputs() {
		names = append(names, filepath.ToSlash(i.Name))
		if len(i.SHA256) != 64 != (i.Name == "left-pulse" || i.Name == "heading") {
			t.Errorf("digest of %s: %q", i.Name, i.SHA256)
		}
	}
	if got, want := strings.Join(names, " "), "desk/panel.yaml desk/rigs/left.yaml desk/rigs/frames.csv desk/tasks/band.yaml desk/moves.csv left-pulse heading"; got != want {
		t.Errorf("inputs %s, want %s", got, want)
	}
}

func TestFaultsOfAnotherFileCarryItsNameOnce(t *testing.T) {
	folder(t, map[string]string{
		"panel.yaml":      desk + "  - {name: a, rig: rigs/left.yaml, tasks: [{task: none.yaml}]}\n",
		"rigs/left.yaml":  "kind: rig\nversion: 1\nname: left\nfirmware: {pulse: 3}\nprogram: {frame_list: frames.csv}\n",
		"rigs/frames.csv": "frame_ms\n16.7\n-1\nx\n",
		"tasks/band.yaml": "kind: task\nversion: 1\nname: band\nunit: kHz\nrange: {from: 7000, to: 7200}\nstart: {pairs: moves.csv}\ntarget: {pairs: wrong.csv}\n",
		"tasks/moves.csv": "from_mhz,to_mhz\n7000,7100\n",
		"tasks/wrong.csv": "from,to\n7000,7300\n7000\n  # a note\n\"7000\", 7\"1\n",
	})
	c := loader().Check("panel.yaml")
	var got []string
	for _, f := range c.Faults {
		got = append(got, filepath.ToSlash(f.Error()))
	}
	want := []string{
		`panel.yaml:7:5: knobs[2].name: there is a knob a already`,
		`panel.yaml:7:51: knobs[2].tasks[0].task: none.yaml: there is no such file`,
		`rigs/left.yaml:4:19: firmware.pulse: 3 has no unit; 3ms would do`,
		`rigs/frames.csv:3:1: frame_ms: -1; a time above 0 in milliseconds would do`,
		`rigs/frames.csv:4:1: frame_ms: x; a time above 0 in milliseconds would do`,
		`tasks/moves.csv:1:1: header: from_mhz,to_mhz; from,to or from_khz,to_khz would do`,
		`tasks/wrong.csv:3:1: 7000 has 1 of 2 fields`,
		`tasks/wrong.csv:5:10: bare " in non-quoted-field; fields without quotes would do`,
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	b, err := json.Marshal(c)
	if err != nil || !strings.Contains(filepath.ToSlash(string(b)), `{"file":"rigs/left.yaml","line":4,"column":19,"field":"firmware.pulse","message":"3 has no unit; 3ms would do"}`) {
		t.Errorf("%s, %v", b, err)
	}
}

func TestAFileOfFaultsEndsSomewhere(t *testing.T) {
	l := loader()
	l.In = strings.NewReader("kind: rig\nversion: 1\nname: x\n" + strings.Repeat("a: 1\n", 50_000))
	faults := l.Check("-").Faults
	if n := len(faults); n != 101 || faults[100].Message != "49900 more faults" {
		t.Errorf("%d faults, the last is %s", n, faults[n-1].Message)
	}
}

func TestStandardInputIsReadOnce(t *testing.T) {
	l := loader()
	l.In = strings.NewReader("kind: rig\nversion: 1\nname: x\n")
	if c := l.Check("-"); len(c.Faults) > 0 || c.Kind != "rig" {
		t.Errorf("%+v", c)
	}
	if _, err := l.Rig("-"); err == nil || err.Error() != "-: standard input was read already; it holds one file" {
		t.Error(err)
	}
}

// YAML 1.2, JSON in any order of keys, quotes, comments anywhere.
func TestWhatYAMLLeavesFreeIsFree(t *testing.T) {
	for _, text := range []string{
		"%YAML 1.2\n---\nkind: rig\nversion: 1\nname: x\nfirmware: {pulse: 40ms}\n",
		"---\nkind: rig\nversion: 1\nname: x\nfirmware: {pulse: 40ms}\n...\n",
		"# first\n\nkind: rig # here\nversion: 1\n# there\nname: 'x'\nfirmware:\n    pulse:   \"40ms\"   # and\n",
		`{"firmware": {"pulse": "40ms"}, "name": "x", "version": 1, "kind": "rig"}`,
		"kind: rig\nversion: 1\nname: x\nfirmware: {pulse: 40 ms}\n",
		"? kind\n: rig\nversion: 1\nname: x\nfirmware: {? pulse : 40ms}\nknob: {}\nusb:\n",
	} {
		l := loader()
		l.In = strings.NewReader(text)
		if r, err := l.Rig("-"); err != nil || r.Firmware.Pulse != 40*time.Millisecond || r.Name != "x" {
			t.Errorf("%v, %+v\n%s", err, r, text)
		}
	}
}

// A curve that leaves keys out has the values that the manual shows.
func TestKeysOfACurveHaveDefaults(t *testing.T) {
	for text, like := range map[string]string{
		"constant: {}": "constant: {gain: 1}",
		"ladder: {steps: [{above: 8/s, gain: 5}]}":   "ladder: {steps: [{above: 8/s, gain: 5}], hysteresis: 15%}",
		"linear: {per: 20/s}":                        "linear: {per: 20/s, factor: 3, cap: 10}",
		"power: {cap: 5}":                            "power: {at: 15/s, factor: 4, exponent: 2, cap: 5}",
		"logistic: {at: 9/s}":                        "logistic: {low: 1, high: 10, at: 9/s, width: 3/s}",
		"table: {points: [{rate: 10/s, gain: 2.5}]}": "table: {points: [{rate: 10/s, gain: 2.5}]}",
	} {
		var both [2]*scenarios.Profile
		for i, c := range []string{text, like} {
			l := loader()
			l.In = strings.NewReader("kind: profile\nversion: 1\nname: x\nacceleration: {curve: {" + c + "}}\n")
			var err error
			if both[i], err = l.Profile("-"); err != nil {
				t.Fatalf("%s: %v", c, err)
			}
		}
		if !reflect.DeepEqual(both[0], both[1]) {
			t.Errorf("%s is %+v", text, both[0].Acceleration.Curve)
		}
	}
}

func TestReplacingKeepsPermissionsAndLinks(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("no permissions and links of this kind here")
	}
	folder(t, map[string]string{"real/out.txt": "old"})
	if err := os.Chmod("real/out.txt", 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("real/out.txt", "link.txt"); err != nil {
		t.Fatal(err)
	}
	if err := file.WriteOutput(t.Context(), "link.txt", false, writing("new")); err == nil {
		t.Error("a file behind a link is replaced without force")
	}
	if err := file.WriteOutput(t.Context(), "link.txt", true, writing("new")); err != nil {
		t.Fatal(err)
	}
	i, err := os.Lstat("link.txt")
	if err != nil || i.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is %v, %v", i, err)
	}
	i, err = os.Stat("real/out.txt")
	if text, _ := os.ReadFile("real/out.txt"); err != nil || string(text) != "new" || i.Mode().Perm() != 0o640 {
		t.Errorf("%q with permissions %v, %v", text, i.Mode(), err)
	}
}
