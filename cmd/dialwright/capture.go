package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"dialwright/encoder/recording"
	"dialwright/scenarios"
	"dialwright/scenarios/columns"
	"dialwright/scenarios/file"
)

func newCapture(s streams) *cobra.Command {
	k := capture{}
	var atMost string
	c := &cobra.Command{
		Use:   "capture [DEVICE|-]",
		Short: "Record what a knob does",
		Long: `Capture records one knob and nothing else. It finds out which controls the knob
moves by asking for a turn one way and a turn back; --control names them instead.
Events of all other controls are dropped as they come: what is typed on the same
device is never stored.

From a device it then asks for one slow turn, three fast turns each way, and ten
times dialing and stopping, and marks them in the recording. --guided=false
records what comes instead, until Ctrl-C or for --time.

DEVICE is an event device of Linux, or a pipe or file; - is standard input. A
stream holds records of an event device, of whatever system, or one of the other
recordings that fit reads. Without DEVICE, the devices of this system are listed.`,
		Example: `  dialwright capture
  dialwright capture /dev/input/event5 --output knob.csv
  dialwright capture /dev/input/event5 --control btn288,btn289 --guided=false --time 60s
  ssh desk cat /dev/input/event5 | dialwright capture - --output knob.csv`,
		Args: cobra.MaximumNArgs(1),
	}
	f := c.Flags()
	f.StringArrayVar(&k.controls, "control", nil, "the knob: a wheel, dial or axis, or two buttons or keys, clockwise first;\nand its push button (btn288,btn289,btn290); repeatable")
	f.BoolVar(&k.guided, "guided", true, "ask for the turns of a session and end after them; from a stream only when given")
	f.StringVar(&atMost, "time", "", "end after so much recording (60s)")
	k.output = newOutput(s, c, "csv")
	c.RunE = func(c *cobra.Command, args []string) error {
		var read file.Loader
		if err := k.check(&read); err != nil {
			return err
		}
		if len(args) == 0 {
			for _, flag := range []string{"control", "guided", "time"} {
				if f.Changed(flag) {
					return fmt.Errorf("--%s: of which device? dialwright capture without flags lists them", flag)
				}
			}
			return k.write(false, listDevices)
		}
		var err error
		if k.Knob, err = namedKnob(k.controls); err != nil {
			return fmt.Errorf("--control: %w", err)
		}
		if atMost != "" {
			if k.Most, err = captureTime(atMost); err != nil {
				return fmt.Errorf("--time: %w", err)
			}
		}
		if err = read.Readable(args[0]); err != nil {
			return err
		}
		return k.run(c.Context(), args[0], f.Changed("guided"))
	}
	return c
}

// capture is the command with its flags.
type capture struct {
	*output
	recording.Capture
	controls []string
	guided   bool
}

// namedKnob is the knob that --control names; without names the zero Knob, which
// is learned.
func namedKnob(flags []string) (recording.Knob, error) {
	if flags == nil {
		return recording.Knob{}, nil
	}
	names := strings.Split(strings.Join(flags, ","), ",")
	for i := range names {
		names[i] = strings.TrimSpace(names[i])
	}
	return recording.NewKnob(names...)
}

func captureTime(text string) (int64, error) {
	d, err := scenarios.ParseTime(text)
	if err == nil && (d <= 0 || d > 24*time.Hour) {
		err = fmt.Errorf("%s; a time above 0 and up to 24 h would do", text)
	}
	return d.Nanoseconds(), err
}

