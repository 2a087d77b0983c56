package figure

import (
	"fmt"
	"math"
)

// samples returns a figure of every kind that a report has, with values of the
// size that they have in the training desk's report.
func samples() []*Figure {
	return []*Figure{gainCurves(), traces(), timeToTarget(), overshootSizes(), lostClicks(), costs(), front(), sensitivity(), oneTurn(), gainByCategory(), beforeAndAfter()}
}

func curve(from, to float64, n int, f func(x float64) float64) []XY {
	out := make([]XY, n)
	for i := range out {
		x := from + (to-from)*float64(i)/float64(n-1)
		out[i] = XY{x, f(x)}
	}
	return out
}

func gainCurves() *Figure {
	f := &Figure{
		Name: "gain", Title: "What each profile makes of a turning rate",
		Caption: "Gain against detents per second; behind it, how often this hand turns at that rate. 7 profiles, operator practised.",
		Alt:     "Gain curves of seven profiles against the turning rate. All begin at 1; steep reaches 20.",
		X:       Axis{Label: "turning rate [detents/s]", Min: 0, Max: 60},
		Y:       Axis{Label: "gain [steps per detent]", Zero: true},
	}
	h := Histogram{Name: "this hand's turning rates", Tone: Quiet}
	for i := 0; i <= 30; i++ {
		x := float64(2 * i)
		h.Edges = append(h.Edges, x)
		if i < 30 {
			h.Share = append(h.Share, 12*math.Exp(-(x-8)*(x-8)/40)+6*math.Exp(-(x-32)*(x-32)/90))
		}
	}
	f.Marks = append(f.Marks, h)
	names := []string{"plain", "ladder", "power", "gentle power", "landing ladder", "steep", "knee at 20"}
	funcs := []func(x float64) float64{
		func(x float64) float64 { return 1 },
		func(x float64) float64 { return map[bool]float64{true: 10, false: 1}[x > 22] },
		func(x float64) float64 { return math.Max(1, math.Pow(x/6, 1.1)) },
		func(x float64) float64 { return math.Max(1, math.Pow(x/8, 0.8)) },
		func(x float64) float64 {
			if x < 12 {
				return 1
			} else if x < 30 {
				return 4
			}
			return 9
		},
		func(x float64) float64 { return math.Min(20, math.Max(1, math.Pow(x/7, 1.7))) },
		func(x float64) float64 { return math.Max(1, 1+(x-20)*0.16) },
	}
	for i, n := range names {
		f.Marks = append(f.Marks, Line{Name: n, Tone: (Tone(i%7) + 1) % 7, At: curve(0, 60, 601, funcs[i]), Step: i == 1 || i == 4})
	}
	f.Table = Table{Header: []string{"detents/s", "plain", "ladder"}, Rows: [][]string{{"10", "1", "1"}, {"30", "1", "10"}}}
	return f
}

func traces() *Figure {
	f := &Figure{
		Name: "trial-typical", Title: "A typical trial: heading from 070° to 254°",
		Caption: "The same person and target, before and after. Strokes below are detents; the shading is what still waits between knob and screen.",
		Alt:     "Displayed heading over time, before and after tuning. Before overshoots and arrives after 6.1 s, after arrives after 3.9 s.",
		X:       Axis{Label: "time [s]", Min: 0, Max: 6.5},
		Y:       Axis{Label: "heading [°]"},
	}
	before, after, knob := []XY{{0, 70}}, []XY{{0, 70}}, []XY{{0, 70}}
	var db, da []float64
	v, k := 70.0, 70.0
	for t := 0.35; t < 6; t += 0.045 {
		if math.Mod(t, 0.8) < 0.45 && k < 260 {
			db = append(db, t)
			k += 3
			knob = append(knob, XY{t, k})
		}
		if v < k && math.Mod(t, 0.09) < 0.046 {
			v += 4
			if v > k {
				v = k
			}
			before = append(before, XY{t + 0.02, v})
		}
	}
	before = append(before, XY{6.1, 254})
	a := 70.0
	for t := 0.35; t < 3.9; t += 0.033 {
		if math.Mod(t, 0.7) < 0.5 && a < 252 {
			da = append(da, t)
			a += 4
			after = append(after, XY{t + 0.02, a})
		}
	}
	after = append(after, XY{3.9, 254})
	f.Marks = []Mark{
		Band{Name: "target ± 1°", Tone: Green, From: 253, To: 255},
		Area{Name: "backlog before", Tone: Vermilion, Upper: append(knob, XY{6.1, 254}), Lower: before, Step: true},
		Line{Name: "before", Tone: Vermilion, At: before, Step: true},
		Line{Name: "after", Tone: Blue, At: after, Step: true},
		Rug{Name: "detents before", Tone: Vermilion, At: db},
		Rug{Name: "detents after", Tone: Blue, At: da},
	}
	return f
}

