package encoder

// Mode is one of the few ways in which a stage can work: an Output, a Sampling, …
// Its word is the one that a rig file uses. Modes count from 0 without a gap, so
// that lists of them come from the type.
type Mode interface {
	~uint8
	String() string
}

// beyond is the word of what is no mode.
const beyond = "unknown"

// Modes returns every mode of a type.
func Modes[M Mode]() (all []M) {
	for m := M(0); m.String() != beyond; m++ {
		all = append(all, m)
	}
	return all
}

// Words returns the word of every mode of a type.
func Words[M Mode]() (all []string) {
	for _, m := range Modes[M]() {
		all = append(all, m.String())
	}
	return all
}

func word[M ~uint8](m M, words ...string) string {
	if int(m) < len(words) {
		return words[m]
	}
	return beyond
}

// String returns the word for a decoder.
func (d Decoder) String() string { return word(d, "table", "edge") }

// String returns the word for an output.
func (o Output) String() string { return word(o, "buttons", "keys", "relative", "axis") }

// String returns the word for an overflow.
func (o Overflow) String() string { return word(o, "drop-new", "drop-old") }

// String returns the word for a reversal.
func (r Reversal) String() string { return word(r, "keep", "clear") }

// String returns the word for reports.
func (r Reports) String() string { return word(r, "state", "queued") }

// String returns the word for a sampling.
func (s Sampling) String() string { return word(s, "state", "events", "immediate") }

// String returns the word for an excess.
func (e Excess) String() string { return word(e, "carry", "drop") }

// String returns the word for repeats.
func (r Repeats) String() string { return word(r, "apply", "ignore") }

// String returns the word for a home.
func (h Home) String() string { return word(h, "program", "firmware") }

// Lines reports whether the output presses and releases lines, which polls, key
// repeat and frames then look at; the others report numbers.
func (o Output) Lines() bool { return o == Buttons || o == Keys }
