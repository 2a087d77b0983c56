package radio

import (
	"sync"

	"dialwright/scenarios"
)

// The communication band, in names of kHz: 118.000 to 136.975 with 25 kHz and to
// 136.990 with 8.33 kHz spacing.
const (
	comFirst = 118_000
	comEnd   = 137_000 // no longer in it
)

// Spacing is how far the channels of a name's kind lie apart.
type Spacing uint8

// The spacings.
const (
	Spacing25  Spacing = iota // 25 kHz
	Spacing833                // 8.33 kHz, a third of 25
)

// Channel is a communication channel: what is dialed and what is sent.
type Channel struct {
	Name    scenarios.Amount // kHz
	Carrier int64            // Hz, rounded to the nearest: 118.010 is sent on 118 008 333
	Spacing Spacing
	Twin    scenarios.Amount // the name of the other spacing on the same carrier; 0 where there is none
}

// ChannelNamed returns the channel with a name in kHz, or false where there is
// no such name. Of each 25 kHz the names +0 (25 kHz spacing), +5, +10 and +15
// (8.33 kHz spacing) exist and +20 does not, so that none ends in 20, 45, 70 or
// 95 (ICAO Annex 10 Vol V Table 4-1 (bis), from memory, spot-checked).
func ChannelNamed(name scenarios.Amount) (Channel, bool) {
	n := int64(name / scenarios.Unity)
	if name%scenarios.Unity != 0 || n < comFirst || n >= comEnd {
		return Channel{}, false
	}
	of25 := n / 25 * 25
	c := Channel{Name: name, Carrier: 1000 * of25, Spacing: Spacing833}
	switch n - of25 {
	case 0:
		c.Spacing, c.Twin = Spacing25, kHz(of25+5)
	case 5:
		c.Twin = kHz(of25)
	case 10:
		c.Carrier += 8_333
	case 15:
		c.Carrier += 16_667
	default:
		return Channel{}, false
	}
	return c, true
}

// channelNames are the 3040 names, rising.
var channelNames = sync.OnceValue(func() (names []scenarios.Amount) {
	for n := int64(comFirst); n < comEnd; n += 5 {
		if _, ok := ChannelNamed(kHz(n)); ok {
			names = append(names, kHz(n))
		}
	}
	return names
})

// COM25 is the communication radio with 25 kHz spacing: 760 names, 40 in a MHz,
// so that the outer of two rings dials MHz. Beyond the last name comes the
// first (common practice). It draws the hand-offs whose two names it has.
func COM25() *scenarios.Task {
	return &scenarios.Task{
		Name: "com-25", Title: "communication radio, 118.000 to 136.975 by 25 kHz, 760 names",
		Source: "names ICAO Annex 10 Vol V Table 4-1 (bis), from memory, spot-checked; hand-offs sampled from OurAirports, their order a model",
		Unit:   "kHz", From: kHz(comFirst), To: kHz(comEnd - 25), Step: kHz(25), Wrap: true, PerOuter: 40,
		Start:  scenarios.Distribution{Pairs: handOffs25()},
		Target: scenarios.Distribution{Pairs: handOffs25()},
	}
}

// COM833 is the communication radio with 8.33 kHz spacing and the names of 25
// kHz among them: 3040 names, 160 in a MHz. Beyond the last name comes the first
// (common practice). It draws all hand-offs.
func COM833() *scenarios.Task {
	names := channelNames()
	return &scenarios.Task{
		Name: "com-833", Title: "communication radio, 118.000 to 136.990, 3040 names of 8.33 and 25 kHz spacing",
		Source: "names ICAO Annex 10 Vol V Table 4-1 (bis), from memory, spot-checked; hand-offs sampled from OurAirports, their order a model",
		Unit:   "kHz", From: names[0], To: names[len(names)-1], Named: names, Called: "channel name", Wrap: true, PerOuter: 160,
		Start:  scenarios.Distribution{Pairs: HandOffs().Pairs},
		Target: scenarios.Distribution{Pairs: HandOffs().Pairs},
	}
}

// handOffs25 are the rows of HandOffs whose two names have 25 kHz spacing.
var handOffs25 = sync.OnceValue(func() (pairs []scenarios.Pair) {
	for _, p := range HandOffs().Pairs {
		from, _ := ChannelNamed(p.From)
		to, _ := ChannelNamed(p.To)
		if from.Spacing == Spacing25 && to.Spacing == Spacing25 {
			pairs = append(pairs, p)
		}
	}
	return pairs
})

func kHz(n int64) scenarios.Amount { return scenarios.Amount(n) * scenarios.Unity }
