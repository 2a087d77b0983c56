package workbench

import (
	"fmt"
	"slices"
	"strings"
)

// Flag is one thing that a study can be asked, under the name that the command has it.
type Flag struct {
	Name, Usage string
	Value       any      // *string, *[]string, *int, *uint64 or *bool; holds the default
	Words       []string // some values that it takes, for completion
	Commas      bool     // several values may stand in one, between commas
	Writes      bool     // it names a file to write
}

// noted are the flags that decide nothing of what a result says.
var noted = []string{"output", "force", "quiet", "workers", "format", "figures", "date"}

// commandLine returns the command with the flags that were given and that decide what
// a result says, to be typed into a shell.
func commandLine(command string, flags []Flag, given func(string) bool) string {
	line := "dialwright " + command
	flags = slices.Clone(flags)
	slices.SortFunc(flags, func(a, b Flag) int { return strings.Compare(a.Name, b.Name) })
	for _, f := range flags {
		if !given(f.Name) || slices.Contains(noted, f.Name) {
			continue
		}
		for _, v := range f.values() {
			line += " --" + f.Name + " " + Quoted(v)
		}
	}
	return line
}

// values are what the flag holds, as one would write it.
func (f *Flag) values() []string {
	switch v := f.Value.(type) {
	case *[]string:
		return *v
	case *string:
		return []string{*v}
	case *int:
		return []string{fmt.Sprint(*v)}
	case *uint64:
		return []string{fmt.Sprint(*v)}
	case *bool:
		return []string{fmt.Sprint(*v)}
	}
	panic(fmt.Sprintf("a flag of type %T", f.Value))
}

// plainly are the characters that a shell takes as they are.
const plainly = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_./:=,+@%-"

// Quoted writes a word so that a shell takes it as it is.
func Quoted(word string) string {
	if word != "" && strings.Trim(word, plainly) == "" {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}
