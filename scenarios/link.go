package scenarios

// Link is a stage of the path as something to blame.
type Link int

// The links, in the order of the path; acceleration, which lives in several places,
// last.
const (
	ContactAndScan Link = iota
	PulsesAndQueue
	USBPoll
	KeyRepeat
	ProgramSampling
	DisplayLag
	Acceleration
	Links // how many there are
)

var linkNames = [Links]string{"contact and scan", "pulses and queue", "USB poll", "key repeat", "program sampling", "display lag", "acceleration"}

// String returns the link's name.
func (l Link) String() string { return linkNames[l] }
