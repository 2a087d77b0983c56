package trial_test

import (
	"testing"

	"dialwright/encoder"
	"dialwright/scenarios"
	"dialwright/scenarios/demo"
	"dialwright/scenarios/trial"
)

// Whoever has found out about a knob already does the trials of one who has not, however
// many meet it at the same time and with whatever acceleration before.
func TestWhoKnowsTheKnobDoesTheSameTrials(t *testing.T) {
	o := scenarios.Practised()
	uses, profiles := demo.Panel("quillmoor").Served(), scenarios.Profiles()
	for _, u := range uses { // numbers that begin elsewhere land elsewhere
		task := *u.Task
		if task.Name == "heading" {
			task.From += 3
			u.Task = &task
			uses = append(uses, u)
		}
	}
	for _, p := range profiles {
		if !p.Acceleration.Plain() && p.Settings == nil {
			firmware, landing := p, p
			firmware.Home = encoder.InFirmware
			landing.Acceleration.Landing = 2
			profiles = append(profiles, firmware, landing)
		}
	}
	var grips trial.Grips
	err := trial.Each(t.Context(), 8, len(uses)*len(profiles), func(n int) {
		u, p := uses[n%len(uses)], &profiles[n/len(uses)]
		fresh, err := new(trial.Grips).Seat(u, p, &o)
		known, again := grips.Seat(u, p, &o)
		if err != nil || again != nil {
			if (err == nil) != (again == nil) {
				t.Errorf("%s, %s: %v on a fresh knob, %v on a known one", u.Task.Name, p.Name, err, again)
			}
			return
		}
		for i := range 20 {
			if a, b := fresh.Run(1, i), known.Run(1, i); a != b {
				t.Errorf("%s, %s, trial %d:\n%+v on a fresh knob,\n%+v on a known one", u.Task.Name, p.Name, i, a, b)
				return
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}
