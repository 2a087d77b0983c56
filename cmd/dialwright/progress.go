package main

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"dialwright/scenarios/columns"
)

// ticker is a line on a terminal that changes, below sentences that stay.
type ticker struct {
	w     io.Writer
	long  int // columns of the line
	drawn time.Time
}

// draw writes the line over what it was.
func (t *ticker) draw(s string) {
	fmt.Fprintf(t.w, "\r%s%s", s, strings.Repeat(" ", max(t.long-len(s), 0)))
	if t.long = len(s); s != "" {
		t.drawn = time.Now()
	}
}

// due says whether it is time to draw again: ten times a second is as fast as one
// can read.
func (t *ticker) due() bool { return time.Since(t.drawn) >= 90*time.Millisecond }

// say writes a sentence that stays.
func (t *ticker) say(s string) {
	t.draw("")
	fmt.Fprintf(t.w, "\r%s\n", s)
}

// clear takes the line away.
func (t *ticker) clear() {
	t.draw("")
	fmt.Fprint(t.w, "\r")
}

// progress shows how far a long run is, on a terminal and nowhere else.
type progress struct {
	mutex sync.Mutex // several workers report
	line  *ticker    // nil: says nothing
	name  string
	done  int
}

// newProgress starts a line of progress on the error stream.
func (o *output) newProgress(name string) *progress {
	p := &progress{name: name}
	if !o.quiet && isTerminal(o.err) {
		p.line = &ticker{w: o.err}
	}
	return p
}

// at says how much is done.
func (p *progress) at(done, all int) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.line == nil || done < p.done || all < 1 || !p.line.due() {
		return
	}
	const width = 48
	p.done = done
	filled := min(width*done/all, width)
	p.line.draw(fmt.Sprintf("%s [%s%s] %3d %%", p.name, strings.Repeat("=", filled), strings.Repeat(" ", width-filled), min(100*done/all, 100)))
}

// say writes a sentence above the line.
func (p *progress) say(s string) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.line != nil {
		p.line.say(columns.Line(s))
	}
}

// end takes the line away.
func (p *progress) end() {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if p.line != nil {
		p.line.clear()
		p.line = nil
	}
}
