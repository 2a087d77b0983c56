package radio

import (
	"bytes"
	_ "embed" // the tables below
	"encoding/csv"
	"fmt"
	"strings"
	"sync"

	"dialwright/scenarios"
)

// Changes is a table of real changes of a radio's setting.
type Changes struct {
	Source string // licence, origin and how the rows were sampled
	Pairs  []scenarios.Pair
}

//go:embed com_pairs.csv
var comPairs []byte

//go:embed nav_pairs.csv
var navPairs []byte

//go:embed adf_pairs.csv
var adfPairs []byte

// The tables, read once; nobody changes their rows.
var (
	comChanges = sync.OnceValue(func() Changes { return readChanges("com_pairs.csv", comPairs) })
	navChanges = sync.OnceValue(func() Changes { return readChanges("nav_pairs.csv", navPairs) })
	adfChanges = sync.OnceValue(func() Changes { return readChanges("adf_pairs.csv", adfPairs) })
)

// HandOffs returns 3000 changes between communication channels of one airport,
// by channel name in kHz.
func HandOffs() Changes { return comChanges() }

// VORChanges returns 3000 changes between VOR stations less than 150 km apart,
// in kHz.
func VORChanges() Changes { return navChanges() }

// NDBChanges returns 3000 changes between beacons less than 150 km apart, in
// kHz.
func NDBChanges() Changes { return adfChanges() }

func readChanges(name string, text []byte) Changes {
	source, rows := readTable(name, text)
	c := Changes{Source: source, Pairs: make([]scenarios.Pair, len(rows))}
	for i, row := range rows {
		c.Pairs[i] = scenarios.Pair{From: amount(name, row[0]), To: amount(name, row[1])}
	}
	return c
}

// readTable returns the first line of an embedded table, which names its source,
// and its rows without the header. A damaged table is a fault of the build, and
// panics.
func readTable(name string, text []byte) (source string, rows [][]string) {
	head, _, _ := strings.Cut(string(text), "\n")
	r := csv.NewReader(bytes.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic(fmt.Sprintf("the embedded table %s is damaged: %v", name, err))
	}
	return strings.TrimPrefix(head, "# "), rows[1:]
}

func amount(name, s string) scenarios.Amount {
	a, err := scenarios.ParseAmount(s)
	if err != nil {
		panic(fmt.Sprintf("the embedded table %s is damaged: %v", name, err))
	}
	return a
}
