// Package demo is the panel that commands use when nobody names another one: the
// training desk of the Quillmoor flying school, which is invented.
//
// The desk has four knobs. The radio and the nav knob have two rings, an outer
// one for MHz and an inner one for what is left; the autopilot knob dials
// heading, altitude or vertical speed, as a button beside it selects; the
// altimeter knob has one ring and one number. Behind them are three kinds of
// rig: left-pulse turns each click into a button pulse, middle-keys into a key
// press that the system may repeat, right-relative reports how many clicks it
// counted. Left-pulse and right-relative differ in nothing else.
//
// The population households is what a survey works on: desks and radios at home as
// we imagine them, every share and range of it ours.
//
// Rigs, panel and population are files like a user's own, and good ones to start from. How
// often each number is dialed in an hour nobody has published; the rates are
// ours. The package also gives the built-in tasks by name, whatever package they
// come from.
package demo

import (
	"embed"
	"fmt"
	"slices"

	"dialwright/scenarios"
	"dialwright/scenarios/file"
	"dialwright/scenarios/radio"
)

//go:embed quillmoor.yaml households.yaml rigs/*.yaml
var files embed.FS

// Item is a line of a list: a name and what is behind it.
type Item struct{ Name, About string }

// Tasks lists the built-in tasks.
func Tasks() []Item {
	var items []Item
	for _, t := range append(scenarios.Tasks(), radio.Tasks()...) {
		items = append(items, Item{t.Name, t.Title})
	}
	return items
}

// Task returns a new copy of the built-in task with a name, or nil where there
// is none. It knows more amateur bands than the list: see radio.Task.
func Task(name string) *scenarios.Task {
	for _, t := range scenarios.Tasks() {
		if t.Name == name {
			return t
		}
	}
	return radio.Task(name)
}

// Rigs lists the built-in rigs.
func Rigs() []Item {
	return []Item{
		{"left-pulse", "24 detents, button pulses of 30 ms, a program that looks 30 times a second"},
		{"middle-keys", "30 detents, a key press for each click, key repeat as Windows comes with it"},
		{"right-relative", "the encoder and the program of left-pulse, but reporting counts"},
	}
}

// Rig returns a new copy of the built-in rig with a name, or nil where there is
// none.
func Rig(name string) *scenarios.Rig {
	if !has(Rigs(), name) {
		return nil
	}
	return read("rigs/"+name+".yaml", (*file.Loader).Rig)
}

// Panels lists the built-in panels.
func Panels() []Item {
	return []Item{{"quillmoor", "the training desk of the Quillmoor flying school (invented): four knobs, six tasks"}}
}

// Panel returns a new copy of the built-in panel with a name, or nil where there
// is none.
func Panel(name string) *scenarios.Panel {
	if !has(Panels(), name) {
		return nil
	}
	return read(name+".yaml", (*file.Loader).Panel)
}

// Populations lists the built-in populations.
func Populations() []Item {
	return []Item{{"households", "desks and radios at home: three kinds of rig, three kinds of people, four tasks; its shares are ours"}}
}

// Population returns a new copy of the built-in population with a name, or nil where
// there is none.
func Population(name string) *scenarios.Population {
	if !has(Populations(), name) {
		return nil
	}
	return read(name+".yaml", (*file.Loader).Population)
}

// Text returns the file of a built-in rig, panel or population with its comments, nil where
// there is none.
func Text(name string) []byte {
	path := name + ".yaml"
	if has(Rigs(), name) {
		path = "rigs/" + path
	} else if !has(Panels(), name) && !has(Populations(), name) {
		return nil
	}
	text, err := files.ReadFile(path)
	if err != nil {
		panic(err) // it is part of the program
	}
	return text
}

func operator(name string) *scenarios.Operator {
	all := scenarios.Operators()
	if i := slices.IndexFunc(all, func(o scenarios.Operator) bool { return o.Name == name }); i >= 0 {
		return &all[i]
	}
	return nil
}

func has(items []Item, name string) bool {
	return slices.ContainsFunc(items, func(i Item) bool { return i.Name == name })
}

// read reads an embedded file as a user's own is read. Knobs and rings that name
// one rig share it. A fault in a file is a fault of the build, and panics.
func read[T any](path string, as func(*file.Loader, string) (*T, error)) *T {
	shared := map[string]*scenarios.Rig{}
	rig := func(name string) *scenarios.Rig {
		if shared[name] == nil {
			shared[name] = Rig(name)
		}
		return shared[name]
	}
	text, err := files.Open(path)
	if err == nil {
		l := file.Loader{
			In:        text,
			Rigs:      file.Builtins[scenarios.Rig]{Find: rig},
			Tasks:     file.Builtins[scenarios.Task]{Find: Task},
			Operators: file.Builtins[scenarios.Operator]{Find: operator},
		}
		var v *T
		if v, err = as(&l, "-"); err == nil {
			return v
		}
	}
	panic(fmt.Sprintf("the embedded file %s is damaged: %v", path, err))
}
