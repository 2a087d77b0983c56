package part

import (
	_ "embed" // for the table
	"math"
	"strconv"
	"sync"
	"time"

	"dialwright/encoder"
)

// System is an operating system, or a layer of one, and the key repeat that it
// comes with.
type System struct {
	Name   string // as in a rig file: "windows"
	Full   string // as in the table
	Repeat encoder.Repeat
	Status string // SEEN, SEEN-WEAK (a user's note) or MEMORY (not read)
	Source string
}

// names of the rows of the table, in its order.
var systemNames = []string{
	"linux", "linux-keyboard", "kbdrate", "bios", "ps2", "x-server", "sway", "weston",
	"gnome", "windows", "macos", "macos-old", "macos-fastest", "kde",
}

//go:embed systems.csv
var defaults string

// Systems returns the default key repeats.
var Systems = sync.OnceValue(func() []System {
	t := read(defaults)
	systems := make([]System, len(t.rows))
	for i, row := range t.rows {
		systems[i] = System{
			Name: systemNames[i], Full: t.at(row, "system"),
			Repeat: encoder.Repeat{
				Delay: milliseconds(t.at(row, "delay_ms")),
				Rate:  rate(t.at(row, "period_ms"), t.at(row, "rate_per_s")),
			},
			Status: t.at(row, "status"), Source: t.at(row, "source"),
		}
	}
	return systems
})

// SystemNames returns the names of the systems.
func SystemNames() []string { return namesOf(Systems(), func(s System) string { return s.Name }) }

// SystemNamed returns the system with a name.
func SystemNamed(name string) (System, bool) {
	return find(Systems(), func(s System) bool { return s.Name == name })
}

// rate takes whichever of the two columns is exact: a system sets either a period
// in whole milliseconds or a rate.
func rate(period, perSecond string) encoder.PerSecond {
	if ms, err := strconv.Atoi(period); err == nil {
		return encoder.PerSecond(1000 / float64(ms))
	}
	r, _ := strconv.ParseFloat(perSecond, 64)
	return encoder.PerSecond(r)
}

func milliseconds(s string) time.Duration {
	ms, _ := strconv.ParseFloat(s, 64)
	return time.Duration(math.Round(ms * float64(time.Millisecond)))
}

// WindowsSpeed returns the key repeat of a Windows keyboard setting: speed 0 to
// 31, delay 0 to 3. Its ends are documented (2.5 and 30 per s); between them the
// rate may be 20 % off the straight line taken here
// (SystemParameters.KeyboardSpeed).
func WindowsSpeed(speed, delay int) encoder.Repeat {
	return encoder.Repeat{
		Delay: time.Duration(delay+1) * 250 * time.Millisecond,
		Rate:  encoder.PerSecond(2.5 + 27.5*float64(speed)/31),
	}
}
