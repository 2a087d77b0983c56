package main

import (
	"bytes"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"dialwright/scenarios/workbench"
)

// worker runs the engine as worker.js does, under node: a request on each line of
// standard input, its answers on standard output.
const worker = `
const fs = require("fs"), path = require("path"), dir = process.argv[2]
globalThis.importScripts = () => require(path.join(dir, "wasm_exec.js"))
const requests = fs.readFileSync(0, "utf8").trim().split("\n")
globalThis.postMessage = line => {
	if (line.progress) return
	if (!line.ready) {
		const text = Buffer.from(JSON.stringify(line) + "\n")
		for (let n = 0; n < text.length;) try { n += fs.writeSync(1, text, n) } catch (e) { if (e.code !== "EAGAIN") throw e }
	}
	if (requests.length === 0) process.exit(0)
	onmessage({data: {ask: requests.shift()}})
}
;(0, eval)(fs.readFileSync(path.join(dir, "worker.js"), "utf8"))
WebAssembly.compile(fs.readFileSync(path.join(dir, "engine.wasm"))).then(module => onmessage({data: {module}}))
`

// The folder for any web server has an engine that answers with the same bytes as the
// native one.
func TestTheWorkerAnswersWithTheSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program again, for another processor")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("there is no node to run it")
	}
	if _, err := exec.LookPath("sh"); err != nil {
		t.Skip("there is no shell for the script")
	}
	dir := t.TempDir()
	build := exec.Command("sh", "./build", dir)
	build.Env = append(os.Environ(), "GOFLAGS=-buildvcs=false")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	requests := []string{
		`{"study":"compare","args":["plain","mine.yaml"],"flags":{"trials":20,"task":"heading"},"files":{"mine.yaml":"kind: profile\nversion: 1\nname: mine\n"}}`,
		`{"study":"explain","flags":{"trials":10,"task":["heading"]}}`,
		`{"study":"overshoot","args":["com-25"],"flags":{"trials":20}}`,
		`{"study":"tune","flags":{"trials":20,"task":"heading","write":"tuned.yaml"}}`,
		`{"study":"fit","flags":{"count":"turned 24 in 12s shown 24"}}`,
		`{"study":"fit"}`,
		`{"study":"follow","flags":{"turn":"12 in 500ms"}}`,
		`{"study":"report","flags":{"trials":20,"task":"heading"}}`,
		`{"study":"check","args":["a.yaml"],"files":{"a.yaml":"kind: rig\n"}}`,
		`{"study":"show","args":["left-pulse"]}`,
		`{"study":"list"}`,
		`{"study":"desk"}`,
		`{"study":"export","args":["power"],"flags":{"as":"card","trials":20,"task":"heading"}}`,
		`{"study":"export","args":["power"],"flags":{"as":"js"}}`,
		`{"study":"compare","flags":{"rig":"nosuch"}}`,
	}
	script := filepath.Join(t.TempDir(), "worker.cjs")
	if err := os.WriteFile(script, []byte(worker), 0o666); err != nil {
		t.Fatal(err)
	}
	c := exec.Command(node, script, dir)
	c.Stdin = strings.NewReader(strings.Join(requests, "\n"))
	c.Stderr = os.Stderr
	out, err := c.Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := bytes.Split(bytes.TrimSpace(out), []byte("\n"))
	if len(lines) != len(requests) {
		t.Fatalf("%d answers for %d requests: %.500s", len(lines), len(requests), out)
	}
	for i, request := range requests {
		var native []byte
		workbench.Tell(t.Context(), []byte(request), func(line []byte) { native = line })
		var a, b any
		if err := json.Unmarshal(lines[i], &a); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(native, &b); err != nil {
			t.Fatal(err)
		}
		x, _ := json.Marshal(a)
		y, _ := json.Marshal(b)
		if !bytes.Equal(x, y) {
			t.Errorf("%s\nthe worker answers\n%.400s\nthe native engine\n%.400s", request, x, y)
		}
	}
}