func timeToTarget() *Figure {
	ecdf := func(shift, scale float64) []XY {
		var out []XY
		for i := 0; i <= 400; i++ {
			u := (float64(i) + 0.5) / 401
			if x := shift + scale*math.Pow(-math.Log(1-u), 0.6); x < 12 {
				out = append(out, XY{x, 100 * float64(i) / 400})
			}
		}
		return append(out, XY{12, out[len(out)-1].Y})
	}
	return &Figure{
		Name: "time", Title: "How many trials have arrived by when",
		Caption: "Share of 400 trials of each that are on the target by a time.",
		Alt:     "Cumulative share of trials on target against time, before and after.",
		X:       Axis{Label: "time to target [s]", Min: 0, Max: 12},
		Y:       Axis{Label: "trials on the target [%]", Min: 0, Max: 100},
		Marks: []Mark{
			Line{Name: "before", Tone: Vermilion, At: ecdf(1.6, 3.4), Step: true},
			Line{Name: "after", Tone: Blue, At: ecdf(1.2, 2.3), Step: true},
			Line{Name: "ideal links", Tone: Quiet, At: ecdf(1.1, 1.9), Step: true},
		},
	}
}

func overshootSizes() *Figure {
	f := &Figure{
		Name: "overshoot", Title: "How far past the target",
		Caption: "Share of trials by the largest overshoot, in steps.", Alt: "Overshoot sizes before and after.",
		X: Axis{Label: "largest overshoot [steps]", Categories: []string{"none", "1", "2", "3", "4", "5–9", "10–19", "20 or more"}},
		Y: Axis{Label: "trials [%]", Zero: true},
	}
	b, a := Bars{Name: "before", Tone: Vermilion}, Bars{Name: "after", Tone: Blue}
	for i, v := range []float64{71.2, 9.1, 6.3, 4.4, 3.1, 3.9, 1.5, 0.5} {
		b.Bars = append(b.Bars, Bar{At: float64(i), Value: v, Low: math.Max(0, v-1.8), High: v + 1.8})
	}
	for i, v := range []float64{92.5, 3.1, 1.9, 1.1, 0.8, 0.4, 0.2, 0} {
		a.Bars = append(a.Bars, Bar{At: float64(i), Value: v, Low: math.Max(0, v-1.1), High: v + 1.1})
	}
	f.Marks = []Mark{b, a}
	return f
}

func lostClicks() *Figure {
	loss := func(at, slope float64) []XY {
		return curve(2, 60, 30, func(x float64) float64 { return 70 / (1 + math.Exp(-(x-at)/slope)) })
	}
	return &Figure{
		Name: "lost", Title: "Clicks lost against turning speed",
		Alt:     "Lost share against turning speed, before and after.",
		Caption: "Share of detents that never reached the display.",
		X:       Axis{Label: "turning rate [detents/s]", Min: 0, Max: 60},
		Y:       Axis{Label: "lost clicks [%]", Zero: true},
		Marks: []Mark{
			Band{Name: "where this hand turns", Tone: Quiet, From: 5, To: 34, OnX: true},
			Line{Name: "before", Tone: Vermilion, At: loss(24, 4), Markers: true},
			Line{Name: "after", Tone: Blue, At: loss(48, 5), Markers: true},
		},
	}
}

