package figure_test

import (
	"fmt"

	"dialwright/scenarios/figure"
)

// One description gives a picture for a page and, as here, for a terminal.
func ExampleFigure_Text() {
	f := figure.Figure{
		Title: "Where the time goes",
		X:     figure.Axis{Label: "time per dialing [s]", Min: 0, Max: 1},
		Y:     figure.Axis{Categories: []string{"pulses and queue", "program sampling", "display lag"}},
		Marks: []figure.Mark{figure.Bars{Bars: []figure.Bar{
			{At: 0, Value: 0.9, Low: 0.8, High: 1, Text: "0.9"},
			{At: 1, Value: 0.4, Low: 0.3, High: 0.5, Text: "0.4"},
			{At: 2, Value: 0, Text: "0.0"},
		}}},
	}
	fmt.Print(f.Text(60, false))
	// Output:
	// Where the time goes
	// pulses and queue |##############################|------| 0.9
	// program sampling |###########|-------| 0.4
	//      display lag | 0.0
	//                  ++------------------+-----------------+
	//                  0.0                0.5              1.0
	//                                     time per dialing [s]
}
