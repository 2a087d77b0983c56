package evidence

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"

	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// Check is a published value, what this build computes for it, and whether that
// holds.
type Check struct {
	ID        string `json:"id"`
	Kind      Kind   `json:"kind"`
	What      string `json:"what"`
	Source    string `json:"source"`
	Status    Status `json:"status"` // how the published value is known, or why nothing is checked
	Set       bool   `json:"set"`    // the people were set on it, so that it holds is no news
	Published string `json:"published"`
	Measured  string `json:"measured"`
	Band      string `json:"band"`             // what must hold; ours unless the source gives it
	Holds     *bool  `json:"holds"`            // nil where it could not be computed or is not checked
	Reason    string `json:"reason,omitempty"` // why not

	brief [3]string // what, published and computed in few words, of what opens the summary
}

// Kind says what a check is about.
type Kind string

// The kinds.
const (
	People Kind = "people"
	Path   Kind = "path"
	Tasks  Kind = "tasks"
)

// Kinds are all kinds, in the order of their ids: A, B, C.
var Kinds = []Kind{People, Path, Tasks}

// Status says how a published value is known, or why nothing is checked.
type Status string

// The statuses.
const (
	Read       Status = "read"                        // the number was read in the source
	SecondHand Status = "read, 2nd hand"              // in a source that quotes it
	Abstract   Status = "abstract"                    // only the abstract was read
	Memory     Status = "from memory"                 // recalled; the citation is given
	Derived    Status = "derived"                     // arithmetic
	Practice   Status = "common practice"             // a fact of the trade without a source
	Shown      Status = "shown, not checked"          // holds by construction: no evidence
	Uncompared Status = "published, not yet compared" // figures that nobody here has read
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
	{"A1", wheelStudy}, {"A2 A3 A19", lagStudy}, {"A4", gainStudy}, {"A5", countsPerTurn}, {"A6", processingTimes}, {"A7", minimumJerk},
	{"A8", longestTwist}, {"A9", intervalStudy}, {"A10", overshootStudy}, {"A11", reversalStudy},
	{"A12", throughput}, {"A13", wheelRecording}, {"A14", turningOn}, {"A15", longLags}, {"A16", smallNumbers},
	{"A17", fartherTargets}, {"A18", idleCurves}, {"A20", uncomparedStudies}, {"learning", learningStudy},
	{"B1 B2 B3", keyRepeat}, {"B4", pollPeriods}, {"B5 B6", quadrature}, {"B7 B8", parts},
	{"B9 B10 B11", sampling}, {"B12 B13", queues}, {"B14 B15", imports}, {"B16", pulsesAgainstCounts},
	{"C1 C2 C3", channels}, {"C4", transponder}, {"C5 C6 C7 C8 C9", numbers}, {"C10", bracketing}, {"C11", handOffs}, {"C12", ringsAgainstKnob},
}

// IDs lists the ids of all checks, in their order.
func IDs() (ids []string) {
	for _, r := range rows {
		ids = append(ids, strings.Fields(r.ids)...)
	}
	slices.SortStableFunc(ids, inOrder)
	return ids
}

// Named returns the id that somebody wrote, in whatever case, or an error that
// says which one he probably meant.
func Named(written string) (string, error) {
	for _, id := range IDs() {
		if strings.EqualFold(id, written) {
			return id, nil
		}
	}
	would := "A1 to A20, B1 to B16, C1 to C12 or learning would do"
	if near := scenarios.Nearest(written, IDs()); near != "" {
		would = "did you mean " + near + "? " + would
	}
	return "", fmt.Errorf("there is no check %s; %s", scenarios.Shown(written), would)
}

// Checks computes every check, or those of the ids that are named. Rows run on
// several workers; the checks come in their order all the same. done is called,
// from one goroutine at a time, for each row that is finished. When the context
// ends, the checks of the finished rows are returned with its error.
func Checks(ctx context.Context, s Size, workers int, done func(finished, of int), ids ...string) ([]Check, error) {
	wanted := func(id string) bool { return len(ids) == 0 || slices.Contains(ids, id) }
	run := slices.DeleteFunc(slices.Clone(rows), func(r row) bool { return !slices.ContainsFunc(strings.Fields(r.ids), wanted) })
	results := make([][]Check, len(run))
	errs := make([]error, len(run))
	var lock sync.Mutex
	finished := 0
	_ = trial.Each(ctx, max(1, workers), len(run), func(i int) { // ctx is asked below
		results[i], errs[i] = run[i].run(ctx, s)
		if errs[i] != nil {
			results[i] = nil
		}
		lock.Lock()
		defer lock.Unlock()
		if finished++; done != nil {
			done(finished, len(run))
		}
	})
	var all []Check
	for i := range run {
		for _, c := range results[i] {
			if c.Kind = kindOf(c.ID); wanted(c.ID) {
				all = append(all, c)
			}
		}
		if errs[i] != nil && ctx.Err() == nil {
			return all, fmt.Errorf("evidence %s: %w", strings.Fields(run[i].ids)[0], errs[i])
		}
	}
	slices.SortStableFunc(all, func(a, b Check) int { return inOrder(a.ID, b.ID) })
	return all, ctx.Err()
}

// inOrder puts A2 before A10; what has no number comes last in its group.
func inOrder(a, b string) int {
	return cmp.Or(cmp.Compare(kindRank(a), kindRank(b)), cmp.Compare(number(a), number(b)))
}

func kindRank(id string) int { return slices.Index(Kinds, kindOf(id)) }

func kindOf(id string) Kind {
	if number(id) == unnumbered {
		return People
	}
	return Kinds[id[0]-'A']
}

const unnumbered = 1 << 20

func number(id string) int {
	n, err := strconv.Atoi(id[1:])
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

// Open returns the checks that could not be computed here.
func Open(checks []Check) (open []Check) {
	for _, c := range checks {
		if c.Answer() == "open" {
			open = append(open, c)
		}
	}
	return open
}

// judged sets whether a check holds.
func (c Check) judged(holds bool) Check {
	c.Holds = &holds
	return c
}

// shown marks what holds by construction. How its published value is known goes
// into the source. Where it does not even show what it should, it does not hold.
func (c Check) shown(ok bool, why string) Check {
	c.Source += " (" + string(c.Status) + ")"
	c.Status, c.Reason = Shown, why
	if !ok {
		return c.judged(false)
	}
	return c
}

// setOn marks what the people were set on.
func (c Check) setOn() Check {
	c.Set = true
	return c
}

// inBrief gives a check a line of the summary.
func (c Check) inBrief(what, published, computed string) Check {
	c.brief = [3]string{what, published, computed}
	return c
}
