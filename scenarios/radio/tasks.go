package radio

import (
	"strings"

	"dialwright/scenarios"
)

// Tasks returns a new copy of each task of this package, in the order of lists.
// Of the amateur bands these are the bands of Region 1; Task knows those of the
// other scopes too.
func Tasks() []*scenarios.Task {
	tasks := []*scenarios.Task{COM25(), COM833(), NAV(), NDB()}
	for _, b := range Bands() {
		if b.Use == "edges" && b.Scope == "IARU-R1" {
			for _, tol := range Tolerances() {
				tasks = append(tasks, Tuning(b, tol))
			}
		}
	}
	return tasks
}

// Task returns a new copy of the task with a name, or nil where there is none.
// hf-us-40m-50hz and hf-iaru-r2-80m-20hz name bands of other scopes than Region
// 1.
func Task(name string) *scenarios.Task {
	if strings.HasPrefix(name, "hf-") {
		for _, b := range Bands() {
			for _, tol := range Tolerances() {
				if t := Tuning(b, tol); b.Use == "edges" && t.Name == name {
					return t
				}
			}
		}
		return nil
	}
	for _, t := range []func() *scenarios.Task{COM25, COM833, NAV, NDB} {
		if t := t(); t.Name == name {
			return t
		}
	}
	return nil
}
