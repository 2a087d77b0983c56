package file

import (
	"fmt"
	"slices"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/part"
	"dialwright/scenarios"
)

// Template says what a new file starts from.
type Template struct {
	Kind   string // rig, panel, profile, task, operator or population
	Name   string // "" is one of the template's
	Part   string // of a rig: a preset such as 15x30
	System string // of a rig: a preset such as windows
	Output string // of a rig: buttons, keys, relative or axis
	Curve  string // of a profile
}

// New returns a commented file to fill in. It passes a check as it is.
func New(t Template) ([]byte, error) {
	if wrong := wrongText(t.Name); wrong != "" {
		return nil, fmt.Errorf("name: %s", wrong)
	}
	switch t.Kind {
	case "rig":
		return newRig(t)
	case "profile":
		return newProfile(t)
	case "panel":
		return []byte(fmt.Sprintf(panelTemplate, quoted(or(t.Name, "my panel")))), nil
	case "task":
		return []byte(fmt.Sprintf(taskTemplate, quoted(or(t.Name, "my number")))), nil
	case "operator":
		return newOperator(or(t.Name, "me")), nil
	case "population":
		return []byte(fmt.Sprintf(populationTemplate, quoted(or(t.Name, "those I serve")))), nil
	}
	return nil, fmt.Errorf("there is no template for %s; %s", scenarios.Shown(t.Kind), meant(t.Kind, Kinds))
}

// quoted returns a name as a YAML value.
func quoted(name string) string {
	b := builder{root: word("")}
	b.root.SetString(name)
	text, err := encode(b.root)
	if err != nil || strings.Count(string(text), "\n") != 1 {
		return fmt.Sprintf("%q", name)
	}
	return strings.TrimSuffix(string(text), "\n") // a name may end in a space of another kind
}

func newRig(t Template) ([]byte, error) {
	r := encoder.Default()
	var head []string
	for _, s := range []scenarios.Setting{{Key: "firmware.output", Value: t.Output}, {Key: "knob.part", Value: t.Part}, {Key: "system.repeat", Value: t.System}} {
		if s.Value == "" {
			continue
		}
		if err := scenarios.Set(&r, s.Key, s.Value); err != nil {
			return nil, err
		}
	}
	if t.System != "" && r.Firmware.Output != encoder.Keys {
		return nil, fmt.Errorf("a system's key repeat belongs to output keys; --device keys would do")
	}
	scenarios.Settle(&r)
	if p, ok := part.Named(t.Part); ok {
		head = append(head, fmt.Sprintf("# Part %s: %s (%s).", p.Name, p.Sheet, p.Source))
	}
	if s, ok := part.SystemNamed(t.System); ok {
		head = append(head, fmt.Sprintf("# Key repeat of %s (%s).", s.Full, s.Source))
	}
	var out strings.Builder
	out.WriteString("# A rig is everything between the fingers and the number on the screen.\n# Lines that begin with # are explanations, or keys that are absent as a rule.\n")
	for _, h := range head {
		out.WriteString(h + "\n")
	}
	fmt.Fprintf(&out, "kind: rig\nversion: 1\nname: %s\n", quoted(or(t.Name, "my knob")))
	group := ""
	for _, k := range scenarios.Describe() {
		if len(k.Presets) > 0 {
			continue
		}
		names := strings.Split(k.Name, ".")
		if names[0] != group {
			group = names[0]
			fmt.Fprintf(&out, "%s:\n", group)
		}
		value := scenarios.Get(&r, k.Name)
		key := strings.Join(names[1:], ".")
		switch {
		case !k.Used(&r):
			continue
		case together[k.Name] != "":
			fmt.Fprintf(&out, "  # %s\n", together[k.Name])
			continue
		case k.Name == "system.repeat.delay" && t.System != "":
			fmt.Fprintf(&out, "  repeat: %s\n", t.System)
			continue
		case k.Name == "system.repeat.rate" && t.System != "",
			len(names) == 3 && names[1] != "repeat" && names[1] != "axis":
			continue
		case value == "" || value == "none" && k.Name != "knob.detents" && k.Name != "system.repeat.rate":
			fmt.Fprintf(&out, "  # %s: %-12s %s\n", key, k.Example(), k.About)
		case len(names) == 3:
			if last := "\n  " + names[1] + ":\n"; !strings.Contains(out.String(), last) {
				fmt.Fprintf(&out, "  %s:\n", names[1])
			}
			fmt.Fprintf(&out, "    %-24s # %s\n", names[2]+": "+value, k.About)
		default:
			fmt.Fprintf(&out, "  %-26s # %s\n", key+": "+value, k.About)
		}
	}
	out.WriteString(`# What you can change of it, for dialwright tune: a range or a list for each key.
`)
	if r.Firmware.Output.Lines() {
		out.WriteString("adjustable:\n  firmware.pulse: {from: 10ms, to: 60ms, by: 5ms}\n  firmware.gap: {from: 10ms, to: 60ms, by: 5ms}\n  acceleration: {home: [program], curves: [ladder, power, logistic]}\n")
	} else {
		out.WriteString("adjustable:\n  acceleration: {home: [program], curves: [ladder, power, logistic]}\n")
	}
	return []byte(out.String()), nil
}

