package survey_test

import (
	"runtime"
	"testing"

	"dialwright/scenarios/demo"
	"dialwright/scenarios/survey"
	"dialwright/testdata/heap"
)

// held returns what a survey holds when it is done, and its part.
func held(t *testing.T, members, trials int) (bytes int64, p *survey.Part) {
	s := &survey.Study{Population: demo.Population("households"), Members: members, Trials: trials, Seed: 1, Workers: 1}
	before := heap.Held()
	p = ran(t, s, survey.Whole)
	return heap.Held() - before, p
}

// What a survey holds does not grow with its trials, and with its members by at most
// 200 bytes a member and candidate; so does what a part takes in a file.
func TestASurveyHoldsLittleAMemberAndNothingATrial(t *testing.T) {
	if testing.Short() {
		t.Skip("much to compute: left out of short runs")
	}
	const candidates, noise = 7, 1 << 20 // histograms, caches of the program
	held(t, 2, 1)
	few, a := held(t, 4, 10)
	much, b := held(t, 4, 3000)
	if much-few > noise {
		t.Errorf("%d bytes with 10 trials, %d with 3000", few, much)
	}
	if x, y := len(encoded(t, a)), len(encoded(t, b)); y-x > 100_000 {
		t.Errorf("a part of %d bytes with 10 trials, %d with 3000", x, y)
	}
	some, c := held(t, 20, 1)
	more, d := held(t, 220, 1)
	each := float64(more-some) / (200 * candidates)
	file := float64(len(encoded(t, d))-len(encoded(t, c))) / (200 * candidates)
	if each > 200 || file > 200 {
		t.Errorf("%.0f bytes a member and candidate in memory, %.0f in a file", each, file)
	}
	t.Logf("%.0f bytes a member and candidate in memory, %.0f in a file; %d bytes with 10 trials, %d with 3000", each, file, few, much)
	runtime.KeepAlive([]*survey.Part{a, b, c, d})
}
