package workbench

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"
)

// What a request may not ask is said, with what would do.
func TestRefusedRequests(t *testing.T) {
	for _, x := range []struct{ request, says string }{
		{``, "the request: "},
		{`{"study":"nosuch"}`, "there is no nosuch"},
		{`{"study":"compare","x":1}`, "unknown field"},
		{`{"study":"compare","flags":{"output":"/tmp/x"}}`, "has no flag --output"},
		{`{"study":"compare","flags":{"trials":"many"}}`, "a whole number would do"},
		{`{"study":"explain","flags":{"trials":100000000}}`, "GB of memory"},
		{`{"study":"compare","flags":{"rig":"/etc/passwd"}}`, "/etc/passwd: there is no such file"},
		{`{"study":"compare","flags":{"rig":"../../etc/passwd"}}`, "there is no such file"},
		{`{"study":"compare","flags":{"rig":"-"}}`, "no standard input"},
		{`{"study":"fit","args":["/dev/stdin"]}`, "/dev/stdin: there is no such file"},
		{`{"study":"compare","flags":{"panel":"p.yaml"},"files":{"p.yaml":"kind: panel\nversion: 1\nname: p\nknobs:\n  - {name: a, rig: /etc/hostname.yaml, tasks: [{task: heading}]}\n"}}`, "p.yaml:5:"},
		{`{"study":"check","args":["../a.yaml"],"files":{"../a.yaml":"x"}}`, "a name such as my-rig.yaml would do"},
		{`{"study":"follow","flags":{"turn":""}}`, "the value is empty"},
		{`{"study":"show"}`, "one name"},
	} {
		var last string
		Tell(t.Context(), []byte(x.request), func(line []byte) { last = string(line) })
		if !strings.HasPrefix(last, `{"faults":[`) || !strings.Contains(last, x.says) {
			t.Errorf("%s: %.300s", x.request, last)
		}
	}
}

// Flags that name a file to write give its text, and no file.
func TestFilesAreAnswered(t *testing.T) {
	t.Chdir(t.TempDir())
	r := Request{Study: "fit", Flags: map[string]json.RawMessage{"write-rig": json.RawMessage(`"mine.yaml"`), "write-operator": json.RawMessage(`"me.yaml"`)}}
	a, err := Ask(t.Context(), &r, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(a.Files["mine.yaml"], "kind: rig") || !strings.Contains(a.Files["me.yaml"], "kind: operator") {
		t.Errorf("%q", a.Files)
	}
}

// FuzzRequest puts any request: it is answered or refused, and nothing panics.
func FuzzRequest(f *testing.F) {
	for _, s := range []string{
		`{"study":"compare","flags":{"trials":2,"task":"heading"}}`, `{"study":"follow","flags":{"turn":"3 in 90ms"}}`,
		`{"study":"check","args":["a.yaml"],"files":{"a.yaml":"kind: rig\nversion: 1\nname: a\n"}}`,
		`{"study":"fit","args":["k.csv"],"flags":{"control":"wheel"},"files":{"k.csv":"time_s,control,event\n0,wheel,1\n"}}`,
		`{"study":"export","args":["power"],"flags":{"as":"c"}}`, `{"study":"list","args":["rigs"]}`, `{"study":"desk"}`,
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, request []byte) {
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		ends := 0
		Tell(ctx, request, func(line []byte) {
			var l map[string]any
			if err := json.Unmarshal(line, &l); err != nil || len(l) != 1 {
				t.Errorf("%q is answered %q: %v", request, line, err)
			}
			if l["progress"] == nil {
				ends++
			}
		})
		if ends != 1 && ctx.Err() == nil {
			t.Errorf("%q has %d ends", request, ends)
		}
	})
}
