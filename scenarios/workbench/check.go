package workbench

import (
	"context"
	"errors"

	"dialwright/scenarios/file"
)

// Check names everything that is wrong with files.
type Check struct{ Asked }

// NewCheck returns the question what is wrong with files.
func NewCheck(l file.Loader) *Check { return &Check{Asked{Loader: l}} }

// Checked is what a check found.
type Checked struct {
	Files []file.Checked `json:"files"`
}

// Flags are what can be asked: nothing but the files.
func (*Check) Flags() []Flag { return nil }

// Check wants files.
func (*Check) Check(args []string) error {
	if len(args) == 0 {
		return errors.New("files to check would do")
	}
	return nil
}

// Run checks the files that are named.
func (c *Check) Run(ctx context.Context, args []string, _ Progress) (*Outcome, error) {
	for _, name := range args {
		if err := c.Readable(name); err != nil {
			return nil, err
		}
	}
	var r Checked
	for _, name := range args {
		r.Files = append(r.Files, c.Loader.Check(name))
	}
	if err := ctx.Err(); err != nil {
		return nil, err // what it waited for was not looked at
	}
	return &Outcome{Header: c.Header("check", false), Result: r, Report: r}, nil
}