// newProfile has a curve with all its numbers.
func newProfile(t Template) ([]byte, error) {
	word := or(t.Curve, "power")
	i := slices.Index(accel.CurveWords(), word)
	if i < 0 {
		return nil, fmt.Errorf("there is no curve %s; %s", scenarios.Shown(word), meant(word, accel.CurveWords()))
	}
	text, err := Write(&scenarios.Profile{Name: or(t.Name, word+", in the program"), Acceleration: accel.Acceleration{Curve: accel.Curves()[i].Example}})
	if err != nil {
		return nil, err
	}
	body := strings.SplitAfterN(string(text), "\n", 4)
	return []byte(profileHead + strings.Join(body[:3], "") + profileSettings + strings.Replace(body[3], "acceleration:\n", "acceleration:\n"+profileKeys, 1)), nil
}

// newOperator has everything that there is to a person, as the practised one has it.
func newOperator(name string) []byte {
	o := scenarios.Practised()
	var out strings.Builder
	fmt.Fprintf(&out, "%skind: operator\nversion: 1\nname: %s\n", operatorHead, quoted(name))
	group := ""
	line := func(key, value, about string) {
		in, rest, deeper := strings.Cut(key, ".")
		if !deeper {
			rest, in = key, ""
		}
		indent := ""
		if deeper {
			indent = "  "
		}
		if in != group && in != "" {
			fmt.Fprintf(&out, "%s:\n", in)
		}
		group = in
		fmt.Fprintf(&out, "%s%-*s # %s\n", indent, 40-len(indent), rest+": "+value, about)
	}
	pair := func(mean, cv string) string { return "{mean: " + mean + ", cv: " + cv + "}" }
	for _, x := range delays(&o) {
		line(x.key, pair(scenarios.TimeText(x.to.Mean), share(x.to.CV)), x.about)
	}
	for _, x := range spreads(&o) {
		line(x.key, pair(x.q.Text(x.to.Mean), share(x.to.CV)), x.about)
	}
	for _, x := range mistakes(&o) {
		line(x.key, share(*x.to), x.about)
	}
	return []byte(out.String())
}

// together are the keys that are absent as a rule and stand for several.
var together = map[string]string{
	"firmware.coarse": "coarse: {above: 12/s, steps: 10}   a second pair of output lines",
	"program.hold":    "hold: {delay: 400ms, period: 100ms}   the program repeats by itself",
}

const operatorHead = `# An operator is the person at the knob. A mean is that of many people like it, cv
# how much they differ (standard deviation over mean). Keys that you leave out are
# those of the practised operator, which stand here.
`

const profileHead = "# A profile is what a person can set: settings of the rig, and the acceleration.\n"

const profileSettings = `# settings: {firmware.pulse: 40ms}   keys of the rig that this profile changes
# press: {coarse: 10}                a push makes a step count 10; needs knob.push
`

const profileKeys = `  # home: firmware     where it lives: program (larger steps) or firmware (more pulses)
  # base: 1            task steps of a slow detent
  # rate: {from: last, rest: 400ms, reversal: reset}   from: last, average, window
  # steps: carry       what becomes of fractions of a step: carry or round
  # landing: {above: 5}   above this gain the number lands on multiples of its steps
`

const panelTemplate = `# A panel says which knob serves which tasks, and how often each is done.
# Rigs and tasks are built-in names (dialwright list) or files beside this one.
kind: panel
version: 1
name: %s
knobs:
  - name: radio
    rings: 2                  # an outer ring for MHz, an inner one for kHz
    rig: {outer: left-pulse, inner: left-pulse}
    tasks:
      - {task: com-25, per_hour: 12}
  - name: autopilot
    rings: 1
    rig: left-pulse
    selector: true            # a button chooses what the knob dials
    tasks:
      - {task: heading, per_hour: 20}
      - {task: altitude, per_hour: 6}
`

const taskTemplate = `# A task is a number to dial.
kind: task
version: 1
name: %s
unit: deg
range: {from: 1, to: 360, ends: wrap}   # wrap or stop
step: 1                                 # what one detent at gain 1 adds
tolerance: 0                            # how far off is near enough, in the unit
limit: 300s                             # a trial that takes longer is a timeout
# outer: 10                             # what one detent of an outer ring adds
# channels: com-833                     # instead of range and step: the numbers of a built-in task
start: {uniform: {}}                    # uniform, list, pairs, near or move
target: {uniform: {multiples_of: 5, share: 80%%}}
`
