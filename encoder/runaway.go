package encoder

import (
	"fmt"
	"strings"
)

// A trial may cost so many events of a labour, and so many more for each detent. That is
// ours: ten times what contacts cost that chatter for 2 ms and are read every microsecond,
// and a few hundredths of a second of work. What leaves steps or pulses behind fills
// memory: there only the first detents of a trial allow so many, and all others as many as
// a rig has need of, so that a trial of a hundred thousand detents keeps 100 MB.
const (
	eventsATrial     = 1 << 18
	eventsADetent    = 1 << 12
	detentsThatAllow = 1 << 8
	eventsAnyDetent  = 1 << 6
)

// Runaway says that a trial was given up because it would never end, or not soon.
type Runaway struct {
	Rig    string
	Of     string   // what was given up, such as one trial
	Events int64    // that it may cost
	Keys   []string // of the rig or the profile, with their values, that are to blame
}

// Error names the keys.
func (r *Runaway) Error() string {
	return fmt.Sprintf("rig %q: cannot be computed: %s takes more than %d events, because of %s",
		r.Rig, r.Of, r.Events, strings.Join(r.Keys, ", "))
}

// labour is what may go on without end.
type labour uint8

const (
	chatter   labour = iota // readings of contacts that chatter
	counting                // counts and pulses of one detent
	repeating               // the system's key repeat
	holding                 // the program's own repeat
)

// spend adds events to what a labour has cost the trial. If it may not cost so much, the
// path is emptied, and the result is false.
func (p *Path) spend(events int64, on labour) bool {
	n := int64(len(p.detents))
	spent, most := &p.chattered, eventsATrial+eventsADetent*n
	if on != chatter {
		p.keeps = on
		spent, most = &p.kept, eventsATrial+eventsADetent*min(n, detentsThatAllow)+eventsAnyDetent*n
	}
	if *spent += events; *spent <= most {
		return true
	}
	*spent = most
	if p.runaway == nil {
		p.runaway = &Runaway{p.rig.Name, "one trial", most, p.blame(on)}
	}
	p.empty()
	return false
}

// Behind returns the keys that set most of what the trial has cost, with their values.
func (p *Path) Behind() []string {
	if p.chattered >= p.kept {
		return p.blame(chatter)
	}
	return p.blame(p.keeps)
}

// blame returns the keys that set how much of a labour there is.
func (p *Path) blame(on labour) []string {
	r := p.rig
	f := &r.Firmware
	var keys []string
	add := func(key string, value any) { keys = append(keys, fmt.Sprintf("%s %v", key, value)) }
	switch on {
	case chatter:
		add("knob.bounce", r.Knob.Bounce)
		add("firmware.scan", f.Scan)
		add("firmware.debounce", f.Debounce)
		return keys
	case counting:
		add("firmware.counts_per_detent", p.output.countsPerDetent)
		if p.output.gain != nil {
			keys = append(keys, "acceleration")
		}
		return keys
	case repeating:
		add("system.repeat.rate", fmt.Sprintf("%v/s", float64(r.System.Repeat.Rate)))
	case holding:
		add("program.hold.period", r.Program.Hold.Period)
	}
	// How long a press lasts: as long as the pulse, or from its report to that of its
	// release.
	if f.Hold > 0 {
		add("firmware.hold", f.Hold)
	} else {
		add("firmware.pulse", f.Pulse)
	}
	if r.USB.Poll > f.Pulse {
		add("usb.poll", r.USB.Poll)
	}
	if p.output.queue > 0 && f.Hold == 0 {
		add("firmware.queue", p.output.queue)
	}
	return keys
}
