package evidence

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"dialwright/scenarios/trial"
)

// Check is a published value, what this build computes for it, and whether that
// holds.
type Check struct {
	ID        string `json:"id"`
	What      string `json:"what"`
	Source    string `json:"source"`
	Status    Status `json:"status"` // how the published value is known
	Published string `json:"published"`
	Measured  string `json:"measured"`
	Band      string `json:"band"`             // what must hold; ours unless the source gives it
	Holds     *bool  `json:"holds"`            // nil where it could not be computed
	Reason    string `json:"reason,omitempty"` // why not
}

// Status says how a published value is known.
type Status string

// The statuses.
const (
	Read       Status = "read"            // the number was read in the source
	SecondHand Status = "read, 2nd hand"  // in a source that quotes it
	Abstract   Status = "abstract"        // only the abstract was read
	Memory     Status = "from memory"     // recalled; the citation is given
	Derived    Status = "derived"         // arithmetic
	Practice   Status = "common practice" // a fact of the trade without a source
)

// Size says how much is simulated.
type Size struct {
	Trials int    // for a condition of a study of people
	Events int    // for a law of the path
	Seed   uint64 // of everything that is drawn
}

// Full is what the command runs, Small what a test can afford.
var (
	Full  = Size{Trials: 300, Events: 100_000, Seed: 1}
	Small = Size{Trials: 60, Events: 20_000, Seed: 1}
)

// row is one or more checks that share their simulation.
type row struct {
	ids string // of its checks
	run func(ctx context.Context, s Size) ([]Check, error)
}

// rows is every check there is.
var rows = []row{
	{"A1", wheelStudy}, {"A2 A3", lagStudy}, {"A4", gainStudy}, {"A5 C10", tunedGains}, {"A6 A8", processingTimes},
	{"A7", minimumJerk}, {"A9", intervalStudy}, {"A10", overshootStudy}, {"A11", reversalStudy},
	{"A12", throughput}, {"A13", wheelRecording}, {"learning", learningStudy},
	{"B1 B2 B3", keyRepeat}, {"B4", pollPeriods}, {"B5 B6", quadrature}, {"B7 B8", parts},
	{"B9 B10 B11", sampling}, {"B12 B13", queues}, {"B14 B15", imports}, {"B16", pulsesAgainstCounts},
	{"C1 C2 C3", channels}, {"C4", transponder}, {"C5 C6 C7 C8 C9", numbers}, {"C11 C12", handOffs},
}

// Checks computes every check. Rows run on several workers; the checks come in
// their order all the same. done is called, from one goroutine at a time, for each
// row that is finished. When the context ends, the checks of the finished rows are
// returned with its error.
func Checks(ctx context.Context, s Size, workers int, done func(finished, of int)) ([]Check, error) {
	results := make([][]Check, len(rows))
	errs := make([]error, len(rows))
	var lock sync.Mutex
	finished := 0
	_ = trial.Each(ctx, max(1, workers), len(rows), func(i int) { // ctx is asked below
		results[i], errs[i] = rows[i].run(ctx, s)
		if errs[i] != nil {
			results[i] = nil
		}
		lock.Lock()
		defer lock.Unlock()
		if finished++; done != nil {
			done(finished, len(rows))
		}
	})
	var all []Check
	for i := range rows {
		all = append(all, results[i]...)
		if errs[i] != nil && ctx.Err() == nil {
			return all, fmt.Errorf("evidence %s: %w", strings.Fields(rows[i].ids)[0], errs[i])
		}
	}
	slices.SortStableFunc(all, func(a, b Check) int {
		return cmp.Or(cmp.Compare(a.group(), b.group()), cmp.Compare(a.number(), b.number()))
	})
	return all, ctx.Err()
}

// group and number put A2 before A10; what has no number comes last in its group.
func (c Check) group() string {
	if c.number() == unnumbered {
		return "A"
	}
	return c.ID[:1]
}

const unnumbered = 1 << 20

func (c Check) number() int {
	n, err := strconv.Atoi(c.ID[1:])
	if err != nil {
		return unnumbered
	}
	return n
}

// Broken returns the checks that do not hold.
func Broken(checks []Check) (broken []Check) {
	for _, c := range checks {
		if c.Holds != nil && !*c.Holds {
			broken = append(broken, c)
		}
	}
	return broken
}

// judged sets whether a check holds.
func (c Check) judged(holds bool) Check {
	c.Holds = &holds
	return c
}
