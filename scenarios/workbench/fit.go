package workbench

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"

	"dialwright/encoder/recording"
	"dialwright/scenarios/file"
	"dialwright/scenarios/fit"
)

// mostTurned is the largest --turned; more was turned by no hand.
const mostTurned = 1_000_000

// Fit finds out what a knob does, and its hand.
type Fit struct {
	Asked
	writeRig, writeOperator string   // files for what was found
	counts                  []string // count tests, as they are written
	dialed                  string   // file of dialings
	controls                []string
	turned                  int
}

// NewFit returns the fit of a simulated session.
func NewFit(l file.Loader) *Fit { return &Fit{Asked: NewAsked(l, 1)} }

// Command is how it is asked on a command line.
func (*Fit) Command() Command {
	return Command{
		Use:   "fit [RECORDING ...]",
		Short: "Find your rig and your hand from recordings and count tests",
		Long: `Fit finds out what a knob does: from a recording of its reports (dialwright capture,
evemu, libinput's recorder, raw event or joystick dumps, JSON lines of a browser page,
CSV), from a trace of its two contacts (CSV of a logic analyser), or from both, one of
each. What a recording does not show is said to be unknown. A fit is replayed, and
whether the replays look like the recording is printed.

Without a recorder, count: turn so many clicks in about such a time, slowly, briskly
and in a flick, with acceleration off, and say how far the number moved. That tells
which links may lose the clicks.

--dialed takes the numbers that you dialed on the page of dialwright serve. It finds
what they show of you, and says how well that predicts you: each half of the pairs as
the person fitted to the other half dials them.

Without arguments it fits a simulated session on the demo's rig left-pulse.`,
		Example: `  dialwright fit --count 'turned 24 in 12s shown 24' --count 'turned 24 in 2.4s shown 17'
  dialwright fit knob.csv --turned 144 --write-rig mine.yaml --write-operator me.yaml
  dialwright fit wheel.evemu --format json
  dialwright fit contacts.csv knob.csv
  dialwright fit --dialed dialings.jsonl --write-operator me.yaml`,
		Forms:   []string{"table", "markdown", "json"},
		Reports: []Reported{{"fit", fit.Report{}}},
	}
}

// Flags are what can be asked.
func (x *Fit) Flags() []Flag {
	return []Flag{
		{Name: "turned", Usage: "clicks really turned: in a session's fast turns, else in the whole recording", Value: &x.turned},
		{Name: "count", Usage: "a count test: 'turned 48 in 1.6s shown 31' (repeatable)", Value: &x.counts},
		{Name: "control", Usage: "the knob in the recording: a wheel, dial or axis, or two buttons or keys, clockwise first (btn288,btn289)", Value: &x.controls, Commas: true},
		{Name: "dialed", Usage: "what was dialed on the workbench's page (a file that it saved): finds the person, and how well he predicts you", Value: &x.dialed},
		x.rigFlag("rig to start from, for what does not show: a built-in name or a file"),
		x.operatorFlag("operator to start from: a built-in name or a file"),
		{Name: "write-rig", Usage: "write the rig to this file", Value: &x.writeRig, Writes: true},
		{Name: "write-operator", Usage: "write what was found of the person to this file", Value: &x.writeOperator, Writes: true},
		x.seedFlag(),
	}
}

// Check says what is wrong with the flags.
func (x *Fit) Check(args []string) error {
	if x.dialed != "" {
		return x.alone(args)
	}
	var faults []error
	if x.given("turned") && (x.turned < 1 || x.turned > mostTurned) {
		faults = append(faults, fmt.Errorf("--turned: %d; 1 to %d would do", x.turned, mostTurned))
	}
	for _, text := range x.counts {
		if _, err := fit.ParseCount(text); err != nil {
			faults = append(faults, fmt.Errorf("--count: %w", err))
		}
	}
	if x.turned > 0 && len(args) == 0 {
		faults = append(faults, errors.New("--turned goes with a recording; without one --count 'turned 48 in 1.6s shown 31' would do"))
	}
	if len(x.controls) > 0 && len(args) == 0 {
		faults = append(faults, errors.New("--control goes with a recording"))
	}
	return errors.Join(faults...)
}

// alone says what cannot stand beside dialings.
func (x *Fit) alone(args []string) error {
	var faults []error
	for _, other := range []struct {
		given bool
		what  string
	}{
		{len(args) > 0, "no recording"}, {len(x.counts) > 0, "no --count"}, {x.given("turned"), "no --turned"}, {len(x.controls) > 0, "no --control"},
		{len(x.rigs) > 0, "no --rig: the file says on what path it was dialed"}, {x.writeRig != "", "no --write-rig: dialings say nothing of a rig"},
	} {
		if other.given {
			faults = append(faults, errors.New("beside --dialed goes "+other.what))
		}
	}
	return errors.Join(faults...)
}

