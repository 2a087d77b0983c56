package fit

import (
	"fmt"
	"slices"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
)

// RigFile returns the rig as a file. It says so where the fit does not replay.
func (r *Result) RigFile() ([]byte, error) {
	text, err := file.Write(&r.Rig)
	if err != nil {
		return nil, err
	}
	return append(comment(r.doubt()...), text...), nil
}

// OperatorFile returns the operator as a file that has only what was found, and
// what the operator that the fit started from has other than the practised one,
// whose values hold where a file has none. It says what rests on what, and so where
// the fit does not replay.
func (r *Result) OperatorFile() ([]byte, error) {
	text, err := file.Write(&r.Operator)
	if err != nil {
		return nil, err
	}
	practised := scenarios.Practised()
	usual, err := file.Write(&practised)
	if err != nil {
		return nil, err
	}
	anyhow := map[string]string{}
	for _, l := range keyed(usual) {
		anyhow[l.key] = l.text
	}
	says := r.doubt()
	keep := []string{"kind", "version", "name"}
	for _, v := range r.Hand {
		if !v.Known {
			continue
		}
		holds := ""
		if v.Carried != nil {
			keep = append(keep, v.Carried...)
			holds = "; " + strings.Join(v.Carried, ", ") + " set so that it holds"
		} else if _, ofFile := anyhow[v.Key]; ofFile {
			keep = append(keep, v.Key)
		} else {
			continue
		}
		says = append(says, fmt.Sprintf("%s: %s%s", v.text(), v.Why, holds))
	}
	if len(keep) == 3 {
		says = append(says, "nothing of the person was found")
	}
	from := r.Study.start()
	says = append(says, "what was not found is as of the "+from.Name+" operator")
	if r.Operator.FastDegPerS.Mean != from.FastDegPerS.Mean && !r.Hand.has("pace.fast") {
		says = append(says, "pace.fast was not found; it is not below pace.slow")
	}
	out, heading := comment(says...), ""
	for _, l := range keyed(text) {
		if !slices.Contains(keep, l.key) && anyhow[l.key] == l.text {
			continue
		}
		if l.heading != heading {
			heading = l.heading
			out = append(out, heading...)
		}
		out = append(out, l.text...)
	}
	return out, nil
}

// doubt is what a reader of a file of this fit must know before he believes it.
func (r *Result) doubt() []string {
	p := r.Replay
	switch {
	case r.Dialed != nil:
		return []string{"dialings: " + r.Dialed.counted(), "each half of them predicted from the other: " + r.Dialed.Verdict}
	case p == nil || p.Holds:
		return nil
	case p.Replays == 0:
		return []string{"not to be believed as it stands: " + p.Verdict}
	}
	return []string{"not to be believed: this fit " + p.Verdict}
}

// comment writes sentences as comments of a YAML file, a paragraph each.
func comment(sentences ...string) (text []byte) {
	for _, s := range sentences {
		for line := range strings.Lines(columns.Wrap("# "+strings.Join(strings.Fields(s), " "), columns.Width)) {
			text = append(text, "# "...)
			text = append(text, strings.TrimPrefix(strings.TrimSpace(line), "# ")...)
			text = append(text, '\n')
		}
	}
	return text
}

// keyedLine is a line of a file with its key, and the line of the heading above it.
type keyedLine struct{ key, text, heading string }

// keyed returns the lines of a file that file.Write wrote; keys below a heading have
// its name and a dot before them.
func keyed(text []byte) (lines []keyedLine) {
	heading := ""
	for line := range strings.Lines(string(text)) {
		key, value, _ := strings.Cut(strings.TrimSpace(line), ":")
		switch indented := line[0] == ' '; {
		case !indented && value == "":
			heading = line
			continue
		case !indented:
			heading = ""
		default:
			key = strings.TrimSuffix(heading, ":\n") + "." + key
		}
		lines = append(lines, keyedLine{key, line, heading})
	}
	return lines
}
