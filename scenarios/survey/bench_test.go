package survey_test

import (
	"context"
	"runtime"
	"testing"

	"dialwright/scenarios/demo"
	"dialwright/scenarios/survey"
)

// A thousand members of the demo's population, its seven candidates, 50 trials each:
// trials a second of processor time, with the making of each member's knobs.
func BenchmarkSurvey(b *testing.B) {
	for b.Loop() {
		s := &survey.Study{Population: demo.Population("households"), Members: 1000, Trials: 50, Seed: 1, Workers: runtime.NumCPU()}
		before := processorTime(b)
		if _, err := survey.Run(context.Background(), s, survey.Whole); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(1000*7*50/(processorTime(b)-before).Seconds(), "trials/cpu-s")
	}
}
