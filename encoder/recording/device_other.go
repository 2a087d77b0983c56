//go:build !linux || !(386 || amd64 || arm || arm64 || loong64 || riscv64 || s390x)

package recording

import "errors"

// errElsewhere says what to do on a system whose devices are not read.
var errElsewhere = errors.New("recording: capture reads the event devices of Linux on common processors only. Here, let a browser page log the buttons " +
	`(navigator.getGamepads()) or the raw reports (WebHID) as JSON lines, such as {"t_ms":12.5,"buttons":[0,1]}, ` +
	"or a microcontroller print time_us,a,b of the two contacts, and give that file to fit")

// Devices lists the event devices of this system; here it says that it cannot.
func Devices() ([]Listed, error) { return nil, errElsewhere }

// OpenDevice opens an event device; here it says what to do instead.
func OpenDevice(path string) (*Reader, error) { return nil, errElsewhere }
