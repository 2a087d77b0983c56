package file_test

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
)

func ExampleRewrite() {
	const text = `# The knob on the left, as tuned in May.
kind: profile
version: 1
name: mine # keep

settings:
  firmware.pulse: 30ms # the shortest that is seen
  # the gap is longer
  firmware.gap: 45ms

acceleration:
  home: program
  curve: {linear: {per: 10/s, factor: 3, cap: 10}} # was power
`
	l := &file.Loader{In: strings.NewReader(text)}
	p, err := l.Profile("-")
	if err != nil {
		fmt.Println(err)
		return
	}
	p.Settings[0].Value = "50ms"
	p.Acceleration.Curve = accel.Linear{Per: 10, Factor: 2, Cap: 8}
	p.Acceleration.Rate.Rest = 300 * time.Millisecond
	changed, err := file.Rewrite([]byte(text), p)
	fmt.Print(string(changed), err)
	// Output:
	// # The knob on the left, as tuned in May.
	// kind: profile
	// version: 1
	// name: mine # keep
	//
	// settings:
	//   firmware.pulse: 50ms # the shortest that is seen
	//   # the gap is longer
	//   firmware.gap: 45ms
	//
	// acceleration:
	//   home: program
	//   curve: {linear: {per: 10/s, factor: 2, cap: 8}} # was power
	//   rate:
	//     rest: 300ms
	// <nil>
}

const rigText = `# mine
kind: rig
version: 1
name: x # the left one

knob: {part: 15x30, bounce: 1ms} # from the drawer
firmware:
  # press
  pulse: 40ms
  output: keys

  # between
  queue: 8 # as it was
usb:
  poll: {speed: full, interval: 10}
system: {repeat: windows}
# the end
`

func TestRewritingWithoutAChangeChangesNothing(t *testing.T) {
	for _, text := range []string{rigText, "\xef\xbb\xbf" + rigText, strings.ReplaceAll(rigText, "\n", "\r\n")} {
		l := &file.Loader{In: strings.NewReader(text)}
		r, err := l.Rig("-")
		if err != nil {
			t.Fatal(err)
		}
		got, err := file.Rewrite([]byte(text), r)
		if want := strings.TrimPrefix(text, "\xef\xbb\xbf"); err != nil || string(got) != want {
			t.Errorf("%v\n%q\nnot\n%q", err, got, want)
		}
	}
}

func TestRewrittenRigsReadAsTheNewOne(t *testing.T) {
	for _, change := range []struct {
		with string
		want []string // lines of the result
		gone []string
	}{
		{"firmware.pulse=45ms", []string{"  pulse: 45ms", "knob: {part: 15x30, bounce: 1ms} # from the drawer", "system: {repeat: windows}", "  # between", "  queue: 8 # as it was"}, nil},
		{"knob.part=24x24", []string{"knob: {part: 15x30, bounce: 2ms, detents: 24, cycles: 24} # from the drawer"}, nil},
		{"system.repeat=x-server", []string{"system: {repeat: {delay: 660ms, rate: 25/s}}"}, []string{"windows"}},
		{"system.repeat=none", []string{"system: {repeat: {delay: 0ms, rate: none}}"}, []string{"windows"}},
		{"firmware.output=relative", []string{"  output: relative"}, []string{"queue", "windows", " pulse:", "system"}},
		{"usb.poll=1ms", []string{"  poll: 1ms"}, []string{"speed"}},
		{"program.sampling=events program.max_per_frame=2", []string{"program:", "  sampling: events", "  max_per_frame: 2"}, nil},
	} {
		l := &file.Loader{In: strings.NewReader(rigText)}
		r, err := l.Rig("-")
		if err != nil {
			t.Fatal(err)
		}
		var list []scenarios.Setting
		for _, s := range strings.Fields(change.with) {
			key, value, _ := strings.Cut(s, "=")
			list = append(list, scenarios.Setting{Key: key, Value: value})
		}
		if r.Rig, err = scenarios.With(r.Rig, list); err != nil {
			t.Fatal(err)
		}
		text, err := file.Rewrite([]byte(rigText), r)
		if err != nil {
			t.Fatal(err)
		}
		l = &file.Loader{In: bytes.NewReader(text)}
		if got, err := l.Rig("-"); err != nil || !reflect.DeepEqual(got, r) {
			t.Errorf("%s: %v\n%+v\nnot\n%+v\n%s", change.with, err, got, r, text)
		}
		for _, line := range change.want {
			if !strings.Contains("\n"+string(text), "\n"+line+"\n") {
				t.Errorf("%s: no line %q in\n%s", change.with, line, text)
			}
		}
		for _, word := range change.gone {
			if strings.Contains(string(text), word) {
				t.Errorf("%s: %s is still in\n%s", change.with, word, text)
			}
		}
	}
}

func TestRewriteRefusesWhatIsNoDocument(t *testing.T) {
	for _, text := range []string{"", "- 1\n", "a: [", "\xff\xfe"} {
		if out, err := file.Rewrite([]byte(text), &scenarios.Rig{Rig: encoder.Default()}); err == nil {
			t.Errorf("%q becomes\n%s", text, out)
		}
	}
}
