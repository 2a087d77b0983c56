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
