package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"dialwright/encoder/recording"
	"dialwright/scenarios/file"
	"dialwright/scenarios/fit"
)

// mostTurned is the largest --turned; more was turned by no hand.
const mostTurned = 1_000_000

func newFit(s streams) *cobra.Command {
	in := newInputs(s)
	var counts, controls []string
	var turned int
	var writeRig, writeOperator string
	c := &cobra.Command{
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

Without arguments it fits a simulated session on the demo's rig left-pulse.`,
		Example: `  dialwright fit --count 'turned 24 in 12s shown 24' --count 'turned 24 in 2.4s shown 17'
  dialwright fit knob.csv --turned 144 --write-rig mine.yaml --write-operator me.yaml
  dialwright fit wheel.evemu --format json
  dialwright fit contacts.csv knob.csv`,
	}
	f := c.Flags()
	f.IntVar(&turned, "turned", 0, "clicks really turned: in a session's fast turns, else in the whole recording")
	f.StringArrayVar(&counts, "count", nil, "a count test: 'turned 48 in 1.6s shown 31' (repeatable)")
	f.StringSliceVar(&controls, "control", nil, "the knob in the recording: a wheel, dial or axis, or two buttons or keys, clockwise first (btn288,btn289)")
	in.rigFlag(f, "rig to start from, for what does not show: a built-in name or a file")
	in.operatorFlag(f, "operator to start from: a built-in name or a file")
	f.StringVar(&writeRig, "write-rig", "", "write the rig to this file")
	f.StringVar(&writeOperator, "write-operator", "", "write what was found of the person to this file")
	in.seedFlag(f)
	out := newOutput(s, c, "table", "markdown", "json")
	f.Lookup("force").Usage = "replace the files that --output, --write-rig and --write-operator name"
	in.complete(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		study := &fit.Study{Turned: turned, Seed: in.seed}
		faults := []error{out.check(&in.Loader, target{"write-rig", writeRig}, target{"write-operator", writeOperator})}
		if c.Flags().Changed("turned") && (turned < 1 || turned > mostTurned) {
			faults = append(faults, fmt.Errorf("--turned: %d; 1 to %d would do", turned, mostTurned))
		}
		for _, text := range counts {
			count, err := fit.ParseCount(text)
			if err != nil {
				faults = append(faults, fmt.Errorf("--count: %w", err))
			}
			study.Counts = append(study.Counts, count)
		}
		if turned > 0 && len(args) == 0 {
			faults = append(faults, errors.New("--turned goes with a recording; without one --count 'turned 48 in 1.6s shown 31' would do"))
		}
		if len(controls) > 0 && len(args) == 0 {
			faults = append(faults, errors.New("--control goes with a recording"))
		}
		if err := errors.Join(faults...); err != nil {
			return err
		}
		if err := in.startingPoint(study); err != nil {
			return err
		}
		read, err := in.recordings(args, controls, study)
		if err != nil {
			return err
		}
		r, err := fit.Run(c.Context(), study)
		if r == nil {
			return err
		}
		result := out.write(r.Partial, func(w io.Writer) error {
			switch out.format {
			case "markdown":
				return r.Page().Markdown(w)
			case "json":
				h := in.header("fit", r.Partial)
				h.Inputs = append(h.Inputs, read...)
				return writeJSON(w, h, r.Report())
			}
			if err := r.Page().Print(w, out.width()); err != nil || len(args)+len(counts) > 0 || out.quiet {
				return err
			}
			_, err := fmt.Fprint(w, ownKnob)
			return err
		})
		if result != nil || writeRig == "" && writeOperator == "" {
			return result
		}
		if t := r.Counts; len(args) == 0 && t != nil && !t.Explains {
			return failure{errors.New("no rig shows these counts, so no file was written")}
		}
		hint := "compare, explain and tune take"
		for _, x := range []struct {
			path, flag string
			text       func() ([]byte, error)
		}{{writeRig, " --rig ", r.RigFile}, {writeOperator, " --operator ", r.OperatorFile}} {
			if x.path == "" {
				continue
			}
			text, err := x.text()
			if err != nil {
				return failure{err}
			}
			if err := out.writeFile(x.path, false, text); err != nil {
				return err
			}
			hint += x.flag + quoted(x.path)
		}
		if !out.quiet {
			fmt.Fprintln(printed(s.err), hint)
		}
		return nil
	}
	return c
}

// ownKnob says what to do with one's own knob.
const ownKnob = `
Your own knob: turn, count, and compare with the number, acceleration off:
  dialwright fit --count 'turned 24 in 12s shown 24' \
                 --count 'turned 12 in 400ms shown 9'
Or record it, on Linux with dialwright capture; fit --help says what else.
`

// startingPoint loads the rig and the operator that a fit starts from, where they are
// named.
func (i *inputs) startingPoint(study *fit.Study) error {
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
func (i *inputs) recordings(paths, controls []string, study *fit.Study) (read []file.Input, err error) {
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
		r, turned, err := fit.Simulated(study.Rig, operator, i.seed)
		if err != nil {
			return nil, failure{err}
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
func (i *inputs) recording(path string, controls []string) (*fit.Recording, file.Input, error) {
	name, from := path, i.In
	if path == "-" {
		name = "standard input"
	} else {
		if err := i.Readable(path); err != nil {
			return nil, file.Input{}, err
		}
		f, err := file.Open(i.Context, path)
		if err != nil {
			return nil, file.Input{}, err
		}
		defer f.Close()
		from = f
	}
	var r *fit.Recording
	var input file.Input
	var err error
	if e := file.Aside(i.Context, func() error { r, input, err = readRecording(from, path, name, controls); return nil }); e != nil {
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
