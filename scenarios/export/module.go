package export

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"io"

	"dialwright/accel"
	"dialwright/scenarios"
)

// Arithmetic is what every exported ES module ends with, whatever the profile: the
// steps of a detent for any compiled gain. Before it the module has the gain.
//
//go:embed accel.js
var Arithmetic string

// Module writes an ES module of a profile's acceleration, for a browser or another
// program: the integers of the C header and the same arithmetic. What else is in the
// profile stands in its comment, as in the header's.
func Module(w io.Writer, p *scenarios.Profile, on ...*scenarios.Rig) error {
	g, err := p.Acceleration.Compile()
	if err != nil {
		return fmt.Errorf("profile %s: %w", p.Name, err)
	}
	integers, err := json.MarshalIndent(compiled(g), "", "  ")
	if err != nil {
		return err
	}
	_, err = io.WriteString(w, moduleText(header{g, p, on}, flat(integers))+Arithmetic)
	return err
}

// integers are a compiled acceleration as JSON. What a gain does not use is left out.
type integers struct {
	TicksPerSecond int64    `json:"ticksPerSecond"`
	Rest           uint32   `json:"rest"`            // ticks
	Shift          int      `json:"shift"`           // a tick is 2^shift units of an interval
	Reversal       string   `json:"reversal"`        // reset, keep
	Steps          string   `json:"steps"`           // carry, round
	Base           uint32   `json:"base"`            // steps
	Landing        uint32   `json:"landing"`         // gain above which the number lands; 0: off
	Flat           uint32   `json:"flat"`            // gain at every rate; 0: one of table and factor gives it
	Table          *falling `json:"table,omitempty"` // factor by interval
	Enter          []uint16 `json:"enter,omitempty"`
	Leave          []uint16 `json:"leave,omitempty"`
	Factor         []uint16 `json:"factor,omitempty"`
	Over           uint32   `json:"over,omitempty"`
	Remain         *falling `json:"remain,omitempty"`
	Spaced         []uint16 `json:"spaced,omitempty"`
}

type falling struct {
	At    []uint16 `json:"at"`
	Value []uint16 `json:"value"`
	Width []uint16 `json:"width"` // of the piece that begins there, as a power of two
}

func compiled(g *accel.Gain) integers {
	return integers{
		TicksPerSecond: g.TicksPerSecond, Rest: g.Rest, Shift: g.Shift, Reversal: g.Reversal.String(), Steps: g.Steps.String(),
		Base: g.Base, Landing: g.Landing, Flat: g.Flat, Table: columnsOf(g.Table), Enter: g.Enter, Leave: g.Leave, Factor: g.Factor,
		Over: g.Over, Remain: columnsOf(g.Remain), Spaced: g.Spaced,
	}
}

func columnsOf(t accel.Falling) *falling {
	if t == nil {
		return nil
	}
	return &falling{ats(t), values(t), widths(t)}
}

// flat puts the numbers of each list on one line.
func flat(text []byte) string {
	var out bytes.Buffer
	depth := 0
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == '[':
			depth++
			out.WriteByte(c)
		case c == ']':
			depth--
			out.WriteByte(c)
		case depth > 0 && c == '\n':
			for i+1 < len(text) && text[i+1] == ' ' {
				i++
			}
			if out.Bytes()[out.Len()-1] == ',' {
				out.WriteByte(' ')
			}
		default:
			out.WriteByte(c)
		}
	}
	return out.String()
}
