package evidence

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"dialwright/encoder/recording"
)

// besideClone returns where a file of the shared data is: in a folder named shared
// beside the working folder or beside one above it.
func besideClone(name string) (string, bool) {
	dir, err := os.Getwd()
	for err == nil {
		path := filepath.Join(dir, "shared", name)
		if _, err := os.Stat(path); err == nil {
			return path, true
		}
		up := filepath.Dir(dir)
		if up == dir {
			break
		}
		dir = up
	}
	return "", false
}

func wheelRecording(context.Context, Size) ([]Check, error) {
	c := Check{ID: "A13", What: "a real wheel, recorded", Status: Read, Source: "data/wheel_scroll.evemu, MIT, evemu-devices collection",
		Published: "29 events: bursts of 4–7 notches in 3–7 reports, pauses of 0.21–0.46 s, reports on a grid of about 8.6 ms",
		Band:      "importing it gives those figures"}
	path, ok := besideClone("data/wheel_scroll.evemu")
	if !ok {
		c.Reason = "data/wheel_scroll.evemu is not beside this clone"
		return []Check{c}, nil
	}
	r, err := recording.Open(path)
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
		c.Reason = err.Error()
		return []Check{c}, nil
	} else if err != nil {
		return nil, err
	}
	defer r.Close()
	all, err := r.All()
	if err != nil {
		return nil, err
	}
	events := slices.Collect(recording.Only(slices.Values(all), "wheel"))
	bursts := recording.Bursts(slices.Values(events), 0)
	least, most, fewest, largest := int64(1<<62), int64(0), 1<<30, 0
	for _, b := range bursts {
		least, most = min(least, b.Notches), max(most, b.Notches)
		fewest, largest = min(fewest, b.Reports), max(largest, b.Reports)
	}
	pauses := recording.Pauses(bursts)
	if len(pauses) == 0 {
		return nil, fmt.Errorf("%s: one burst only", path)
	}
	short, long := float64(slices.Min(pauses))/1e9, float64(slices.Max(pauses))/1e9
	grid := float64(recording.ReportGrid(recording.Reports(slices.Values(events))).Period) / 1e6
	c.Measured = fmt.Sprintf("%d events: bursts of %d–%d notches in %d–%d reports, pauses of %.2f–%.2f s, grid %.2f ms", len(events), least, most, fewest, largest, short, long, grid)
	return []Check{c.judged(len(events) == 29 && least == 4 && most == 7 && fewest == 3 && largest == 7 &&
		short >= 0.205 && short < 0.215 && long >= 0.455 && long < 0.465 && grid >= 8.5 && grid <= 8.7)}, nil
}

// record is struct input_event of 64-bit Linux: 24 bytes.
type record struct {
	seconds, micros int64
	kind, code      uint16
	value           int32
}

const (
	evRel      = 2
	relDial    = 7
	relWheel   = 8
	relWheelHi = 11
)

// imported writes records as a Linux event device gives them and reads them as a
// recording.
func imported(records []record) ([]recording.Event, int, error) {
	var b bytes.Buffer
	for _, r := range records {
		for _, field := range []any{r.seconds, r.micros, r.kind, r.code, r.value} {
			if err := binary.Write(&b, binary.LittleEndian, field); err != nil {
				return nil, 0, err
			}
		}
	}
	size := b.Len()
	r, err := recording.NewReader(&b, "fixture")
	if err != nil {
		return nil, 0, err
	}
	events, err := r.All()
	return events, size / len(records), err
}

func imports(context.Context, Size) ([]Check, error) {
	var records []record
	add := func(code uint16, value int32) { // a report of one movement
		at := int64(len(records))
		records = append(records, record{1, at * 1000, evRel, code, value}, record{1, at * 1000, 0, 0, 0})
	}
	units := []int32{120, 60, 60, 50, 70, 90, 90, 30, 45}
	sum := int64(0)
	for _, u := range units {
		sum += int64(u)
		add(relWheelHi, u)
	}
	events, _, err := imported(records)
	if err != nil {
		return nil, err
	}
	detents := int64(0)
	for _, e := range events {
		detents += e.N
	}
	b14 := Check{ID: "B14", What: "units of a high-resolution wheel", Status: Read, Source: "WM_MOUSEWHEEL, REL_WHEEL_HI_RES documentation",
		Published: "120 units are one detent", Band: "counts are the units over 120, the remainder kept",
		Measured: fmt.Sprintf("%d units gave %+d detents and a remainder of %d", sum, detents, sum-120*detents)}

	records = nil
	add(relDial, 1)
	add(relDial, -2)
	add(relWheel, 3)
	events, size, err := imported(records)
	if err != nil {
		return nil, err
	}
	counts := map[string]int64{}
	for _, e := range events {
		counts[e.Control] += max(e.N, -e.N)
	}
	b15 := Check{ID: "B15", What: "event records of 64-bit Linux", Status: Read, Source: "linux/input.h, input-event-codes.h",
		Published: "24 bytes; EV_REL codes 7 dial, 8 wheel, 11 high resolution", Band: "a binary fixture is read right",
		Measured: fmt.Sprintf("%d bytes a record; dial %d, wheel %d counts", size, counts["dial"], counts["wheel"])}
	left := sum - 120*detents
	return []Check{b14.judged(detents == 5 && left == 15), b15.judged(size == 24 && counts["dial"] == 3 && counts["wheel"] == 3)}, nil
}
