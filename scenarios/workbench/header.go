package workbench

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"runtime/debug"

	"dialwright/scenarios/file"
)

// Format is the format of JSON results. It rises when a field goes away or changes its
// meaning, its unit or its kind; new fields may come at any time, and the words of
// sentences (sentence, verdict, advice) may change.
const Format = 1

// Header is what every JSON result begins with.
type Header struct {
	Command string       `json:"command"`
	Version string       `json:"version"`
	Format  int          `json:"format"` // see Format
	Seed    uint64       `json:"seed"`
	Partial bool         `json:"partial"`
	Inputs  []file.Input `json:"inputs"`
}

// Header returns what a command's JSON begins with.
func (i *Asked) Header(command string, partial bool) Header {
	used := i.Inputs()
	if used == nil {
		used = []file.Input{}
	}
	return Header{command, Version(), Format, i.Seed, partial, used}
}

// Version returns the module's version, or that this is a build of a working copy.
func Version() string {
	b, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := b.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	return "devel"
}

// JSON writes the outcome for programs.
func (o *Outcome) JSON(w io.Writer) error { return WriteJSON(w, o.Header, o.Report) }

// WriteJSON writes a result with its header: the fields of both stand side by side.
func WriteJSON(w io.Writer, h Header, result any) error {
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
