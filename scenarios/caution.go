package scenarios

// Cautions are what every result that leaves the program says.
var Cautions = []string{
	"For simulators, training desks, hobby panels and receivers; not for certified aircraft equipment or navigation.",
	"Transmit only as you are licensed to. Local rules and licensed practice come first.",
	"Stop when the wrist hurts.",
}
