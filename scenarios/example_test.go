package scenarios_test

import (
	"fmt"

	"dialwright/encoder/draw"
	"dialwright/scenarios"
)

// A 7 in front is left before the second digit reaches 6 and set after it has
// left it, and 7500 is gone around.
func ExampleTask_SafeTurns() {
	code := scenarios.Transponder()
	for _, change := range [][2]scenarios.Amount{{7412, 1603}, {1603, 7412}, {7510, 7501}} {
		from, _ := code.Index(change[0] * scenarios.Unity)
		to, _ := code.Index(change[1] * scenarios.Unity)
		turns, crossed := code.SafeTurns(from, to)
		fmt.Printf("%s to %s:", code.Format(from), code.Format(to))
		for _, turn := range turns {
			fmt.Printf(" digit %d by %+d,", len(code.Digits)-turn.Digit, turn.Clicks)
		}
		fmt.Printf(" %d alarms\n", crossed)
	}
	// Output:
	// 7412 to 1603: digit 1 by +2, digit 2 by +2, digit 3 by -1, digit 4 by +1, 0 alarms
	// 1603 to 7412: digit 2 by -2, digit 1 by -2, digit 3 by +1, digit 4 by -1, 0 alarms
	// 7510 to 7501: digit 4 by +1, digit 3 by -1, 0 alarms
}

// Trial 17 under seed 1: every run on every machine asks for the same heading.
func ExampleTask_Draw() {
	heading := scenarios.Heading()
	from, to := heading.Draw(draw.NewTrial(1, heading.Name, 17))
	fmt.Println(heading.Format(from), "to", heading.Format(to), "in", heading.Clicks(from, to, 1), "clicks")
	// Output:
	// 65° to 240° in 175 clicks
}

// An altitude on two rings: the outer one dials thousands, the inner one what
// is left.
func ExampleTask_Dials() {
	altitude := scenarios.Altitude()
	i, _ := altitude.Index(37_400 * scenarios.Unity)
	for _, dial := range altitude.Dials(2) {
		fmt.Println(dial.Name, dial.Part(i), "of", dial.Scale.Count, "steps of", altitude.Travel(dial.Place))
	}
	// Output:
	// outer 37 of 50 steps of 1000 ft
	// inner 4 of 10 steps of 100 ft
}