// run records and writes what was recorded.
func (k *capture) run(ctx context.Context, name string, guidedGiven bool) error {
	from, err := openAside(ctx, name, k.in)
	if err != nil {
		return err
	}
	defer from.Close()
	coach := newCoach(k.output)
	k.Live = from.live
	k.Guided = k.guided && (from.device || guidedGiven)
	if k.Guided && !guidedGiven && coach.w == nil {
		return errors.New("nobody would see what the guided session asks for; standard error on a terminal and no --quiet, or --guided=false, would do")
	}
	j := &journal{}
	to := recording.NewWriter(k.out, from.Device)
	if k.path != "" && k.path != "-" {
		if j, err = newJournal(k.path); err != nil {
			return failure{fmt.Errorf("cannot write the recording: %w", err)}
		}
		to = recording.NewWriter(j.File, from.Device)
		if j.lasts {
			to = recording.NewJournal(j.File, from.Device)
		}
	}
	var last recording.Notice
	k.Notice = func(n recording.Notice) {
		last = n
		j.rest(n.Events)
		coach.tell(n)
	}
	coach.guided = k.Guided
	err = k.Run(ctx, from.Reader, to)
	coach.end(last)
	interrupted := err != nil && ctx.Err() != nil
	// Ctrl-C is how a recording ends that nothing else ends, so its result is as
	// whole as it can be. Half a session is not, and replaces nothing.
	whole := last.Events > 0 && (err == nil && last.Step.Name == "" || interrupted && !k.Guided)
	path, e := j.end(last.Events > 0, whole)
	switch {
	case e != nil:
		return failure{fmt.Errorf("cannot write the recording: %w", e)}
	case last.Events == 0 && interrupted:
		return context.Canceled
	case last.Events == 0:
		return failure{errors.Join(err, k.nothing(last))}
	case path != "" && path != k.path:
		fmt.Fprintf(printed(k.err), "what was recorded: %s\n", columns.Line(path))
	}
	coach.next(path)
	switch {
	case interrupted:
		return errInterrupted
	case err != nil:
		return failure{err}
	case last.Step.Name != "":
		return failure{fmt.Errorf("the guided session ended after %d of %d steps; what was recorded is written and marked as partial",
			len(last.Done), len(recording.Steps()))}
	}
	return nil
}

// nothing says why a capture that was not interrupted has no event.
func (k *capture) nothing(n recording.Notice) error {
	switch {
	case n.Lesson != recording.Learned:
		return errors.New("the knob was not learned; turning it some ten detents one way, a rest of a second, and as many back would do, " +
			"or --control and the controls that it moves")
	case k.controls == nil:
		return fmt.Errorf("the knob was learned (%s), but was not moved after that", knobText(n.Knob))
	}
	return fmt.Errorf("nothing of %s was recorded, while other controls had %d events; without --control the knob is learned from being turned",
		knobText(n.Knob), n.Others)
}

// captured is a source that is recorded from.
type captured struct {
	*recording.Reader
	live   bool // time passes while nothing comes
	device bool
}

// openAside opens a source, which may wait for somebody to write, without keeping
// Ctrl-C waiting.
func openAside(ctx context.Context, name string, in io.Reader) (captured, error) {
	var c captured
	var err error
	if e := file.Aside(ctx, func() error { c, err = openCaptured(name, in); return nil }); e != nil {
		return captured{}, e
	}
	if err != nil && ctx.Err() != nil {
		return captured{}, context.Canceled // whoever wrote was interrupted too
	}
	if quiet := columns.Line(name); err != nil && quiet != name {
		err = failure{errors.New(strings.ReplaceAll(err.Error(), name, quiet))}
	}
	return c, err
}

func openCaptured(name string, in io.Reader) (captured, error) {
	if name == "-" {
		return openStream("standard input", in)
	}
	i, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist), err == nil && i.Mode()&fs.ModeCharDevice != 0:
		r, err := recording.OpenDevice(name)
		return captured{r, true, true}, err
	case err != nil:
		return captured{}, err
	case i.IsDir():
		return captured{}, failure{fmt.Errorf("%s: this is a directory; an event device, a pipe or a file would do", columns.Line(name))}
	}
	f, err := os.Open(name)
	if err != nil {
		return captured{}, err
	}
	return openStream(name, f)
}

// openStream reads a pipe as it comes and a file as it is.
func openStream(name string, in io.Reader) (captured, error) {
	if f, ok := in.(*os.File); ok {
		if isTerminal(f) {
			return captured{}, fmt.Errorf("%s: this is a terminal; a recording or the records of an event device, piped in, would do", name)
		}
		if i, err := f.Stat(); err == nil && i.Mode().IsRegular() {
			r, err := recording.NewReader(f, name)
			return captured{Reader: r}, err
		}
	}
	r, err := recording.NewStream(in, name)
	return captured{Reader: r, live: true}, err
}

