package report

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"

	"dialwright/scenarios/file"
)

// fileWidth is the width of figures in files, CSS pixels.
const fileWidth = 720

// Files writes every figure into a directory, as SVG and as PNG, for a forum post
// or a slide. It says which files it would replace before it writes any, unless
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
