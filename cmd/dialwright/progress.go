package main

import (
	"io"
	"os"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"
)

// progress shows how far a long run is, on a terminal and nowhere else.
type progress struct {
	bars *mpb.Progress
	bar  *mpb.Bar
}

// newProgress starts a line of progress on the error stream.
func (o *output) newProgress(name string) *progress {
	p := &progress{}
	f, ok := o.err.(*os.File)
	if o.quiet || !ok || !term.IsTerminal(int(f.Fd())) {
		return p
	}
	p.bars = mpb.New(mpb.WithOutput(io.Writer(f)), mpb.WithWidth(64))
	p.bar = p.bars.AddBar(0, mpb.BarRemoveOnComplete(),
		mpb.PrependDecorators(decor.Name(name+" ")),
		mpb.AppendDecorators(decor.Percentage()))
	return p
}

// at says how much is done.
func (p *progress) at(done, all int) {
	if p.bar != nil {
		p.bar.SetTotal(int64(all), false)
		p.bar.SetCurrent(int64(done))
	}
}

// end takes the line away.
func (p *progress) end() {
	if p.bar != nil {
		p.bar.Abort(true)
		p.bars.Wait()
	}
}
