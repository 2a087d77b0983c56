package evidence

// span is a published range of a processing time, ms, around its middle (row A6).
type span struct{ low, middle, high float64 }

// The ranges of row A6.
var (
	perceiving = span{50, 100, 200}
	deciding   = span{25, 70, 170}
	acting     = span{30, 70, 100}
	correcting = span{105, 240, 470} // all three in a row
)

func (s span) holds(ns int64) bool { return float64(ns) >= 1e6*s.low && float64(ns) <= 1e6*s.high }