// Run fits the recordings, or the dialings, that are named.
func (x *Fit) Run(ctx context.Context, args []string, at Progress) (*Outcome, error) {
	study := &fit.Study{Turned: x.turned, Seed: x.Seed}
	if x.dialed != "" {
		study.Progress = at.at
		return x.refit(ctx, study)
	}
	for _, text := range x.counts {
		count, err := fit.ParseCount(text)
		if err != nil {
			return nil, fmt.Errorf("--count: %w", err)
		}
		study.Counts = append(study.Counts, count)
	}
	if err := x.startingPoint(study); err != nil {
		return nil, err
	}
	read, err := x.recordings(args, x.controls, study)
	if err != nil {
		return nil, err
	}
	r, err := fit.Run(ctx, study)
	if r == nil {
		return nil, err
	}
	o := &Outcome{Header: x.Header("fit", r.Partial), Result: r, Report: r.Report(), Next: x.next()}
	if len(args)+len(x.counts) == 0 {
		o.Hint = ownKnob
	}
	o.Header.Inputs = append(o.Header.Inputs, read...)
	if r.Partial {
		return o, nil
	}
	for _, f := range []struct {
		name string
		text func() ([]byte, error)
	}{{x.writeRig, r.RigFile}, {x.writeOperator, r.OperatorFile}} {
		o.file(f.name, func() ([]byte, error) {
			if t := r.Counts; len(args) == 0 && t != nil && !t.Explains {
				return nil, errors.New("no rig shows these counts, so no file was written")
			}
			return f.text()
		})
	}
	return o, nil
}

// ownKnob says what to do with one's own knob.
const ownKnob = `
Your own knob: turn, count, and compare with the number, acceleration off:
  dialwright fit --count 'turned 24 in 12s shown 24' \
                 --count 'turned 12 in 400ms shown 9'
Or record it, on Linux with dialwright capture; fit --help says what else.
`

// next says what takes the files that were written.
func (x *Fit) next() string {
	next := "compare, explain and tune take"
	if x.writeRig != "" {
		next += " --rig " + Quoted(x.writeRig)
	}
	if x.writeOperator != "" {
		next += " --operator " + Quoted(x.writeOperator)
	}
	return next
}

// refit fits a person to dialings.
func (x *Fit) refit(ctx context.Context, study *fit.Study) (*Outcome, error) {
	var err error
	err1 := x.startingPoint(study)
	study.Dialings, err = x.Dialings(x.dialed)
	if err := errors.Join(err1, err); err != nil {
		return nil, err
	}
	r, err := fit.Run(ctx, study)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", x.dialed, err)
	}
	o := &Outcome{Header: x.Header("fit", false), Result: r, Report: r.Report(), Next: x.next()}
	o.file(x.writeOperator, r.OperatorFile)
	return o, nil
}

// startingPoint loads the rig and the operator that a fit starts from, where they are
// named.
func (i *Asked) startingPoint(study *fit.Study) error {
	rig, err1 := one("rig", i.rigs, "")
	if err1 == nil && rig != "" {
		study.Rig, err1 = i.Rig(rig)
	}
	operator, err2 := one("operator", i.operators, "")
	if err2 == nil && operator != "" {
		study.Operator, err2 = i.Operator(operator)
	}
	return errors.Join(err1, err2)
}

// recordings reads the recordings that are named; where nothing is, it takes a
// simulated one.
func (i *Asked) recordings(paths, controls []string, study *fit.Study) (read []file.Input, err error) {
	if len(paths)+len(study.Counts) == 0 {
		if study.Rig == nil {
			if study.Rig, err = i.Rig("left-pulse"); err != nil {
				return nil, err
			}
		}
		operator := study.Operator
		if operator == nil {
			if operator, err = i.Operator(defaultOperator); err != nil {
				return nil, err
			}
		}
		r, turned, err := fit.Simulated(study.Rig, operator, i.Seed)
		if err != nil {
			return nil, Failed(err)
		}
		study.Recordings, study.Turned = append(study.Recordings, r), turned
		return nil, nil
	}
	var faults []error
	for _, path := range paths {
		r, input, err := i.recording(path, controls)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		study.Recordings = append(study.Recordings, r)
		read = append(read, input)
	}
	return read, errors.Join(faults...)
}

// recording reads a recording. Of one that is cut off it takes what came before.
func (i *Asked) recording(path string, controls []string) (*fit.Recording, file.Input, error) {
	name := path
	if path == "-" {
		name = "standard input"
	}
	from, err := i.Open(path)
	if err != nil {
		return nil, file.Input{}, err
	}
	defer from.Close()
	ctx := i.Context
	if ctx == nil {
		ctx = context.Background()
	}
	var r *fit.Recording
	var input file.Input
	if e := file.Aside(ctx, func() error { r, input, err = readRecording(from, path, name, controls); return nil }); e != nil {
		return nil, file.Input{}, e
	}
	return r, input, err
}

func readRecording(from io.Reader, path, name string, controls []string) (*fit.Recording, file.Input, error) {
	digest := sha256.New()
	from = io.TeeReader(from, digest)
	reader, err := recording.NewReader(from, name)
	if err != nil {
		return nil, file.Input{}, err
	}
	r, err := fit.Read(reader, name, controls...)
	switch {
	case r != nil && errors.Is(err, io.ErrUnexpectedEOF):
		r.About = fmt.Sprintf("cut off; what came before is used (%v)", err)
	case err != nil:
		return nil, file.Input{}, err
	}
	if _, err := io.Copy(io.Discard, from); err != nil {
		return nil, file.Input{}, err
	}
	return r, file.Input{Name: path, SHA256: hex.EncodeToString(digest.Sum(nil))}, nil
}
