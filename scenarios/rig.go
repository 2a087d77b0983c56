package scenarios

import "dialwright/encoder"

// Rig is a rig and what its owner can change of it.
type Rig struct {
	encoder.Rig
	Adjustable Adjustable
}

// Adjustable is what the owner of a rig can change.
type Adjustable struct {
	Settings []Range
	Homes    []Home   // where an acceleration may live
	Curves   []string // which curves it may have
}

// Range is a setting and the values that it may take: From, To and By as they
// are written in a rig file, or a list.
type Range struct {
	Key          string
	From, To, By string
	Values       []string
}
