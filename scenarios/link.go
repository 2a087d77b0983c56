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

// OperatingSystem is its constant latency: nothing that anybody sets, so that no study
// makes it ideal; it is only warned of.
const OperatingSystem = Links

var linkNames = [Links + 1]string{"contact and scan", "pulses and queue", "USB poll", "key repeat", "program sampling", "display lag", "acceleration", "operating system"}

// String returns the link's name.
func (l Link) String() string { return linkNames[l] }
