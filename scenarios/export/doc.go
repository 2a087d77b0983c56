// Package export writes a tuned profile so that it works outside: as a C99 header
// for a microcontroller, as an ES module, JSON or CSV for a program, as a card to keep
// beside the panel.
//
// The header holds the integers of a compiled acceleration (package accel) and the
// same arithmetic, operation by operation: no float, no heap, and a division only
// where a value lands on multiples. Its tick may wrap around. What the simulator
// said of a profile is therefore what the firmware does. What the header leaves out
// is everything before the count (bounce, scan, decoder) and after the steps
// (pulses, reports): those are the firmware's own.
//
// The module ([Module]) has the same integers and steps as the header, for a browser
// page or another program in JavaScript; its last part is the same for every profile
// and takes any gain.
//
// # On an 8-bit AVR
//
// An ATmega328P, avr-gcc 5.4 -Os, counted by simavr, over 400 detents at 5 to 54 ms
// with reversals and rests. On such a chip the tables stay in flash; RAM is the
// state of a knob. TestHeaderFitsAnAVR prints these lines anew:
//
//	                          flash, bytes  RAM, bytes  cycles a detent  at most
//	constant                           114           2                8       10
//	ladder                             360           9              164      229
//	ladder, landing above 5            584           9              776      873
//	power                              732           8              379      404
//	power, ticks of 1 us               744           8              379      405
//	power, average                    1076           8              876      949
//	power, window                      954          42              461      549
//
// Each further profile on the same chip takes about as much; further knobs take RAM
// only. A thousand cycles are 63 µs at 16 MHz.
package export
