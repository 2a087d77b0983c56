// Package radio knows what is dialed on radios: channel names, navigation
// frequencies, beacons and amateur bands, and real changes from one to another.
//
// A pilot does not dial a frequency but its name. With 25 kHz spacing the two
// are the same number: 118.025 is 118.025 MHz. Where channels are 8.33 kHz
// apart, a name is a label on a grid of 5 kHz that a third of its places lacks
// or shares: 118.005 and 118.000 are the same carrier on different spacings,
// 118.010 is 118.0083 MHz, and 118.020 does not exist. One click of the knob is
// one name, so that a knob passes 16 names in 100 kHz and never 20.
//
// The package gives the tasks com-25, com-833, nav, ndb and tuning inside the
// amateur bands (hf-20m-50hz, …). The first four draw their trials from rows of
// real changes, 3000 each, sampled from the public-domain OurAirports tables:
// communication frequencies of one airport in the order of a flight, and
// stations less than 150 km apart. Which stations follow each other is a model
// made from those tables, not a record of what pilots did. Nothing here is for
// navigation.
//
// Left out: direct keypad entry, active and standby windows (a change is a
// change of the window that the knob turns), receivers that hide the names of
// one spacing.
package radio
