package part

import (
	"fmt"
	"time"
)

// Speed is the signalling rate of a USB device.
type Speed uint8

// The speeds.
const (
	LowSpeed Speed = iota
	FullSpeed
	HighSpeed
)

// Speeds are the words for the speeds in a rig file, in the order of the
// constants.
var Speeds = []string{"low", "full", "high"}

// String returns the word for the speed.
func (s Speed) String() string {
	if int(s) < len(Speeds) {
		return Speeds[s]
	}
	return fmt.Sprintf("speed %d", uint8(s))
}

// Poll returns the time between two interrupt transfers to a device whose
// endpoint asks for bInterval (1 to 255): the host takes the next period that it
// can schedule. USB_ENDPOINT_DESCRIPTOR documentation.
func Poll(speed Speed, bInterval int) (time.Duration, error) {
	if bInterval < 1 || bInterval > 255 {
		return 0, fmt.Errorf("bInterval %d; 1 to 255 would do", bInterval)
	}
	switch speed {
	case LowSpeed:
		switch {
		case bInterval <= 15:
			return 8 * time.Millisecond, nil
		case bInterval <= 35:
			return 16 * time.Millisecond, nil
		}
		return 32 * time.Millisecond, nil
	case FullSpeed:
		period := time.Millisecond
		for n := min(bInterval, 32); n > 1; n /= 2 {
			period *= 2
		}
		return period, nil
	case HighSpeed:
		return 125 * time.Microsecond << (min(bInterval, 6) - 1), nil
	}
	return 0, fmt.Errorf("%v; low, full or high would do", speed)
}
