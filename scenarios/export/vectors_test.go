package export_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"dialwright/scenarios"
	"dialwright/scenarios/export"
)

// vectors returns the test vectors of profile number i.
func vectors(t *testing.T, i int) [][]string {
	t.Helper()
	var out bytes.Buffer
	if err := export.Vectors(&out, &scenarios.Profile{Name: "x", Acceleration: acceleration(i)}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&out).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// The vectors are a good test: the tick wraps, both directions and rests come, the
// number is negative at times, and steps differ where the gain does.
func TestVectorsMeetEveryRule(t *testing.T) {
	for i := range 84 {
		rows := vectors(t, i)
		g, _ := acceleration(i).Compile()
		wraps, reversals, rests, short, below := 0, 0, 0, 0, 0
		for n := 2; n < len(rows); n++ {
			tick, _ := strconv.ParseUint(rows[n][0], 10, 32)
			before, _ := strconv.ParseUint(rows[n-1][0], 10, 32)
			switch gap := uint32(tick - before); {
			case tick < before:
				wraps++
			case gap == g.Rest:
				rests++
			case gap == g.Rest-1:
				short++
			}
			if rows[n][1] != rows[n-1][1] {
				reversals++
			}
			if strings.HasPrefix(rows[n][2], "-") {
				below++
			}
		}
		if wraps != 1 || reversals < 8 || rests < 8 || short < 8 || below == 0 {
			t.Errorf("profile %d: %d wraps, %d reversals, %d rests, %d just under, %d numbers below 0", i, wraps, reversals, rests, short, below)
		}
	}
}

// Whoever runs the vectors through the header gets the steps beside them.
func TestTheHeaderPassesItsVectors(t *testing.T) {
	gcc := compiler(t, "gcc")
	of := upTo(42)
	var table, body strings.Builder
	for _, i := range of {
		fmt.Fprintf(&table, "static const struct { uint32_t tick; int8_t direction; int32_t number; uint32_t steps; } v%d[] = {\n", i)
		for _, r := range vectors(t, i)[1:] {
			fmt.Fprintf(&table, "{%sU, %s, %s, %sU},\n", r[0], r[1], r[2], r[3])
		}
		table.WriteString("};\n")
		fmt.Fprintf(&body, `    {
        d%d_state s = {0};
        unsigned n;
        for (n = 0; n < sizeof v%d / sizeof v%d[0]; n++)
            if (d%d_detent(&s, v%d[n].tick, v%d[n].direction, v%d[n].number) != v%d[n].steps) { printf("profile %d, line %%u\n", n + 2); bad = 1; }
    }
`, i, i, i, i, i, i, i, i, i)
	}
	source := headers(t, of, "") + table.String() + "#include <stdio.h>\nint main(void)\n{\n    int bad = 0;\n" + body.String() + "    return bad;\n}\n"
	if out, err := exec.Command(build(t, gcc, source, "-std=c99")).CombinedOutput(); err != nil {
		t.Errorf("%v\n%.2000s", err, out)
	}
}
