package sample

import "math/bits"

// Sum is a sum of whole numbers in 128 bits. Sums that are added up in any order and
// grouping are the same sum. The zero value is 0.
type Sum struct{ High, Low uint64 }

// Add adds a number.
func (s *Sum) Add(x uint64) { s.Merge(Sum{Low: x}) }

// AddSquare adds the square of a number.
func (s *Sum) AddSquare(x uint64) {
	high, low := bits.Mul64(x, x)
	s.Merge(Sum{high, low})
}

// Merge adds another sum.
func (s *Sum) Merge(o Sum) {
	var carry uint64
	s.Low, carry = bits.Add64(s.Low, o.Low, 0)
	s.High += o.High + carry
}

// Over returns the sum divided by a number, to the nearest whole one. What would not
// go into 64 bits is not for it.
func (s Sum) Over(n uint64) uint64 {
	s.Add(n / 2)
	quotient, _ := bits.Div64(s.High, s.Low, n)
	return quotient
}

// Float returns the sum as a real number.
func (s Sum) Float() float64 { return float64(s.High)*(1<<64) + float64(s.Low) }
