package main

import (
	"bytes"
	"testing"
	"time"
)

// The line grows, stays within a terminal, and leaves nothing behind; sentences stay
// above it.
func TestProgressIsALineThatGoesAway(t *testing.T) {
	var b bytes.Buffer
	p := &progress{name: "tune", line: &ticker{w: &b}}
	for _, done := range []int{0, 50, 20, 100} { // 20 comes late, from a slow worker
		p.line.drawn = time.Time{}
		p.at(done, 100)
	}
	p.at(100, 100) // too soon
	p.say("best so far")
	p.end()
	p.at(100, 100) // over
	lines := screen(b.String())
	if len(lines) != 2 || lines[0] != "best so far" || lines[1] != "" {
		t.Errorf("%q", lines)
	}
	if n := bytes.Count(b.Bytes(), []byte("tune [")); n != 3 {
		t.Errorf("drawn %d times: %q", n, b.String())
	}
}
