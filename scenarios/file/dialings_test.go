package file_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"dialwright/encoder"
	"dialwright/encoder/draw"
	"dialwright/scenarios"
	"dialwright/scenarios/file"
)

const (
	dialingsHead = `{"kind":"dialings","version":1,"device":{"kind":"hid","clicks_per_turn":24},"rates":{"stamp_ms":0.1},"program":{"frames_per_s":50,"lag_ms":50},` +
		`"tasks":{"heading":{"unit":"deg","low":1,"count":360,"wrap":true,"tolerance":0}},"settings":{"A":{"kind":"profile","version":1,"name":"plain"},"B":{"kind":"profile","version":1,"name":"x","acceleration":{"base":2}}}}`
	dialingsLine = `{"task":"heading","setting":"A","pair":1,"order":2,"start":3,"target":1,"phase_ms":12.5,"events":[[812.4,-1],[874.1,-1]],"shown":[[862.5,2],[942.5,1]],"end_ms":1512.8,"outcome":"right"}`
)

func readDialings(text string) (*scenarios.Dialings, error) {
	return (&file.Loader{In: strings.NewReader(text)}).Dialings("-")
}

// A file of dialings is read as it stands, with or without a byte-order mark, and with
// either end of line; and what was shown is what the path shows for the clicks.
func TestDialingsAreRead(t *testing.T) {
	for name, text := range map[string]string{
		"plain": dialingsHead + "\n" + dialingsLine + "\n" + dialingsLine, "BOM and CRLF": "\xef\xbb\xbf" + dialingsHead + "\r\n\r\n" + dialingsLine + "\r\n" + dialingsLine + "\r\n",
	} {
		d, err := readDialings(text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		x := d.All[1]
		if len(d.All) != 2 || d.Program.Lag != 50*time.Millisecond || d.Tasks["heading"].Scale != (encoder.Scale{Low: 1, Count: 360, Wrap: true}) || d.Settings["B"].Acceleration.Base != 2 ||
			x.Pair != 1 || x.Order != 2 || x.Outcome != scenarios.Right || x.End != 1512800*time.Microsecond {
			t.Errorf("%s: %+v", name, d)
		}
		s, err := d.Path(&x)
		if err != nil {
			t.Fatal(err)
		}
		path, err := encoder.NewPath(s)
		if err != nil {
			t.Fatal(err)
		}
		path.Start(draw.NewTrial(1, "", 0), x.Start)
		for _, c := range x.Clicks {
			path.Detent(int64(c.At), int8(c.Clicks))
		}
		path.Finish()
		for i, c := range path.Changes() {
			if i >= len(x.Shown) || c != x.Shown[i] {
				t.Errorf("%s: the path shows %v, the file says %v", name, path.Changes(), x.Shown)
				break
			}
		}
	}
}

// Every fault of a file of dialings has its line and its field.
func TestFaultsOfDialingsHaveTheirPlace(t *testing.T) {
	for _, x := range []struct{ from, to, want string }{
		{`"version":1,"device"`, `"version":2,"device"`, `-:1:30: version: 2; 1 would do`},
		{`"kind":"dialings"`, `"kind":"rig"`, `-:1:9: kind: this is no file of dialings`},
		{`"clicks_per_turn":24`, `"clicks_per_turn":0`, `device.clicks_per_turn: 0; a whole number from 1 to 10000 would do`},
		{`"wrap":true,`, ``, `tasks.heading.wrap: is missing`},
		{`"rates":{`, `"owner":"me","rates":{`, `owner: there is no such key`},
		{`"name":"plain"`, `"name":"plain","settings":{"firmware.pulse":"40ms"}`, `settings.A.settings: only the acceleration`},
		{`"base":2`, `"base":0`, `settings.B.acceleration.base: 0`},
		{`"task":"heading"`, `"task":"headin"`, `-:2:9: task: the first line has no headin; did you mean heading?`},
		{`"setting":"A"`, `"setting":"C"`, `-:2:29: setting: the first line has no C`},
		{`"order":2`, `"order":3`, `order: 3; a whole number from 1 to 2 would do`},
		{`"target":1`, `"target":360`, `target: 360; a whole number from 0 to 359`},
		{`"target":1`, `"target":3`, `target: 3 is the start`},
		{`[874.1,-1]`, `[774.1,-1]`, `events[1]: 774.1 ms does not come after`},
		{`[874.1,-1]`, `[874.1,0]`, `events[1]: 0 clicks`},
		{`[874.1,-1]`, `[874.1,-1.5]`, `events[1]: -1.5; a whole number would do`},
		{`[874.1,-1]`, `[1e99,-1]`, `events[1]: 1e99; milliseconds from 0`},
		{`[942.5,1]`, `[942.5,400]`, `shown[1]: 400; a number from 0 to 359`},
		{`[942.5,1]`, `[942.5,2]`, `outcome: right, but the number stood 1 steps from the target`},
		{`"outcome":"right"`, `"outcome":"wrong"`, `outcome: wrong, but the number stood 0 steps`},
		{`"outcome":"right"`, `"outcome":"fine"`, `outcome: there is no choice fine`},
		{`,"outcome":"right"`, ``, `outcome: is missing`},
		{`"pair":1`, `"pair":1,"pair":2`, `pair: the key stands here a second time`},
		{`"pair":1`, `"pair":1,`, `-:2:42: invalid character`},
		{`"outcome":"right"}`, `"outco`, `without this line the others would do`},
	} {
		text := dialingsHead + "\n" + dialingsLine
		changed := strings.Replace(text, x.from, x.to, 1)
		if changed == text {
			t.Errorf("%s is not there", x.from)
		}
		d, err := readDialings(changed)
		var faults file.Faults
		if d != nil || err == nil || !errors.As(err, &faults) || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s for %s: %v, want %s", x.to, x.from, err, x.want)
		}
	}
	for text, want := range map[string]string{
		"": "empty", "\n\n": "there is nothing in it", dialingsHead: "no dialing comes after", "\xff\xfe{\x00": "UTF-16", "[1]": "an object is wanted", "a: 1": "invalid character",
	} {
		if _, err := readDialings(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// Whatever stands in a file of dialings is read or has faults, each with the file's name.
func FuzzDialings(f *testing.F) {
	f.Add(dialingsHead + "\n" + dialingsLine + "\n")
	f.Add(dialingsHead + "\n" + `{"task":[],"events":{},"shown":[[1]],"end_ms":"x"}`)
	f.Add(`{"kind":"dialings","version":1,"device":[],"program":null,"tasks":{"":1},"settings":{"A":[]}}`)
	f.Fuzz(func(t *testing.T, text string) {
		d, err := readDialings(text)
		if (d == nil) == (err == nil) {
			t.Fatalf("%v, %v", d, err)
		}
		if err != nil {
			for line := range strings.SplitSeq(err.Error(), "\n") {
				if !strings.HasPrefix(line, "-:") {
					t.Errorf("%q", line)
				}
			}
			return
		}
		for i := range d.All {
			if _, err := d.Path(&d.All[i]); err != nil {
				t.Error(err)
			}
		}
	})
}
