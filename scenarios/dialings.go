package scenarios

import (
	"time"

	"dialwright/encoder"
)

// Dialings are numbers that a person has dialed on the workbench's page: which, with
// what setting, every click of the knob, and what the screen showed. They are the first
// data of their kind, so the file says all that a replay needs and nothing of who dialed,
// when, or where.
//
// # The file
//
// JSON Lines in UTF-8, one object a line, every key known, none repeated; ours. Keys end
// in their unit. Numbers to dial are counted in steps above the first of the range, times
// from the instant at which the target appeared. The first line says with what:
//
//	{"kind":"dialings","version":1,
//	 "device":{"kind":"hid","name":"desk knob","clicks_per_turn":24},
//	 "rates":{"stamp_ms":0.1,"poll_ms":8,"screen_per_s":60},
//	 "program":{"frames_per_s":30,"lag_ms":50},
//	 "tasks":{"heading":{"unit":"deg","low":1,"count":360,"wrap":true,"tolerance":0}},
//	 "settings":{"A":{"kind":"profile","version":1,"name":"plain"},"B":{…}}}
//
// device: how the clicks came, hid, gamepad, keys, wheel, drag or simulated; name, which
// may be left out, is what the product calls itself. rates, each of which may be left out
// where it is not known: the steps of the clicks' time stamps, how often the device is
// asked, how often the screen is drawn. program: the path from the click to the number,
// which costs nothing before the program; without frames_per_s the program takes each
// click as it comes. tasks: low is the first number in steps from zero, count how many
// there are, tolerance ± in steps. settings: profiles as `export --as json` writes them,
// of which only the acceleration counts; what else a profile sets has no place here,
// since the knob is the person's own. Settings that were tried against each other are
// named A and B.
//
// Every further line is a dialing:
//
//	{"task":"heading","setting":"A","pair":1,"order":2,"start":170,"target":124,
//	 "phase_ms":12.5,"events":[[812.4,-1],[874.1,-1]],"shown":[[895.833333,169],[929.166667,168]],
//	 "end_ms":2912.8,"outcome":"right"}
//
// pair: 0 is practice; the two dialings of a pair have the same task, start and target and
// another setting each, in the order 1 and 2. phase_ms: when a frame of the program came.
// events: clicks, clockwise > 0, in the order of time. shown: every new number on the
// screen. end_ms: when the person said that it was done, or when it ended otherwise.
// outcome: right, the number stood within the tolerance; wrong, the person said done and
// it did not; gave-up; away, the page was left. Only right ones are used for times.
type Dialings struct {
	Device   DialedWith
	Rates    DialedRates
	Program  DialedProgram
	Tasks    map[string]DialedTask
	Settings map[string]*Profile
	All      []Dialing
}

// DialedWith is the device on which numbers were dialed.
type DialedWith struct {
	Kind          string
	Name          string // of the product; may be empty
	ClicksPerTurn int
}

// DialedRates is how finely a page saw the knob and drew the number; 0 is not known.
type DialedRates struct {
	Stamp, Poll time.Duration
	Screen      encoder.PerSecond
}

// DialedProgram is the path from a click to the number.
type DialedProgram struct {
	Frames encoder.PerSecond // 0: each click as it comes
	Lag    time.Duration
}

// DialedTask is what a dialing needs to know of a task.
type DialedTask struct {
	Unit      string
	Scale     encoder.Scale
	Tolerance int64 // steps
}

// Dialing is one number that was dialed. Times count from the target's appearance.
type Dialing struct {
	Line          int // of the file
	Task, Setting string
	Pair          int // 0 is practice
	Order         int // 1, 2: which of its pair
	Start, Target int64
	Phase         time.Duration // a frame of the program came then
	Clicks        []DialedClick
	Shown         []encoder.Change
	End           time.Duration
	Outcome       Outcome
}

// DialedClick is so many clicks at once, clockwise > 0.
type DialedClick struct {
	At     time.Duration
	Clicks int64
}

// Outcome is how a dialing ended.
type Outcome uint8

// The outcomes.
const (
	Right  Outcome = iota // the number stood within the tolerance
	Wrong                 // the person said that it was done, and it was not
	GaveUp                // the person said so
	Away                  // the page was left
)

// String returns the word that a file uses.
func (o Outcome) String() string {
	if words := OutcomeWords(); int(o) < len(words) {
		return words[o]
	}
	return "unknown"
}

// OutcomeWords are the words for the outcomes, in their order.
func OutcomeWords() []string { return []string{"right", "wrong", "gave-up", "away"} }

// DeviceWords are the words for how clicks can come.
func DeviceWords() []string { return []string{"hid", "gamepad", "keys", "wheel", "drag", "simulated"} }

// Path returns the rig and the setup on which a dialing was dialed: clicks cost no time
// and none is lost before the program.
func (d *Dialings) Path(x *Dialing) (encoder.Setup, error) {
	rig := d.Rig()
	rig.Knob = encoder.Knob{Detents: 24, Cycles: 6} // one edge a click, so that they may come a microsecond apart
	rig.Firmware.Scan, rig.Firmware.Phase = time.Microsecond, encoder.PhaseAt(0)
	rig.USB = encoder.USB{Poll: time.Microsecond, Phase: encoder.PhaseAt(0)}
	rig.Program.Phase = encoder.PhaseAt(x.Phase)
	s := encoder.Setup{Rig: &rig, Scale: d.Tasks[x.Task].Scale}
	p := d.Settings[x.Setting]
	if !p.Acceleration.Plain() {
		var err error
		if s.Gain, err = p.Acceleration.Compile(); err != nil {
			return s, err
		}
		s.Home = p.Home
	}
	return s, nil
}

// Rig is a rig as the person had it, for simulated ones to turn: the knob, and a path that
// costs nothing before the program.
func (d *Dialings) Rig() encoder.Rig {
	rig := encoder.Default()
	rig.Name = "dialed"
	rig.Knob = encoder.Knob{Detents: d.Device.ClicksPerTurn, Cycles: d.Device.ClicksPerTurn}
	rig.Firmware.Debounce, rig.Firmware.Output = 1, encoder.Relative
	rig.Firmware.Scan = max(time.Microsecond, 2400*time.Microsecond/time.Duration(max(24, d.Device.ClicksPerTurn)))
	rig.USB = encoder.USB{Poll: 125 * time.Microsecond}
	if d.Rates.Poll > 0 {
		rig.USB.Poll = d.Rates.Poll
	}
	rig.System.Latency = 0
	rig.Program = encoder.Program{Sampling: encoder.Immediate}
	if d.Program.Frames > 0 {
		rig.Program = encoder.Program{Sampling: encoder.Events, Frames: d.Program.Frames}
	}
	rig.Display.Latency = d.Program.Lag
	return rig
}
