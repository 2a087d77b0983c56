package sample

import (
	"iter"
	"math/bits"
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
	counts []uint64 // of the bins from first on
	first  int
	n      uint64
}

// binOf returns the bin of a number.
func binOf(x uint64) int {
	up := max(0, bits.Len64(x)-perDoubling-1)
	return up<<perDoubling + int(x>>up)
}

// span returns the smallest number of a bin and how many numbers it holds.
func span(bin int) (low, width uint64) {
	if bin < 2<<perDoubling {
		return uint64(bin), 1
	}
	up := bin>>perDoubling - 1
	return uint64(bin-up<<perDoubling) << up, 1 << up
}

// Add counts a number.
func (h *Histogram) Add(x uint64) { h.count(binOf(x), 1) }

// count adds to a bin.
func (h *Histogram) count(bin int, n uint64) {
	switch {
	case n == 0:
		return
	case h.counts == nil:
		h.first, h.counts = bin, make([]uint64, 1, 64)
	case bin < h.first:
		h.counts = append(make([]uint64, h.first-bin, h.first-bin+len(h.counts)), h.counts...)
		h.first = bin
	}
	for bin-h.first >= len(h.counts) {
		h.counts = append(h.counts, 0)
	}
	h.counts[bin-h.first] += n
	h.n += n
}

// Merge adds the counts of another histogram.
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
		for i, n := range h.counts {
			if n > 0 && !yield(h.first+i, n) {
				return
			}
		}
	}
}

// Refill counts what Bins of another one gave. It says whether there is such a bin.
func (h *Histogram) Refill(bin int, n uint64) bool {
	if bin < 0 || bin > binOf(1<<64-1) {
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
			from, width := span(bin)
			return from + (width-1)/2
		}
	}
	return 0
}
