package tune

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"dialwright/scenarios"
	"dialwright/scenarios/columns"
)

// Dead is a knob that was searched in vain.
type Dead struct {
	Knob string
	Err  error // why nothing can be dialed on it
}

// Instead is what a knob was compared with, as the settings of now cannot be tried on it.
type Instead struct {
	Knob     string
	Settings []scenarios.Setting // the first found with which it can be dialed
	Err      error               // what is wrong with those of now
}

// String says it in a sentence.
func (i Instead) String() string {
	return fmt.Sprintf("The %s knob cannot be tried as it is set (%s). Now is with %s, the first settings found with which it can be; set these where nothing else is said.", i.Knob, oneLine(i.Err), written(i.Settings))
}

// String says it in a sentence.
func (d Dead) String() string { return "The " + d.Knob + " knob is dead: " + oneLine(d.Err) + "." }

// oneLine is an error in the middle of a sentence.
func oneLine(err error) string { return strings.ReplaceAll(err.Error(), "\n", "; ") }

// written are settings as a sentence has them.
func written(settings []scenarios.Setting) string {
	var list []string
	for _, x := range settings {
		list = append(list, x.Key+" "+x.Value)
	}
	return strings.Join(list, ", ")
}

// errDead says that nothing that may be changed moves a knob's number.
var errDead = errors.New("nothing that may be changed helps")

// attemptTrials is how many trials tell whether a knob can be dialed: enough for a rig on which
// most trials would not end. Where one of a thousand would not, the search finds out.
const attemptTrials = 8

// untriable says why a profile cannot be tried with every rig and person, or nil.
func (s *search) untriable(u *use, p *scenarios.Profile) error {
	for _, at := range u.spots {
		seat, err := s.grips.Seat(at.Served, p, at.operator)
		for n := 0; err == nil && n < attemptTrials; n++ {
			seat.Run(s.Seed, n)
			err = seat.Err()
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// mostWays is how many settings are tried to get a dead board going. One costs as much as
// sixty-four clicks; where the rig is a runaway, some hundredths of a second.
const mostWays = 600

// revive sets a board on which the settings of now cannot be tried to the first settings
// with which it can: those that a search begins with, then one to three of the keys that
// may be changed at the ends of their ranges. Where there are none the board is dead.
func (s *search) revive(ctx context.Context, b *board, because error) {
	settings, ok := b.wayOut(func(settings []scenarios.Setting) bool {
		p := scenarios.Plain()
		p.Settings = settings
		for i := range b.uses {
			if ctx.Err() != nil || s.untriable(&b.uses[i], p) != nil {
				return false
			}
		}
		return true
	})
	if !ok {
		b.dead = fmt.Errorf("the settings of now cannot be tried, and %w: %w", errDead, because)
		return
	}
	b.instead = because
	for i := range b.now {
		p := scenarios.Plain()
		p.Settings = settings
		b.now[i] = p
	}
}

// wayOut looks for settings that can be tried.
func (b *board) wayOut(good func([]scenarios.Setting) bool) ([]scenarios.Setting, bool) {
	for _, x := range b.space.starts(nil) {
		if good(x) {
			return x, true
		}
	}
	left := mostWays
	var found []scenarios.Setting
	var change func(keys []key, more int, set []scenarios.Setting) bool
	change = func(keys []key, more int, set []scenarios.Setting) bool {
		if more == 0 {
			left--
			if left >= 0 && good(set) {
				found = set
			}
			return found != nil || left < 0
		}
		for i, k := range keys {
			for _, n := range []int{0, len(k.choices) - 1} {
				if change(keys[i+1:], more-1, b.space.with(set, scenarios.Setting{Key: k.name, Value: k.choices[n]})) {
					return true
				}
			}
		}
		return false
	}
	for many := 1; many <= 3 && found == nil; many++ {
		change(b.space.keys, many, nil)
	}
	return found, found != nil
}

// standIns are the knobs that were compared with other settings than those of now.
func (b *board) standIns(p *scenarios.Panel) (list []Instead) {
	if b.instead == nil {
		return nil
	}
	for _, n := range b.knobs {
		if len(p.Knobs[n].Tasks) > 0 {
			list = append(list, Instead{p.Knobs[n].Name, b.now[0].Settings, b.instead})
		}
	}
	return list
}

// gaveUp says why some of a point's tries could not be done, or nil.
func (p *pool) gaveUp(x point) error {
	for _, t := range p.of(x) {
		if t.err != nil {
			return fmt.Errorf("task %s: %w", p.board.uses[t.use].Task.Name, t.err)
		}
	}
	return nil
}

// bury counts a board's knobs among the dead.
func (r *Result) bury(b *board, err error) {
	for _, n := range b.knobs {
		r.Dead = append(r.Dead, Dead{r.Study.Panel.Knobs[n].Name, err})
	}
}

// dead says which knobs are, and why.
func (r *Result) dead() error {
	var all []error
	for _, d := range r.Dead {
		all = append(all, fmt.Errorf("knob %s is dead: %w", scenarios.Shown(d.Knob), d.Err))
	}
	return errors.Join(all...)
}

// pageDead says which knobs are dead, and which are compared with other settings than
// those of now.
func (r *Result) pageDead(p *columns.Page) {
	for _, d := range r.Dead {
		p.Text(d.String())
	}
	for _, i := range r.Instead {
		p.Text(i.String())
	}
}
