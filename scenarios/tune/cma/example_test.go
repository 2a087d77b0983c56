package cma_test

import (
	"fmt"

	"dialwright/encoder/draw"
	"dialwright/scenarios/tune/cma"
)

// A pulse of 1 to 100 ms in whole milliseconds and a gain of 1 to 8 in halves.
// Each measurement is the mean of 50 noisy trials; all candidates of one
// generation meet the same ones.
func Example() {
	const pulses, gains = 100, 15
	settings := func(x []float64) (ms int, gain float64) {
		return 1 + min(pulses-1, int(pulses*x[0])), 1 + float64(min(gains-1, int(gains*x[1])))/2
	}
	trial := func(n int, ms int, gain float64) (seconds float64) {
		luck := draw.NewTrial(7, "example", n).Stream(draw.Person)
		late, steps := float64(ms-42)/100, gain-(3.5+float64(luck.Normal(0))/draw.One)
		return 2 + late*late + steps*steps/10 + 0.3*float64(luck.Normal(1))/draw.One
	}

	search, err := cma.New(2, draw.NewTrial(7, "tune", 0).Stream(draw.Search), cma.Settings{
		Least: []float64{1. / (4 * pulses), 1. / (4 * gains)},
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	for range 60 {
		candidates := search.Ask()
		costs := make([]float64, len(candidates))
		for k, x := range candidates { // or on several workers
			ms, gain := settings(x)
			for n := range 50 {
				costs[k] += trial(50*search.Generation+n, ms, gain) / 50
			}
		}
		if err := search.Tell(costs); err != nil {
			fmt.Println(err)
			return
		}
	}
	ms, gain := settings(search.Mean)
	fmt.Printf("%d ms, gain %.1f after %d generations\n", ms, gain, search.Generation)
	// Output: 42 ms, gain 3.5 after 60 generations
}
