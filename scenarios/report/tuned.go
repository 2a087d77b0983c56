package report

import (
	"context"

	"dialwright/scenarios"
	"dialwright/scenarios/tune"
)

// Search is what a report takes over from the search for settings. Its figures come
// from the people of the search, not from those of the report.
type Search struct {
	Caps        []tune.CapReport      `json:"caps"`
	TradeOff    []tune.TradeReport    `json:"trade_off"`
	Front       []tune.PointReport    `json:"front"`
	Sensitivity []tune.NeighborReport `json:"sensitivity"`
	Robustness  []tune.VariantReport  `json:"robustness"`
	Unimportant map[string][]string   `json:"unimportant"`
	OnlyHere    bool                  `json:"only_here"`
	Evaluations int                   `json:"evaluations"`
	Trials      int                   `json:"trials"`

	Dead    []tune.DeadReport    `json:"dead,omitempty"`
	Instead []tune.InsteadReport `json:"compared_with,omitempty"`

	said []string // of knobs that are dead, or are compared with other settings than those of now
	each int      // trials a task that there was time for
}

// proposal is what a search proposes for a knob: a profile for each of its tasks.
type proposal struct {
	knob        *scenarios.Knob
	now, chosen []*scenarios.Profile
	instead     bool // now is not what is set
}

// search looks for settings. Nothing else in this package knows what a search
// returns.
func (s *Study) search(ctx context.Context) ([]proposal, *Search, error) {
	r, err := tune.Run(ctx, &tune.Study{
		Panel: s.Panel, Profile: s.Profile, Operator: s.Operator, MaxOvershoot: s.MaxOvershoot, MaxLost: s.MaxLost, For: s.For,
		Trials: s.Trials, Seed: s.Seed, Workers: s.Workers,
		Progress: func(done, all int, _ string) { s.say(searching, done, all) },
	})
	if r == nil || err != nil && ctx.Err() == nil {
		return nil, nil, err
	}
	var list []proposal
	instead := map[string]bool{}
	for _, i := range r.Instead {
		instead[i.Knob] = true
	}
	for _, k := range r.Knobs {
		list = append(list, proposal{k.Knob, k.Now, k.Chosen, instead[k.Knob.Name]})
	}
	x := r.Report()
	out := &Search{x.Caps, x.TradeOff, x.Front, x.Sensitivity, x.Robustness, x.Unimportant, x.OnlyHere, x.Evaluations, x.Trials, x.Dead, x.Instead, nil, r.Study.Trials}
	for _, d := range r.Dead {
		out.said = append(out.said, d.String())
	}
	for _, i := range r.Instead {
		out.said = append(out.said, i.String())
	}
	return list, out, err
}
