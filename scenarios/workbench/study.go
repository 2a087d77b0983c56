// Package workbench is where a question is put together: from names, numbers and
// files to a study, and from the study to the answer that programs read. The command
// line asks it with flags, the page in a browser with a [Request]; both get the same
// bytes.
//
// What a study is asked stands in its flags ([Study.Flags]), under the names that the
// command has them. A [Request] gives their values and the text of the files that they
// name; nothing else is read from a disk, and nothing is written to one.
package workbench

import (
	"context"
	"errors"
	"io"
	"slices"

	"dialwright/scenarios/columns"
	"dialwright/scenarios/figure"
)

// Study is a question that the program works out.
type Study interface {
	// Flags are what can be asked; their values are set before Check and Run.
	Flags() []Flag
	// Check says what is wrong with the flags before any file is read.
	Check(args []string) error
	// Run does the work. Where it is interrupted, what was finished is a partial
	// outcome, or there is none.
	Run(ctx context.Context, args []string, at Progress) (*Outcome, error)
	// Asks is what it shares with most studies.
	Asks() *Asked
}

// Commanded is a study that the command line asks as it is, with nothing of its own.
type Commanded interface {
	Study
	Command() Command
}

// Command is how a study is asked on a command line, beside its flags.
type Command struct {
	// Use is its word and its arguments: none, NAME for one that must be there, [NAME]
	// for one that may, [NAME ...] for any number.
	Use                  string
	Short, Long, Example string
	Words                []string   // some arguments that it takes, for completion
	Forms                []string   // of the result; the first is the usual one
	Detail               bool       // its page is the answer only, and there is more
	Reports              []Reported // what JSON says below the header
}

// Reported is a structure that is written as JSON, under the word that its schema has.
type Reported struct {
	Word string
	Of   any
}

// Progress takes how much is done, and now and then a sentence on what was found. It is
// called by several workers at once.
type Progress func(done, all int, found string)

// at is the progress of a study that finds nothing on its way.
func (p Progress) at(done, all int) {
	if p != nil {
		p(done, all, "")
	}
}

// Described is a result that says what it has to say once, for every form; most have
// rows for programs too. One whose Page is the answer at a glance has a Detail.
type Described interface{ Page() *columns.Page }

// Outcome is what a study came to.
type Outcome struct {
	Header Header
	Result any                   // what the study returns; mostly Described
	Report any                   // what JSON says below the header; nil for what is text alone
	Beyond []string              // what is later than anything the people were set on
	Text   func(io.Writer) error // what is written for people or other programs; nil for most
	Hint   string                // said below a table
	Next   string                // said where files were written

	Files   []File                  // that flags name
	Figures func() []*figure.Figure // nil where there are none
}

// File is a file that a flag names: its name and how its text is made.
type File struct {
	Name string
	Text func() ([]byte, error)
}

// file adds a file, where a flag names one.
func (o *Outcome) file(name string, text func() ([]byte, error)) {
	if name != "" {
		o.Files = append(o.Files, File{name, text})
	}
}

// PartialLine marks lines of a file that has no other place for it.
const PartialLine = "# partial: interrupted before all was done\n"

// Partial says whether the study was interrupted.
func (o *Outcome) Partial() bool { return o.Header.Partial }

// beyond keeps what is later than anything the people were set on, once.
func (o *Outcome) beyond(said []string) {
	for _, s := range said {
		if !slices.Contains(o.Beyond, s) {
			o.Beyond = append(o.Beyond, s)
		}
	}
}

// failure is an error while running, after the inputs were found good.
type failure struct{ error }

func (f failure) Unwrap() error { return f.error }

// Failed marks an error that came after the inputs were found good.
func Failed(err error) error {
	if err == nil {
		return nil
	}
	return failure{err}
}

// IsFailure says whether an error came after the inputs were found good.
func IsFailure(err error) bool {
	var f failure
	return errors.As(err, &f)
}
