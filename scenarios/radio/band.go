package radio

import (
	_ "embed" // the table below
	"fmt"
	"strings"
	"sync"

	"dialwright/scenarios"
)

// Band is an amateur band, or a segment of one that a band plan sets aside.
type Band struct {
	Scope        string           // where it holds: IARU-R1, IARU-R2, IARU-R3, US
	Name         string           // 20m
	Lower, Upper scenarios.Amount // kHz
	MaxBandwidth int              // Hz; 0 for the edges of a band, or where none is stated
	Use          string           // "edges" for a whole band
	Read         bool             // whether the edges were read in Source, or recalled from it
	Source       string
}

//go:embed band_plans.csv
var bandPlans []byte

// Bands returns the embedded band plans: first the edges of each band by scope,
// then the segments of Region 1.
var Bands = sync.OnceValue(func() []Band {
	const name = "band_plans.csv"
	_, rows := readTable(name, bandPlans)
	bands := make([]Band, len(rows))
	for i, row := range rows {
		b := Band{
			Scope: row[0], Name: row[1], Lower: amount(name, row[2]), Upper: amount(name, row[3]),
			Use: row[5], Read: row[6] == "SEEN", Source: row[7],
		}
		if row[4] != "" {
			b.MaxBandwidth = int(amount(name, row[4]) / scenarios.Unity)
		}
		bands[i] = b
	}
	return bands
})

// Tolerance is how far off a tuned station may be.
type Tolerance struct {
	Hz     int64
	Name   string
	Source string
}

// Tolerances are the three that tuning is measured with.
func Tolerances() []Tolerance {
	return []Tolerance{
		{20, "the stricter legal tolerance", "47 CFR 87.133, read"},
		{50, "the wider legal tolerance", "47 CFR 87.133, read"},
		{200, "what beginners are content with", "read, a weak source"},
	}
}

// Tuning is a receiver's tuning knob inside a band or a segment of one: steps of
// 10 Hz that stop at the edges, from anywhere to a station 0.1 to 20 kHz away,
// small moves as common as large ones on a logarithmic scale (ours). Moves
// within the tolerance are no trials. The task is called hf-20m-50hz, outside
// Region 1 hf-us-40m-50hz, in a segment hf-40m-7040-50hz after its lower edge.
func Tuning(b Band, tolerance Tolerance) *scenarios.Task {
	where := b.Name
	if b.Scope != "IARU-R1" {
		where = strings.ToLower(b.Scope) + "-" + where
	}
	if b.Use != "edges" {
		where += "-" + b.Lower.String()
	}
	read := "read"
	if !b.Read {
		read = "from memory"
	}
	return &scenarios.Task{
		Name: fmt.Sprintf("hf-%s-%dhz", where, tolerance.Hz),
		Title: fmt.Sprintf("tune the %s band, %s to %s kHz by 10 Hz, to ±%d Hz, %s",
			b.Name, b.Lower, b.Upper, tolerance.Hz, tolerance.Name),
		Source: fmt.Sprintf("%s edges %s, %s; tolerance %s; step and distribution ours: moves of 0.1 to 20 kHz, log-uniform",
			b.Scope, b.Source, read, tolerance.Source),
		Unit: "Hz", From: 1000 * b.Lower, To: 1000 * b.Upper, Step: 10 * scenarios.Unity,
		Tolerance: scenarios.Amount(tolerance.Hz) * scenarios.Unity,
		Target:    scenarios.Distribution{Move: scenarios.Move{From: 100 * scenarios.Unity, To: 20_000 * scenarios.Unity}},
	}
}
