package fit

import "fmt"

// Value is one quantity that a fit looked for.
type Value struct {
	Key   string  // of a rig or operator file, such as firmware.pulse; or what it is, such as burst
	Unit  string  // ms, s, per_s, deg, deg_per_s, detents, share; empty for words
	Word  string  // the value where it is a word
	Value float64 // in Unit
	Low   float64 // what the recording allows, in Unit: about 95 %; also of an unknown value, if it says that much
	High  float64
	Known bool
	Why   string // what it rests on, or why it is unknown

	Carried []string // of a sum: the keys of an operator file that are set so that it holds
}

// known makes a value that was identified.
func known(key, unit string, v, low, high float64, why string, args ...any) Value {
	return Value{Key: key, Unit: unit, Value: v, Low: min(low, v), High: max(high, v), Known: true, Why: fmt.Sprintf(why, args...)}
}

// word makes a value that is a word.
func word(key, w, why string, args ...any) Value {
	return Value{Key: key, Word: w, Known: true, Why: fmt.Sprintf(why, args...)}
}

// unknown makes a value that could not be identified.
func unknown(key, unit, why string, args ...any) Value {
	return Value{Key: key, Unit: unit, Why: fmt.Sprintf(why, args...)}
}

// Values are the quantities of a rig or a person, in the order of the path.
type Values []Value

// Get returns the value with a key.
func (vs Values) Get(key string) (Value, bool) {
	for _, v := range vs {
		if v.Key == key {
			return v, true
		}
	}
	return Value{}, false
}

// has says whether a value is known.
func (vs Values) has(key string) bool {
	v, _ := vs.Get(key)
	return v.Known
}
