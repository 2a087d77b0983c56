package evidence

import (
	"context"
	"fmt"

	"dialwright/accel"
	"dialwright/scenarios"
	"dialwright/scenarios/trial"
)

// The gain sweep of Jenkins, Connor, "Some design factors in making settings on a
// linear scale", J. Appl. Psychol. 33 (1949) 395–409, from memory: a smooth knob
// brings a pointer over a distance into a tolerance, at gains over a range of
// sixteen to one.
var (
	sweepGains      = []float64{1, 2, 3, 4, 6, 8, 12, 16} // whole, so that no fraction is carried
	sweepTolerances = []float64{54, 18}                   // ± task steps
)

// sweepDistance is 320° of the knob at gain 1 and 20° at gain 16.
const sweepDistance = 3640

// swept is a gain and what came of it.
type swept struct {
	gain           float64
	travel, adjust float64 // mean seconds
	over           float64
}

func (s *swept) total() float64 { return s.travel + s.adjust }

// gainSweep measures every gain at one tolerance.
func gainSweep(ctx context.Context, o scenarios.Operator, tolerance float64, seed uint64, trials int) ([]swept, error) {
	rig := ideal(smoothKnob)
	task := smoothTask(sweepDistance, 2*tolerance)
	task.Name = fmt.Sprintf("sweep %g", tolerance)
	var (
		all   []swept
		grips trial.Grips
	)
	for _, g := range sweepGains {
		p := scenarios.Profile{Name: fmt.Sprint(g), Acceleration: accel.Acceleration{Curve: accel.Constant{Gain: g}}}
		s := swept{gain: g}
		c, err := runBy(ctx, &grips, trial.Cell{Task: task, Rings: 1, Inner: &rig, Profile: &p, Operator: &o}, seed, trials, func(r *trial.Result) {
			travel := min(r.Travel, r.TimeToTarget)
			s.travel += float64(travel) / 1e9
			s.adjust += float64(r.TimeToTarget-travel) / 1e9
		})
		if err != nil {
			return nil, err
		}
		s.travel /= float64(c.trials)
		s.adjust /= float64(c.trials)
		s.over = c.over
		all = append(all, s)
	}
	return all, nil
}
