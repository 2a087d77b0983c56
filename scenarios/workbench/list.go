package workbench

import (
	"context"
	"fmt"
	"slices"

	"dialwright/encoder/part"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/file"
)

// List names what is built in.
type List struct{ Asked }

// NewList returns the question what is built in.
func NewList(file.Loader) *List { return &List{} }

// Listed is one kind of built-in things.
type Listed struct {
	Kind  string
	Items func() []demo.Item
}

// Lists are the kinds of built-in things.
var Lists = []Listed{
	{"panels", demo.Panels},
	{"rigs", demo.Rigs},
	{"profiles", profileItems},
	{"tasks", demo.Tasks},
	{"operators", operatorItems},
	{"populations", demo.Populations},
	{"parts", partItems},
	{"systems", systemItems},
}

// Kinds are the words for them.
func Kinds() (all []string) {
	for _, l := range Lists {
		all = append(all, l.Kind)
	}
	return all
}

// Flags are what can be asked: nothing but the kind.
func (*List) Flags() []Flag { return nil }

// Check wants one kind, or none for all.
func (*List) Check(args []string) error {
	if len(args) > 1 || len(args) == 1 && !slices.Contains(Kinds(), args[0]) {
		return fmt.Errorf("list takes one of %s", columns.Either(Kinds()))
	}
	return nil
}

// Run lists one kind, or all.
func (l *List) Run(_ context.Context, args []string, _ Progress) (*Outcome, error) {
	show := Lists
	if len(args) == 1 {
		show = Lists[slices.Index(Kinds(), args[0]):][:1]
	}
	result := map[string]columns.Table{}
	for _, x := range show {
		result[x.Kind] = columns.Table{Columns: []columns.Column{{Keys: []string{"name", "about"}}}, Rows: func(yield func([]columns.Cell) bool) {
			for _, i := range x.Items() {
				if !yield([]columns.Cell{columns.Of(i.Name, i.About)}) {
					return
				}
			}
		}}
	}
	return &Outcome{Header: l.Header("list", false), Result: show, Report: result}, nil
}

func profileItems() []demo.Item {
	var items []demo.Item
	for _, p := range scenarios.Profiles() {
		items = append(items, demo.Item{Name: p.Name, About: p.About(nil)})
	}
	return items
}

func operatorItems() []demo.Item {
	var items []demo.Item
	for _, o := range scenarios.Operators() {
		items = append(items, demo.Item{Name: o.Name, About: fmt.Sprintf("turns at %.0f to %.0f°/s, reaches %.0f° between two regrips", o.SlowDegPerS.Mean, o.FastDegPerS.Mean, o.ReachDeg.Mean)})
	}
	return items
}

func partItems() []demo.Item {
	var items []demo.Item
	for _, p := range part.Parts() {
		about := fmt.Sprintf("smooth, %d cycles a turn; %s", p.Cycles, p.Sheet)
		if p.Detents > 0 {
			about = fmt.Sprintf("%d detents, %d cycles a turn, bounce up to %s; %s", p.Detents, p.Cycles, scenarios.Spoken(p.Bounce), p.Sheet)
		}
		items = append(items, demo.Item{Name: p.Name, About: about})
	}
	return items
}

func systemItems() []demo.Item {
	var items []demo.Item
	for _, x := range part.Systems() {
		items = append(items, demo.Item{Name: x.Name, About: fmt.Sprintf("key repeat after %s, %.4g a second; %s", scenarios.Spoken(x.Repeat.Delay), float64(x.Repeat.Rate), x.Full)})
	}
	return items
}
