package radio

import "dialwright/scenarios"

// NAV is the navigation radio: 108.00 to 117.95 MHz by 50 kHz, 200 settings, 20
// in a MHz (FAA AIM 1-1-3, read). Beyond the last comes the first (common
// practice). It draws changes between VOR stations less than 150 km apart.
func NAV() *scenarios.Task {
	return &scenarios.Task{
		Name: "nav", Title: "navigation radio, 108.00 to 117.95 by 50 kHz, 200 settings",
		Source: "range FAA AIM 1-1-3; changes between near VOR stations sampled from OurAirports, their order a model",
		Unit:   "kHz", From: kHz(108_000), To: kHz(117_950), Step: kHz(50), Wrap: true, PerOuter: 20,
		Start:  scenarios.Distribution{Pairs: VORChanges().Pairs},
		Target: scenarios.Distribution{Pairs: VORChanges().Pairs},
	}
}

// IsLocalizer says whether a setting of NAV in kHz is a localizer's: the odd
// tenths of a MHz from 108.10 to 111.95, each with its 50 kHz neighbour (FAA AIM
// 1-1-3, read).
func IsLocalizer(setting scenarios.Amount) bool {
	return setting >= kHz(108_100) && setting <= kHz(111_950) &&
		setting%kHz(50) == 0 && setting/kHz(100)%2 == 1
}

// NDB is the receiver for non-directional beacons: 190 to 1750 kHz (FAA AIM
// 1-1-2, read) by 1 kHz (from memory). That it stops at the ends is ours. It
// draws changes between beacons less than 150 km apart.
func NDB() *scenarios.Task {
	return &scenarios.Task{
		Name: "ndb", Title: "beacon receiver, 190 to 1750 by 1 kHz",
		Source: "range FAA AIM 1-1-2; step from memory; changes between near beacons sampled from OurAirports, their order a model",
		Unit:   "kHz", From: kHz(190), To: kHz(1750), Step: kHz(1),
		Start:  scenarios.Distribution{Pairs: NDBChanges().Pairs},
		Target: scenarios.Distribution{Pairs: NDBChanges().Pairs},
	}
}
