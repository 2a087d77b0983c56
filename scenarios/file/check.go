package file

import (
	"errors"
	"strings"

	"dialwright/scenarios/columns"
)

// Checked is what a check of a file found.
type Checked struct {
	File   string  `json:"file"`
	Kind   string  `json:"kind"`
	Faults []Fault `json:"faults"`
	Err    error   `json:"-"` // the system could not read it
}

// Check reads a file of any kind and returns all its faults.
func (l *Loader) Check(path string) Checked {
	c := Checked{File: path, Faults: []Fault{}}
	text, err := l.read(path)
	if err != nil {
		c.Faults = append(c.Faults, Fault{File: path, Message: trimPath(err, path)})
		if IsSystemFailure(err) {
			c.Err = err
		}
		return c
	}
	d, err := parse(path, "", text)
	if d.top.d != nil && d.kind != "" {
		c.Kind = d.kind
		back := l.beside(path)
		switch d.kind {
		case "rig":
			d.rig(l)
		case "profile":
			d.profile()
		case "panel":
			d.panel(l)
		case "task":
			d.task(l)
		case "operator":
			d.operator()
		case "population":
			d.population(l)
		}
		back()
		err = d.err()
	}
	var faults Faults
	switch {
	case errors.As(err, &faults):
		c.Faults = append(c.Faults, faults...)
	case err != nil:
		c.Faults = append(c.Faults, Fault{File: path, Message: trimPath(err, path)})
	}
	return c
}

// trimPath drops the file's name from the front of an error.
func trimPath(err error, path string) string {
	return strings.TrimPrefix(err.Error(), columns.Line(path)+": ")
}
