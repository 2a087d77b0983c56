package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
	"dialwright/scenarios/workbench"
)

// output is where a command's result goes and in which form.
type output struct {
	streams
	format string
	path   string
	force  bool
	quiet  bool
	detail bool // everything, instead of the answer
	forms  []string
	late   []string // what is later than anything the people were set on
}

// newOutput returns the output of a command that has these forms; the first is
// what it writes without --format.
func newOutput(s streams, c *cobra.Command, forms ...string) *output {
	o := &output{streams: s, forms: forms}
	f := c.Flags()
	if len(forms) > 1 {
		f.StringVar(&o.format, "format", forms[0], strings.Join(forms, ", "))
		mustComplete(c, "format", forms)
	} else {
		o.format = forms[0]
	}
	f.StringVarP(&o.path, "output", "o", "", "write to this file instead of standard output")
	f.BoolVar(&o.force, "force", false, "replace the file that --output names")
	f.BoolVarP(&o.quiet, "quiet", "q", false, "no progress, no hints")
	return o
}

// target is a flag that names a file to write.
type target struct{ flag, path string }

// check says what is wrong with the flags before any work is done: the form, and
// the files to write, those of more flags too. They must be writable and distinct,
// and in may not read them.
func (o *output) check(in *file.Loader, more ...target) error {
	var faults []error
	if !slices.Contains(o.forms, o.format) {
		faults = append(faults, fmt.Errorf("--format: %s; %s would do", scenarios.Shown(o.format), strings.Join(o.forms, ", ")))
	}
	var all []target
	for _, t := range append([]target{{"output", o.path}}, more...) {
		switch {
		case t.path == "", t.path == "-" && t.flag == "output":
			continue
		case t.path == "-":
			faults = append(faults, fmt.Errorf("--%s: standard output has the result; the name of a file would do", t.flag))
			continue
		}
		if twin := slices.IndexFunc(all, func(a target) bool { return file.Same(a.path, t.path) }); twin >= 0 {
			faults = append(faults, fmt.Errorf("--%s and --%s name the same file, %s; two files would do", all[twin].flag, t.flag, columns.Line(t.path)))
		} else if err := file.CheckOutput(t.path, o.force); err != nil {
			faults = append(faults, fmt.Errorf("--%s: %w", t.flag, err))
		}
		all = append(all, t)
		in.Outputs = append(in.Outputs, file.Output{Flag: t.flag, Path: t.path})
	}
	return errors.Join(faults...)
}

// write hands the result on, whole or not at all. partial says that the command
// was interrupted and the result is not complete: it replaces no file, but goes
// beside the one that it was meant for. What takes no result any more (a disk that has
// become full, a file that somebody else made meanwhile) does not lose it.
func (o *output) write(partial bool, render func(io.Writer) error) error {
	var text bytes.Buffer
	if err := render(&text); err != nil {
		return failure{err}
	}
	out := columns.Gate(o.out)
	if slices.Contains([]string{"table", "markdown"}, o.format) {
		out = printed(o.out)
	}
	show := func() error {
		return file.Aside(o.ctx, func() error { _, err := out.Write(text.Bytes()); return err })
	}
	var err error
	if o.path == "" || o.path == "-" {
		err = show()
	} else if err = o.writeFile(o.path, partial, text.Bytes()); err != nil && !errors.Is(err, context.Canceled) && show() == nil {
		err = fmt.Errorf("%w; it is on standard output instead", err)
	}
	if errors.Is(err, context.Canceled) {
		return err
	}
	if err != nil {
		return failure{fmt.Errorf("cannot write the result: %w", err)}
	}
	if partial {
		return errInterrupted
	}
	return nil
}

// writeFile writes a file, whole or not at all; one of a partial result beside the
// file that it was meant for.
func (o *output) writeFile(path string, partial bool, text []byte) error {
	force := o.force
	if partial && !special(path) {
		path, force = beside(path, "partial"), false
		fmt.Fprintf(printed(o.err), "what is finished: %s\n", columns.Line(path))
	}
	return file.WriteOutput(o.ctx, path, force, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}

// special says whether a path is a device or a pipe.
func special(path string) bool {
	i, err := os.Stat(path)
	return err == nil && !i.Mode().IsRegular()
}

// beside returns the name of a file that is not there yet, near another one.
func beside(path, word string) string {
	ending := filepath.Ext(path)
	for n := 1; ; n++ {
		name := strings.TrimSuffix(path, ending) + "-" + word + ending
		if n > 1 {
			name = fmt.Sprintf("%s-%s-%d%s", strings.TrimSuffix(path, ending), word, n, ending)
		}
		if _, err := os.Lstat(name); err != nil {
			return name
		}
	}
}

// detailFlag adds --detail to a command whose Page is the answer only.
func (o *output) detailFlag(c *cobra.Command) {
	c.Flags().BoolVar(&o.detail, "detail", false, "all tables and sentences, instead of the answer at a glance")
}

// page is what --detail asks for.
func (o *output) page(r workbench.Described) *columns.Page {
	if d, ok := r.(interface{ Detail() *columns.Page }); ok && o.detail {
		return o.warned(d.Detail())
	}
	return o.warned(r.Page())
}

// result hands an outcome on in the form that --format names, then writes the files that
// its flags name.
func (o *output) result(r *workbench.Outcome) error {
	o.late = r.Beyond
	err := o.write(r.Partial(), func(w io.Writer) error {
		switch o.format {
		case "markdown":
			return o.page(r.Result.(workbench.Described)).Markdown(w)
		case "csv":
			if err := r.Result.(interface{ Rows() columns.Table }).Rows().CSV(w); err != nil || !r.Partial() {
				return err
			}
			_, err := io.WriteString(w, workbench.PartialLine)
			return err
		case "json":
			return r.JSON(w)
		case "table":
			if err := o.page(r.Result.(workbench.Described)).Print(w, o.width()); err != nil || o.quiet {
				return err
			}
			_, err := io.WriteString(w, r.Hint)
			return err
		}
		return r.Text(w)
	})
	for _, f := range r.Files {
		text, e := f.Text()
		if e != nil {
			return failure{e}
		}
		if e := o.writeFile(f.Name, r.Partial(), text); e != nil {
			return e
		}
	}
	if err == nil && len(r.Files) > 0 && r.Next != "" && !o.quiet {
		fmt.Fprintln(printed(o.err), r.Next)
	}
	return err
}

// warned adds what is later than anything the people were set on.
func (o *output) warned(p *columns.Page) *columns.Page {
	for _, s := range o.late {
		p.Text("warning: " + s)
	}
	return p
}

// mustComplete lets the shell complete a flag from a list.
func mustComplete(c *cobra.Command, flag string, words []string) {
	err := c.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words, cobra.ShellCompDirectiveDefault))
	if err != nil {
		panic(err) // the flag does not exist
	}
}