// listDevices lists the devices of this system and says what to do next.
func listDevices(w io.Writer) error {
	devices, err := recording.Devices()
	if err != nil {
		return printNoDevice(w, err)
	}
	return printDevices(w, devices)
}

// printNoDevice says what to do where there is no device to record.
func printNoDevice(w io.Writer, why error) error {
	var p columns.Page
	p.Text(strings.TrimPrefix(why.Error(), "recording: "))
	p.Text("")
	p.Text("A knob on a Linux system that one can log in to, here called desk:")
	p.Text("    ssh desk cat /dev/input/event5 | dialwright capture - --output knob.csv")
	p.Text("A recording made elsewhere (the records of an event device, evemu, libinput, a trace of the contacts, " +
		"JSON lines of a browser page, or CSV with the header time_s,control,event):")
	p.Text("    dialwright fit knob.csv")
	p.Text("Without a recorder, the count test:")
	p.Text("    dialwright fit --count 'turned 48 in 1.6s shown 31'")
	return p.Print(w, columns.Width)
}

func printDevices(w io.Writer, devices []recording.Listed) error {
	var p columns.Page
	var like string
	refused := 0
	for _, d := range devices {
		switch {
		case errors.Is(d.Err, fs.ErrPermission):
			refused++
			p.Text(d.Path + ": may not be read by you")
		case d.Err != nil:
			p.Text(d.Path + ": " + strings.TrimPrefix(d.Err.Error(), "recording: "))
		default:
			p.Text(d.Path + ": " + d.Name)
			p.Text("    " + abilities(d))
			if like == "" && (len(d.Turns) > 0 || d.Buttons > 0) {
				like = d.Path
			}
		}
	}
	p.Text("")
	if refused > 0 {
		p.Text(fmt.Sprintf("%d of %d may not be read. The group that owns them, most often input, may; join it and log in again:", refused, len(devices)))
		p.Text("    sudo usermod -aG input $USER")
		p.Text("Or, for once:")
		p.Text("    sudo dialwright capture DEVICE --output knob.csv")
	}
	switch {
	case like != "":
		p.Text("Record the one with your knob, such as:")
		p.Text("    dialwright capture " + like + " --output knob.csv")
	case refused < len(devices):
		p.Text("None that may be read has a wheel, an axis or a button. If your knob types keys, record its keyboard:")
		p.Text("    dialwright capture DEVICE --output knob.csv")
	}
	return p.Print(w, columns.Width)
}

// abilities says what a device has.
func abilities(d recording.Listed) string {
	var has []string
	if len(d.Turns) > 0 {
		has = append(has, strings.Join(d.Turns, ", "))
	}
	for _, c := range []struct {
		n    int
		what string
	}{{d.Buttons, "button"}, {d.Keys, "key"}} {
		if c.n == 1 {
			has = append(has, "1 "+c.what)
		} else if c.n > 1 {
			has = append(has, fmt.Sprintf("%d %ss", c.n, c.what))
		}
	}
	if d.RepeatPeriod > 0 {
		has = append(has, fmt.Sprintf("key repeat after %s, then every %s", scenarios.Spoken(time.Duration(d.RepeatDelay)), scenarios.Spoken(time.Duration(d.RepeatPeriod))))
	}
	if has == nil {
		return "nothing that a knob moves"
	}
	return strings.Join(has, "; ")
}

// knobText names the controls of a knob.
func knobText(k recording.Knob) string {
	way := func(t recording.Direction) string {
		return t.Control + map[int64]string{1: " up", -1: " down"}[t.Sign]
	}
	text := way(k.Clockwise) + " clockwise, " + way(k.Counter) + " counter-clockwise"
	if k.Push != "" {
		text += ", pushed " + k.Push
	}
	return text
}
