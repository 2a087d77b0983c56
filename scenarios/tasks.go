package scenarios

// The tasks of a training desk that are no radio; the radios are in package
// scenarios/radio. Ranges and steps have a source; how often people dial which
// number has been published by nobody that we found, so every distribution
// here is ours and says so in Source.

// Tasks returns a new copy of each task of this package, in the order of lists.
func Tasks() []*Task {
	return []*Task{
		Heading(), Course(), Altitude(), AltitudeThousands(), VerticalSpeed(),
		AltimeterInHg(), AltimeterHPa(), Transponder(), MapRange(),
	}
}

// Heading is the heading bug: 1 to 360, because north is 360 and never 000
// (FAA AIM 4-2-10, read). Controllers mostly give multiples of five degrees;
// the share of 80 % is ours.
func Heading() *Task {
	return &Task{
		Name: "heading", Title: "heading bug, 1 to 360 by 1 degree, north is 360",
		Source: "range FAA AIM 4-2-10; distribution ours: 80 % multiples of 5",
		Unit:   "deg", From: 1 * Unity, To: 360 * Unity, Step: 1 * Unity, Wrap: true,
		Target: Distribution{MultiplesOf: 5 * Unity, Share: 0.80},
	}
}

// Course is the course selector: the numbers of a heading, but any of them is
// as likely as any other, as published courses are.
func Course() *Task {
	return &Task{
		Name: "course", Title: "course selector, 1 to 360 by 1 degree, any of them",
		Source: "range as heading, FAA AIM 4-2-10; distribution ours: uniform",
		Unit:   "deg", From: 1 * Unity, To: 360 * Unity, Step: 1 * Unity, Wrap: true,
	}
}

// Altitude is the altitude selector in hundreds of feet, increments that match
// those in which altitudes are flown (14 CFR 91.219(b)(3), read). The range
// ends at both ends; its top is ours. On a knob with two rings the outer one
// dials thousands.
func Altitude() *Task {
	return &Task{
		Name: "altitude", Title: "altitude selector, 0 to 49900 by 100 ft",
		Source: "step 14 CFR 91.219(b)(3); bounds ours; distribution ours: 80 % whole thousands",
		Unit:   "ft", From: 0, To: 49_900 * Unity, Step: 100 * Unity, PerOuter: 10,
		Target: Distribution{MultiplesOf: 1000 * Unity, Share: 0.80},
	}
}

// AltitudeThousands is the altitude selector switched to thousands of feet.
func AltitudeThousands() *Task {
	return &Task{
		Name: "altitude-1000", Title: "altitude selector, 0 to 49000 by 1000 ft",
		Source: "step 14 CFR 91.219(b)(3); bounds ours; distribution ours: uniform",
		Unit:   "ft", From: 0, To: 49_000 * Unity, Step: 1000 * Unity,
	}
}

// VerticalSpeed goes through zero by 100 ft/min (common practice, no source).
func VerticalSpeed() *Task {
	return &Task{
		Name: "vertical-speed", Title: "vertical speed, -6000 to 6000 by 100 ft/min, through zero",
		Source: "step common practice, no source; bounds ours; distribution ours: SD 1200 around level flight, about half of the targets whole 500s",
		Unit:   "ft/min", From: -6000 * Unity, To: 6000 * Unity, Step: 100 * Unity,
		Start:  Distribution{Near: Near{SD: 1200 * Unity}},
		Target: Distribution{List: verticalSpeeds()},
	}
}

// verticalSpeeds are the targets of VerticalSpeed: -2000 to 2000 by 100, and
// the whole 500s four times, which makes them about half of the list.
func verticalSpeeds() (list []Amount) {
	for v := Amount(-2000); v <= 2000; v += 100 {
		n := 1
		if v%500 == 0 {
			n = 4
		}
		for range n {
			list = append(list, v*Unity)
		}
	}
	return list
}

// AltimeterInHg is the altimeter setting in inches of mercury, 28.00 to 31.00 by
// 0.01 (FAA AIM 7-2-2, FAA-H-8083-15, read). 1 inHg is 1000 ft there, so a step
// is 10 ft.
func AltimeterInHg() *Task {
	return &Task{
		Name: "altimeter-inhg", Title: "altimeter setting, 28.00 to 31.00 by 0.01 inHg, a step is 10 ft",
		Source: "range FAA AIM 7-2-2; 1 inHg = 1000 ft FAA-H-8083-15; distribution ours: SD 0.20 around 29.92, changes of SD 0.10",
		Unit:   "inHg", From: 28 * Unity, To: 31 * Unity, Step: Unity / 100,
		Effect: Effect{PerStep: 10 * Unity, Unit: "ft"},
		Start:  Distribution{Near: Near{SD: Unity * 20 / 100, Around: Unity * 2992 / 100}},
		Target: Distribution{Near: Near{SD: Unity * 10 / 100}},
	}
}

// AltimeterHPa is the altimeter setting in hectopascal, 948 to 1050 by 1. By
// 29.92 inHg = 1013.2 hPa and 1 inHg = 1000 ft (FAA AIM 7-2-2, FAA-H-8083-15,
// read) a step is 29.5 ft, told as about 30 ft.
func AltimeterHPa() *Task {
	return &Task{
		Name: "altimeter-hpa", Title: "altimeter setting, 948 to 1050 by 1 hPa, a step is about 30 ft",
		Source: "range FAA AIM 7-2-2; 29.92 inHg = 1013.2 hPa, 1 inHg = 1000 ft FAA-H-8083-15; distribution ours: SD 7 around 1013, changes of SD 3.5",
		Unit:   "hPa", From: 948 * Unity, To: 1050 * Unity, Step: 1 * Unity,
		Effect: Effect{PerStep: 1000 * Unity * 29_92 / 1013_20, Unit: "ft", Nearest: 10 * Unity},
		Start:  Distribution{Near: Near{SD: 7 * Unity, Around: 1013 * Unity}},
		Target: Distribution{Near: Near{SD: Unity * 35 / 10}},
	}
}

// Transponder is a four-digit octal code, each digit dialed by itself from left
// to right. The codes that ask for help, 7500, 7600 to 7677 and 7700 to 7777,
// are never asked for and should never be passed through (FAA AIM 4-1-20, read
// second hand); SafeTurns tells how.
func Transponder() *Task {
	return &Task{
		Name: "transponder", Title: "transponder code, four digits of 0 to 7, dialed one by one",
		Source: "codes FAA AIM 4-1-20, read second hand; distribution ours: uniform without the alarm codes",
		Digits: []int{3, 2, 1, 0}, Base: 8,
		Alarms: []Alarm{{0o7500, 0o7500}, {0o7600, 0o7677}, {0o7700, 0o7777}},
	}
}

// MapRange is the range of a moving map, a short list of doubling numbers
// (common practice, no source; the numbers are ours).
func MapRange() *Task {
	return &Task{
		Name: "map-range", Title: "map range, 5 to 640 NM, each twice the one before",
		Source: "common practice, no source; numbers ours; distribution ours: uniform",
		Unit:   "NM",
		Named:  []Amount{5 * Unity, 10 * Unity, 20 * Unity, 40 * Unity, 80 * Unity, 160 * Unity, 320 * Unity, 640 * Unity},
	}
}
