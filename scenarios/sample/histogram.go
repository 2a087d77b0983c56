package sample

import (
	"iter"
	"math/bits"

	"dialwright/scenarios/paired"
)

// perDoubling is how many bins of a histogram there are to every doubling, as a power of two.
const perDoubling = 8

// Resolution is how far a quantile of a histogram may lie from that of its numbers,
// as a share of it: half a bin, and bins are at most 1/256 of what they hold wide.
const Resolution = 1.0 / 512

// Histogram counts whole numbers in bins whose width grows with what they hold: up to
// 511 each number has one of its own, above that a bin is at most 1/256 of its numbers
// wide. Bins are the same for all histograms, so that those of parts add up to that of
// the whole, bin by bin and exactly, in any order. The zero value is empty.
type Histogram struct {
	pages []*page // of the bins from 0 on; nil where nothing was counted
	n     uint64
	finer int // by how many powers of two there are more bins to every doubling
}

// page is bins that are kept together: what is counted lies in a few places.
type page [256]uint64

// binOf returns the bin of a number.
func (h *Histogram) binOf(x uint64) int {
	power := perDoubling + h.finer
	up := max(0, bits.Len64(x)-power-1)
	return up<<power + int(x>>up)
}

// span returns the smallest number of a bin and how many numbers it holds.
func (h *Histogram) span(bin int) (low, width uint64) {
	power := perDoubling + h.finer
	if bin < 2<<power {
		return uint64(bin), 1
	}
	up := bin>>power - 1
	return uint64(bin-up<<power) << up, 1 << up
}

// Fine returns a histogram, empty, in which each number up to 131,071 has a bin of its
// own, and a bin above that is at most 1/65,536 of its numbers wide.
func Fine() Histogram { return Histogram{finer: 8} }

// Counts returns what was counted, times a unit.
func (h *Histogram) Counts(unit float64) paired.Counts {
	var c paired.Counts
	for bin, n := range h.Bins() {
		c = append(c, paired.Count{Value: unit * float64(h.middle(bin)), N: int(n)})
	}
	return c
}

// middle returns the number that stands for those of a bin.
func (h *Histogram) middle(bin int) uint64 {
	low, width := h.span(bin)
	return low + (width-1)/2
}

// Add counts a number.
func (h *Histogram) Add(x uint64) { h.count(h.binOf(x), 1) }

// count adds to a bin.
func (h *Histogram) count(bin int, n uint64) {
	if n == 0 {
		return
	}
	i := bin / len(page{})
	for i >= len(h.pages) {
		h.pages = append(h.pages, nil)
	}
	if h.pages[i] == nil {
		h.pages[i] = new(page)
	}
	h.pages[i][bin%len(page{})] += n
	h.n += n
}

// Merge adds the counts of another histogram of the same bins.
func (h *Histogram) Merge(o *Histogram) {
	for bin, n := range o.Bins() {
		h.count(bin, n)
	}
}

// Len returns how many numbers were counted.
func (h *Histogram) Len() uint64 { return h.n }

// Bins are the bins that hold something with their counts, rising.
func (h *Histogram) Bins() iter.Seq2[int, uint64] {
	return func(yield func(int, uint64) bool) {
		for i, p := range h.pages {
			if p == nil {
				continue
			}
			for j, n := range p {
				if n > 0 && !yield(i*len(p)+j, n) {
					return
				}
			}
		}
	}
}

// Refill counts what Bins of another one gave. It says whether there is such a bin.
func (h *Histogram) Refill(bin int, n uint64) bool {
	if bin < 0 || bin > h.binOf(1<<64-1) {
		return false
	}
	h.count(bin, n)
	return true
}

// Quantile returns the number that per in a thousand lie at or below, of those counted
// the one of rank ⌈n·per/1000⌉: the middle of its bin, so it is off by at most
// [Resolution] of it. Of none it is 0.
func (h *Histogram) Quantile(per uint64) uint64 {
	high, low := bits.Mul64(h.n, per)
	low, carry := bits.Add64(low, 999, 0)
	rank, _ := bits.Div64(high+carry, low, 1000)
	seen := uint64(0)
	for bin, n := range h.Bins() {
		if seen += n; seen >= max(1, rank) {
			return h.middle(bin)
		}
	}
	return 0
}
