package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
)

// output is where a command's result goes and in which form.
type output struct {
	streams
	format string
	path   string
	force  bool
	quiet  bool
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

// check says what is wrong with the flags before any work is done.
func (o *output) check() error {
	if !slices.Contains(o.forms, o.format) {
		return fmt.Errorf("--format: %q; %s would do", o.format, strings.Join(o.forms, ", "))
	}
	if o.path == "" || o.path == "-" {
		return nil
	}
	return file.CheckOutput(o.path, o.force)
}

// write hands the result on, whole or not at all. partial says that the command
// was interrupted and the result is not complete.
func (o *output) write(partial bool, render func(io.Writer) error) error {
	var whole bytes.Buffer
	if err := render(&whole); err != nil {
		return failure{err}
	}
	var err error
	if o.path == "" || o.path == "-" {
		_, err = o.out.Write(whole.Bytes())
	} else {
		err = file.WriteOutput(o.path, o.force, func(w io.Writer) error {
			_, err := w.Write(whole.Bytes())
			return err
		})
	}
	if err != nil {
		return failure{fmt.Errorf("cannot write the result: %w", err)}
	}
	if partial {
		return errInterrupted
	}
	return nil
}

// writeFile writes a file beside the result, whole or not at all.
func writeFile(path string, force bool, text []byte) error {
	err := file.WriteOutput(path, force, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
	if err != nil {
		return failure{fmt.Errorf("cannot write %s: %w", path, err)}
	}
	return nil
}

// described is a result that says what it has to say once, for every form; most have
// rows for programs too.
type described interface{ Page() *columns.Page }

// result hands a result on in the form that --format names; report makes what goes
// into its JSON.
func (o *output) result(in *inputs, command string, partial bool, r described, report func() any) error {
	return o.write(partial, func(w io.Writer) error {
		switch o.format {
		case "markdown":
			return o.warned(r.Page()).Markdown(w)
		case "csv":
			return r.(interface{ Rows() columns.Table }).Rows().CSV(w)
		case "json":
			return writeJSON(w, in.header(command, partial), report())
		}
		return o.warned(r.Page()).Print(w, columns.Width)
	})
}

// beyond keeps what is later than anything the people were set on, to be said once
// below the result.
func (o *output) beyond(said []string) {
	for _, s := range said {
		if !slices.Contains(o.late, s) {
			o.late = append(o.late, s)
		}
	}
}

// warned adds what is later than anything the people were set on.
func (o *output) warned(p *columns.Page) *columns.Page {
	for _, s := range o.late {
		p.Text("warning: " + s)
	}
	return p
}

// header is what every JSON result begins with.
type header struct {
	Command string       `json:"command"`
	Version string       `json:"version"`
	Seed    uint64       `json:"seed"`
	Partial bool         `json:"partial"`
	Inputs  []file.Input `json:"inputs"`
}

func (i *inputs) header(command string, partial bool) header {
	used := i.Inputs()
	if used == nil {
		used = []file.Input{}
	}
	return header{command, version(), i.seed, partial, used}
}

// writeJSON writes a result with its header: the fields of both stand side by
// side.
func writeJSON(w io.Writer, h header, result any) error {
	a, err := json.Marshal(h)
	if err != nil {
		return err
	}
	b, err := json.Marshal(result)
	if err != nil {
		return err
	}
	if len(b) < 2 || b[0] != '{' {
		return errors.New("a result is not an object")
	}
	joined := append(a[:len(a)-1], ',')
	if len(b) == 2 {
		joined = a[:len(a)-1]
	}
	joined = append(joined, b[1:]...)
	var out bytes.Buffer
	if err := json.Indent(&out, joined, "", "  "); err != nil {
		return err
	}
	out.WriteByte('\n')
	_, err = w.Write(out.Bytes())
	return err
}

// mustComplete lets the shell complete a flag from a list.
func mustComplete(c *cobra.Command, flag string, words []string) {
	err := c.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(words, cobra.ShellCompDirectiveDefault))
	if err != nil {
		panic(err) // the flag does not exist
	}
}
