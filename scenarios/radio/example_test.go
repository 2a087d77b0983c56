package radio_test

import (
	"fmt"

	"dialwright/scenarios"
	"dialwright/scenarios/radio"
)

// Three clicks up from 118.010: 118.015, 118.025 and 118.030, because there is
// no 118.020.
func Example() {
	com := radio.COM833()
	at, _ := com.Index(118_010 * scenarios.Unity)
	for range 3 {
		at = com.Scale().Add(at, 1)
		channel, _ := radio.ChannelNamed(com.At(at))
		fmt.Printf("%v kHz is sent on %d Hz\n", channel.Name, channel.Carrier)
	}
	// Output:
	// 118015 kHz is sent on 118016667 Hz
	// 118025 kHz is sent on 118025000 Hz
	// 118030 kHz is sent on 118025000 Hz
}

// A hand-off on one knob and on two rings.
func ExampleCOM25() {
	com := radio.COM25()
	from, _ := com.Index(118_800 * scenarios.Unity)
	to, _ := com.Index(124_600 * scenarios.Unity)
	fmt.Println("one ring: ", com.Clicks(from, to, 1), "clicks")
	fmt.Println("two rings:", com.Clicks(from, to, 2), "clicks")
	// Output:
	// one ring:  232 clicks
	// two rings: 14 clicks
}