func costs() *Figure {
	f := &Figure{
		Name: "costs", Title: "Where the time goes",
		Alt:     "Cost of each link in seconds a dialing.",
		Caption: "Share of each link in the time to target beyond ideal links (Shapley values), with 95 % intervals.",
		X:       Axis{Label: "time per dialing [s]", Zero: true},
		Y:       Axis{Categories: []string{"pulses in a queue", "poll of the buttons", "frames", "acceleration", "display lag", "debounce"}},
	}
	b := Bars{Tone: Blue}
	for i, v := range []float64{1.92, 0.41, 0.33, 0.21, 0.12, -0.03} {
		b.Bars = append(b.Bars, Bar{At: float64(i), Value: v, Low: v - 0.09, High: v + 0.1, Text: number(v, 2) + " s"})
	}
	f.Marks = []Mark{b}
	return f
}

func front() *Figure {
	f := &Figure{
		Name: "front", Title: "Time against overshoot: what can be had",
		Alt:     "Pareto front with the chosen point.",
		Caption: "Each point is a setting that no other beats in both.",
		X:       Axis{Label: "time per dialing [s]"},
		Y:       Axis{Label: "trials with overshoot [%]", Zero: true},
	}
	var at []XY
	pts := Points{Name: "settings on the front", Tone: Blue}
	for i := range 12 {
		x := 6.4 + 0.25*float64(i)
		y := 18 / (1 + 0.8*float64(i))
		at = append(at, XY{x, y})
		label := ""
		switch i {
		case 0:
			label = "speed"
		case 2:
			label = "chosen: balance"
		case 9:
			label = "calm"
		}
		pts.At = append(pts.At, Point{X: x, Y: y, Low: y - 0.6, High: y + 0.6, Label: label, Chosen: i == 2})
	}
	f.Marks = []Mark{
		Line{Tone: Blue, At: at, Step: true},
		pts,
		Points{Name: "before", Tone: Vermilion, At: []Point{{X: 9.28, Y: 8.2, Label: "before"}}},
	}
	return f
}

func sensitivity() *Figure {
	f := &Figure{
		Name: "sensitivity", Title: "How much each setting matters around the choice",
		Alt:     "Range of the time per dialing when one setting is moved.",
		Caption: "Time per dialing when one setting alone is moved to the ends of its range.",
		X:       Axis{Label: "time per dialing [s]", Min: 6.5, Max: 9.5},
		Y:       Axis{Categories: []string{"pulse on", "pulse off", "gain at 30 detents/s", "gain at 10 detents/s", "debounce", "queue"}},
	}
	b := Bars{Tone: Purple}
	for i, v := range [][2]float64{{6.85, 9.2}, {6.85, 8.7}, {6.81, 7.6}, {6.85, 7.2}, {6.84, 6.95}, {6.85, 6.86}} {
		b.Bars = append(b.Bars, Bar{At: float64(i), From: v[0], Value: v[1], Text: fmt.Sprintf("+%s s", number(v[1]-6.85, 2))})
	}
	f.Marks = []Mark{b}
	return f
}

