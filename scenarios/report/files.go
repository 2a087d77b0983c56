package report

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"dialwright/scenarios/figure"
	"dialwright/scenarios/file"
)

// fileWidth is the width of figures in files, CSS pixels.
const fileWidth = 720

// Files writes every figure into a directory, as SVG and as PNG, for a forum post
// or a slide, and share.png to stand beside a link. It says which files it would replace before it writes any, unless
// force is set.
func (r *Result) Files(ctx context.Context, dir string, force bool) error {
	x := r.Report()
	type picture struct {
		path  string
		write func(w io.Writer, width float64) error
	}
	var pictures []picture
	var faults []error
	for _, f := range x.Figures() {
		for _, p := range []picture{{f.Name + ".svg", f.SVG}, {f.Name + ".png", f.PNG}} {
			p.path = filepath.Join(dir, p.path)
			pictures = append(pictures, p)
			faults = append(faults, file.CheckOutput(p.path, force))
		}
	}
	for _, f := range first(x.pairs()) {
		p := picture{filepath.Join(dir, "share.png"), func(w io.Writer, _ float64) error { return r.share(w, &x, *f) }}
		pictures = append(pictures, p)
		faults = append(faults, file.CheckOutput(p.path, force))
	}
	if err := errors.Join(faults...); err != nil {
		return err
	}
	for _, p := range pictures {
		var whole bytes.Buffer
		if err := p.write(&whole, fileWidth); err != nil {
			return err
		}
		if err := file.WriteOutput(ctx, p.path, force, func(w io.Writer) error {
			_, err := w.Write(whole.Bytes())
			return err
		}); err != nil {
			return err
		}
	}
	return nil
}

// share writes the finding over the pairs of all tasks.
func (r *Result) share(w io.Writer, x *Report, f figure.Figure) error {
	f.Title = x.finding()
	var rigs []string
	for _, k := range x.Knobs {
		if !slices.Contains(rigs, short(k.Rig)) {
			rigs = append(rigs, short(k.Rig))
		}
	}
	return f.Share(w, fmt.Sprintf("%s · %s · before: %s · %s operator, simulated", short(x.Panel), strings.Join(rigs, ", "), short(x.Profile), short(x.Operator)))
}
