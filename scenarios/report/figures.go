package report

import (
	"slices"
	"strconv"

	"dialwright/scenarios/figure"
)

// The tones that stand for before and after in every figure, and for what stays as
// it is.
const (
	beforeTone = figure.Vermilion
	afterTone  = figure.Blue
	sameTone   = figure.Quiet
)

// Figures returns every figure of the report, in the order of the page.
func (r *Report) Figures() []*figure.Figure {
	return slices.Concat(r.top(), r.rest())
}

// top are the figures of the page that are not folded, one of each kind.
func (r *Report) top() []*figure.Figure {
	return slices.Concat(r.pairs(), first(r.stories()), r.firstGain(), r.links())
}

// rest are the others.
func (r *Report) rest() []*figure.Figure {
	return slices.Concat(r.times(), r.sizes(), after(r.stories()), r.turns(), r.lost(), r.otherGains(), r.fronts(), r.around())
}

func first(list []*figure.Figure) []*figure.Figure { return list[:min(1, len(list))] }

func after(list []*figure.Figure) []*figure.Figure { return list[min(1, len(list)):] }

// named gives a figure a name of its own, from its kind and from names in files.
func named(kind string, n int, names ...string) string {
	s := kind + "-" + strconv.Itoa(n+1)
	for _, x := range names {
		if x = slug(x); x != "" {
			s += "-" + x
		}
	}
	return s
}