func oneTurn() *Figure {
	f := &Figure{
		Name: "turn", Title: "One turn of the knob, click by click",
		Alt:     "Lanes of knob, count, pulse, poll, frame and value over a quarter of a second.",
		Caption: "A letter follows a click from the knob to the number. Click d was lost.",
		X:       Axis{Label: "time [ms]", Min: 0, Max: 420},
		Y:       Axis{Categories: []string{"knob", "count", "waits", "pulse", "poll", "frame", "value", "lost"}},
	}
	knob := Spans{Tone: Ink}
	pulse := Spans{Name: "pulse on", Tone: Blue}
	waits := Spans{Name: "waits in the queue", Tone: Quiet}
	seen := Spans{Tone: Ink}
	lost := Spans{Name: "lost", Tone: Vermilion}
	next := 0.0
	for i := range 6 {
		l := string(rune('a' + i))
		t := 10 + 42*float64(i)
		knob.Spans = append(knob.Spans, Span{0, t, t, l}, Span{1, t + 3, t + 3, l})
		if i == 3 {
			lost.Spans = append(lost.Spans, Span{7, t + 3, t + 3, l})
			continue
		}
		if next > t+3 {
			waits.Spans = append(waits.Spans, Span{2, t + 3, next, l})
		}
		next = math.Max(next, t+3)
		pulse.Spans = append(pulse.Spans, Span{3, next, next + 30, l})
		poll := math.Ceil(next/8) * 8
		frame := math.Ceil(poll/33.3) * 33.3
		seen.Spans = append(seen.Spans, Span{4, poll, poll, l}, Span{5, frame, frame, l}, Span{6, frame + 4, frame + 4, l})
		next += 60
	}
	f.Marks = []Mark{waits, pulse, lost, knob, seen}
	return f
}

// beforeAndAfter is what six tasks take and how often they overshoot.
func beforeAndAfter() *Figure {
	m := Pairs{Before: "before", After: "after", Same: "as before", Rows: []PairRow{{"heading", "20/h"}, {"com-25", "12/h"}, {"vertical-speed", "8/h"}, {"altitude", "6/h"}, {"nav", "4/h"}, {"altimeter-hpa", "3/h"}}}
	times, past := PairColumn{Label: "mean time [s]"}, PairColumn{Label: "dialings that overshoot [%]", Limit: 10, Bound: "cap 10 %"}
	for i, v := range [][4]float64{{12, 8.7, 10, 2}, {5.4, 4.5, 10, 18}, {3.7, 3.5, 6, 3}, {18.3, 9.6, 8, 14}, {2.9, 2.9, 10, 10}, {0.6, 0.6, 10, 10}} {
		same := i > 3
		times.Pairs = append(times.Pairs, Pair{v[0], v[1], number(v[0], 1), number(v[1], 1), same})
		past.Pairs = append(past.Pairs, Pair{v[2], v[3], number(v[2], 0), number(v[3], 0), same})
	}
	m.Columns = []PairColumn{times, past}
	return &Figure{Name: "pairs", Title: "Long turns gain most; com-25 and altitude pay with overshoot", Alt: "Mean times and overshoots of six tasks.", Caption: "Means of 400 trials.", Marks: []Mark{m}}
}

func gainByCategory() *Figure {
	f := &Figure{
		Name: "tasks", Title: "Median time to target of every task, before and after",
		Alt: "Grouped bars by task.", Caption: "Medians of 400 trials with 95 % intervals.",
		X: Axis{Label: "median time to target [s]", Zero: true},
		Y: Axis{Categories: []string{"heading", "com radio, 25 kHz", "com radio, 8.33 kHz channels", "altitude selector", "nav radio", "transponder code"}},
	}
	b, a := Bars{Name: "before", Tone: Vermilion}, Bars{Name: "after", Tone: Blue}
	for i, v := range []float64{4.9, 6.2, 9.4, 3.8, 3.29, 12.1} {
		b.Bars = append(b.Bars, Bar{At: float64(i), Value: v, Low: v - 0.2, High: v + 0.25, Text: number(v, 1)})
		v *= 0.74
		a.Bars = append(a.Bars, Bar{At: float64(i), Value: v, Low: v - 0.15, High: v + 0.2, Text: number(v, 1)})
	}
	f.Marks = []Mark{b, a}
	return f
}
