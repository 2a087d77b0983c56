package fit

import (
	"cmp"
	"context"
	"slices"

	"dialwright/encoder"
	"dialwright/scenarios"
)

// narrowRatio is the ratio between the ends of a 95 % range above which count tests leave
// a quantity unknown; ours.
const narrowRatio = 1.5

// count does the count tests, on rigs that share what recordings have shown.
func (f *fitting) count(ctx context.Context) error {
	family, err := NewFamily(f.Seed, f.shownSettings()...)
	if err != nil {
		return err
	}
	t, err := family.TestCounts(ctx, f.Counts)
	if err != nil {
		return err
	}
	f.r.Counts = t
	if !t.Explains {
		return nil
	}
	w, err := family.weigh(ctx, f.Counts)
	if err != nil {
		return err
	}
	likeliest := t.Paths[0].Rig
	recorded := len(f.Recordings) > 0
	if !recorded {
		base := f.r.Rig
		f.r.Rig.Rig = likeliest
		f.r.Rig.Name = cmp.Or(base.Name, "counted")
	} else {
		f.r.Rig.Program = likeliest.Program
	}
	f.fitsAdjustable()
	for _, q := range []struct {
		key, unit string
		of        func(r *encoder.Rig) float64
	}{
		{"firmware.pulse", "ms", func(r *encoder.Rig) float64 { return float64(r.Firmware.Pulse) / 1e6 }},
		{"firmware.gap", "ms", func(r *encoder.Rig) float64 { return float64(r.Firmware.Gap) / 1e6 }},
		{"firmware.queue", "", func(r *encoder.Rig) float64 { return float64(r.Firmware.Queue) }},
		{"usb.poll", "ms", func(r *encoder.Rig) float64 { return float64(r.USB.Poll) / 1e6 }},
		{"program.frames", "per_s", func(r *encoder.Rig) float64 { return float64(r.Program.Frames) }},
	} {
		if _, said := f.r.Path.Get(q.key); said || !slices.Contains(scenarios.Keys(&likeliest), q.key) {
			continue
		}
		low, mid, high := family.range95(w, q.key, q.of)
		switch {
		case low > 0 && high <= narrowRatio*low:
			f.path(known(q.key, q.unit, mid, low, high, "of the rigs that explain the counts, 95 %% have that"))
		default:
			open := unknown(q.key, q.unit, "all of that would explain the counts")
			open.Low, open.High = low, high
			f.path(open)
		}
	}
	return nil
}

// range95 returns the weighted quantiles of a quantity over the rigs that use it.
func (f *Family) range95(w []float64, key string, of func(r *encoder.Rig) float64) (low, mid, high float64) {
	type item struct{ x, w float64 }
	var items []item
	total := 0.0
	for k := range f.rigs {
		if r := &f.rigs[k]; w[k] > 1e-6 && slices.Contains(scenarios.Keys(r), key) {
			items = append(items, item{of(r), w[k]})
			total += w[k]
		}
	}
	slices.SortFunc(items, func(a, b item) int { return cmp.Compare(a.x, b.x) })
	at := func(share float64) float64 {
		sum := 0.0
		for _, i := range items {
			if sum += i.w; sum >= share*total {
				return i.x
			}
		}
		return 0
	}
	return at(0.025), at(0.5), at(0.975)
}

// shownSettings returns what recordings have shown of the path, as settings.
func (f *fitting) shownSettings() []scenarios.Setting {
	var settings []scenarios.Setting
	if len(f.Recordings) == 0 {
		return nil
	}
	r := &f.r.Rig.Rig
	for _, key := range []string{"knob.detents", "knob.cycles", "knob.bounce", "firmware.output", "firmware.hold", "firmware.pulse", "firmware.gap", "usb.poll", "system.repeat.delay", "system.repeat.rate"} {
		v, _ := f.r.Path.Get(key)
		if !v.Known && !(key == "knob.cycles" && f.r.Path.has("knob.detents")) || !slices.Contains(scenarios.Keys(r), key) {
			continue
		}
		settings = append(settings, scenarios.Setting{Key: key, Value: scenarios.Get(r, key)})
	}
	return settings
}
