package compare

import (
	"cmp"
	"context"
	"slices"

	"dialwright/scenarios/paired"
	"dialwright/scenarios/sample"
	"dialwright/scenarios/trial"
)

// sum works out everything that is said of the trials.
func (r *Result) sum() {
	all, uses := context.Background(), len(r.Uses) // statistics are never interrupted
	_ = trial.Each(all, r.Study.Workers, len(r.Trials)*uses, func(n int) { r.Trials[n/uses][n%uses].Summary() })
	family := make([]paired.Verdict, (len(r.Trials)-1)*uses)
	_ = trial.Each(all, r.Study.Workers, len(family), func(n int) {
		i, j := 1+n/uses, n%uses
		family[n] = sample.Judge(r.Study.Candidates[i].Name, r.Trials[i][j], r.Study.Candidates[0].Name, r.Trials[0][j], r.Study.Seed)
	})
	paired.Family(family)
	r.Against = [][]*paired.Verdict{make([]*paired.Verdict, uses)}
	for n := range family {
		if n%uses == 0 {
			r.Against = append(r.Against, nil)
		}
		last := &r.Against[len(r.Against)-1]
		*last = append(*last, &family[n])
	}
	r.weigh()
}

// weigh makes one figure of all tasks.
func (r *Result) weigh() {
	r.Overall = make([]Overall, len(r.Trials))
	_ = trial.Each(context.Background(), r.Study.Workers, len(r.Trials), func(i int) {
		o := &r.Overall[i]
		if o.Score = r.Trials[i].Score(); i > 0 {
			o.Against = r.Trials[i].Less(1, r.Trials[0], sample.Source(r.Study.Seed, ""))
		}
	})
	for i, panel := range r.Trials {
		if slices.ContainsFunc(panel, func(t *sample.Trials) bool { return t.Stays == nil }) {
			r.Ranking = append(r.Ranking, i)
		}
	}
	slices.SortStableFunc(r.Ranking, func(a, b int) int {
		return cmp.Compare(r.Overall[a].Seconds.Value, r.Overall[b].Seconds.Value)
	})
}
