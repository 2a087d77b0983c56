package follow

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"dialwright/encoder"
)

// columns is how many instants one row of the chart shows; with the names of the
// lanes it fits 80 columns.
const columns = 70

// rows is how many rows of the chart a turn should fit into.
const rows = 3

// Chart draws the turn as lanes over time. Every click has a letter that appears
// in the lane of each stage that it reached.
func (t *Turn) Chart(w io.Writer) error {
	end := t.end()
	per := time.Millisecond
	for _, ms := range []int{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		per = time.Duration(ms) * time.Millisecond
		if end <= rows*columns*per {
			break
		}
	}
	var out strings.Builder
	fmt.Fprintf(&out, "One column is %v. A click has a letter, shown in each lane it reached.\n", per)
	for from := time.Duration(0); from <= end; from += columns * per {
		out.WriteString("\n" + ruler(from, per))
		for _, l := range t.lanes() {
			line := strings.TrimRight(l.draw(from, per), " ")
			if line == "" && l.optional {
				continue
			}
			fmt.Fprintf(&out, "%-8s  %s\n", l.name, line)
		}
	}
	t.ends(&out)
	_, err := io.WriteString(w, out.String())
	return err
}

// letter names a detent in the chart.
func letter(detent int) byte {
	if detent < 0 {
		return '?'
	}
	const names = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
	return names[detent%len(names)]
}

func (t *Turn) end() time.Duration {
	end := time.Duration(0)
	for _, e := range t.Events {
		end = max(end, time.Duration(e.At))
	}
	return end
}

func ruler(from time.Duration, per time.Duration) string {
	line := []byte(strings.Repeat(" ", columns+10))
	for c := 0; c < columns; c += 10 {
		at := fmt.Sprint(int64((from + time.Duration(c)*per) / time.Millisecond))
		if 10+c+1+len(at) <= len(line) {
			line[10+c] = '|'
			copy(line[10+c+1:], at)
		}
	}
	copy(line, "ms")
	return strings.TrimRight(string(line), " ") + "\n"
}

// mark is a character of a lane at a time, or a run of them.
type mark struct {
	at, until time.Duration // until > at: '=' follows
	char      byte
}

type lane struct {
	name     string
	optional bool // left out where it is empty
	marks    []mark
}

// draw returns the lane's row; where several marks meet, the first is shown.
func (l lane) draw(from, per time.Duration) string {
	row := []byte(strings.Repeat(" ", columns))
	put := func(at time.Duration, c byte, over bool) {
		if i := int((at - from) / per); at >= from && i < columns && (row[i] == ' ' || over && row[i] == '=') {
			row[i] = c
		}
	}
	for _, m := range l.marks {
		put(m.at, m.char, true)
		for at := (m.at/per + 1) * per; at < m.until; at += per {
			put(at, '=', false)
		}
	}
	return string(row)
}

// lanes sorts the events of the turn by stage.
func (t *Turn) lanes() []lane {
	knob, count, wait, pulse := lane{name: "knob"}, lane{name: "count"}, lane{name: "waits", optional: true}, lane{name: "pulse", optional: true}
	poll, frame, value := lane{name: "poll"}, lane{name: "frame", optional: true}, lane{name: "value"}
	lost := lane{name: "lost", optional: true}
	down := -1 // the pulse that is open
	for _, e := range t.Events {
		m := mark{at: time.Duration(e.At), char: letter(e.Detent)}
		switch e.Kind {
		case encoder.Turned:
			knob.marks = append(knob.marks, m)
		case encoder.Counted:
			count.marks = append(count.marks, m)
		case encoder.Waits:
			wait.marks = append(wait.marks, m)
		case encoder.Pressed:
			if t.Fates == nil {
				m.char = "+-"[e.Line&1]
			}
			down = len(pulse.marks)
			pulse.marks = append(pulse.marks, m)
		case encoder.Released:
			if down >= 0 {
				pulse.marks[down].until = m.at
			}
		case encoder.Polled:
			m.char = '|'
			poll.marks = append(poll.marks, m)
		case encoder.Framed:
			m.char = '|'
			frame.marks = append(frame.marks, m)
		case encoder.Stepped:
			switch {
			case e.Cause == encoder.ByRepeat:
				m.char = '*'
			case e.Cause == encoder.ByHold:
				m.char = '#'
			case t.Fates == nil:
				m.char = '+'
			}
			value.marks = append(value.marks, m)
		case encoder.Lost:
			lost.marks = append(lost.marks, m)
		}
	}
	return []lane{knob, count, wait, pulse, poll, frame, value, lost}
}

// ends says where each click ended.
func (t *Turn) ends(out *strings.Builder) {
	out.WriteString("\n")
	a := t.Account
	if t.Fates == nil {
		fmt.Fprintf(out, "The firmware holds its line, so clicks are not matched to steps:\n%d detents, %d presses, held for %v, %d steps applied.\n",
			a.Detents, a.Presses, time.Duration(a.Held).Round(time.Millisecond), a.Steps)
		return
	}
	byFate := map[string][]byte{}
	var order []string
	for i, f := range slices.Backward(t.Fates) {
		name := f.String()
		if byFate[name] == nil {
			order = append(order, name)
		}
		byFate[name] = append(byFate[name], letter(i))
	}
	slices.Sort(order)
	slices.SortStableFunc(order, func(a, b string) int { return len(byFate[b]) - len(byFate[a]) })
	for _, name := range order {
		letters := byFate[name]
		slices.Reverse(letters)
		for i := 0; i < len(letters); i += 54 {
			head := fmt.Sprintf("%s %d", name, len(letters))
			if i > 0 {
				head = ""
			}
			fmt.Fprintf(out, "%-22s  %s\n", head, letters[i:min(i+54, len(letters))])
		}
	}
	extra := func(n int, what string) {
		if n > 0 {
			fmt.Fprintf(out, "%-22s  %s\n", fmt.Sprintf("extra steps %d", n), what)
		}
	}
	extra(a.Extra.Repeat, "by key repeat (*)")
	extra(a.Extra.Hold, "by the program's hold (#)")
	extra(a.Extra.Bounce, "by bounce or without a click of their own (?)")
	if n := a.IllegalTransitions; n > 0 {
		fmt.Fprintf(out, "%-22s  both contacts changed between two readings\n", fmt.Sprintf("illegal transitions %d", n))
	}
}
