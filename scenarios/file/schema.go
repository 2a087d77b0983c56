package file

import (
	"encoding/json"
	"fmt"
	"maps"
	"strings"

	"dialwright/accel"
	"dialwright/encoder"
	"dialwright/encoder/part"
	"dialwright/scenarios"
)

// schema is a JSON Schema, or a part of one.
type schema = map[string]any

// Schema returns the JSON Schema (2020-12) of a kind of file, for editors. It is
// made from the tables that the reader goes by; rules between keys are the
// reader's alone.
func Schema(kind string) ([]byte, error) {
	of := map[string]func() schema{
		"rig": rigSchema, "profile": profileSchema, "panel": panelSchema, "task": taskSchema, "operator": operatorSchema, "population": populationSchema,
	}[kind]
	if of == nil {
		return nil, fmt.Errorf("there is no kind %s; %s", scenarios.Shown(kind), meant(kind, Kinds))
	}
	s := of()
	p := s["properties"].(schema)
	p["kind"] = schema{"const": kind}
	p["version"] = schema{"const": 1}
	p["name"] = schema{"type": "string", "minLength": 1}
	s["required"] = append([]string{"kind", "version", "name"}, required(s)...)
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "dialwright " + kind
	return json.MarshalIndent(s, "", "  ")
}

func required(s schema) []string {
	r, _ := s["required"].([]string)
	return r
}

// object is a mapping of these properties and no others.
func object(properties schema) schema {
	return schema{"type": "object", "properties": properties, "additionalProperties": false}
}

// with names the keys of a mapping that cannot be left out.
func with(s schema, keys ...string) schema {
	s["required"] = keys
	return s
}

// about returns a schema with a word on what it is for.
func about(text string, s schema) schema {
	s = maps.Clone(s)
	s["description"] = text
	return s
}

func arrayOf(items schema) schema { return schema{"type": "array", "items": items, "minItems": 1} }

func words(of ...string) schema { return schema{"enum": of} }

func modes[M encoder.Mode]() schema { return words(encoder.Words[M]()...) }

// quantity is a value with its unit.
func quantity(q scenarios.Quantity) schema {
	const decimal = `^-?[0-9]+(\.[0-9]+)?`
	switch q {
	case scenarios.Whole:
		return schema{"type": "integer"}
	case scenarios.Fraction:
		return schema{"type": "number"}
	case scenarios.Switch:
		return schema{"type": "boolean"}
	case scenarios.Word:
		return schema{"type": "string"}
	}
	units := q.Units()
	escaped := make([]string, len(units))
	for i, u := range units {
		escaped[i] = strings.ReplaceAll(u, "/", `\/`)
	}
	return schema{"type": "string", "pattern": decimal + " ?(" + strings.Join(escaped, "|") + ")$"}
}

// place puts a schema under a dotted key.
func place(s schema, key string, value schema) {
	name, rest, deeper := strings.Cut(key, ".")
	p := s["properties"].(schema)
	if !deeper {
		if old, ok := p[name].(schema); ok && old["properties"] != nil {
			value = schema{"anyOf": []any{old, value}}
		}
		p[name] = value
		return
	}
	child, ok := p[name].(schema)
	switch {
	case !ok:
		child = object(schema{})
		p[name] = child
	case child["properties"] == nil: // a value, or keys of its own
		child = mappingIn(p, name)
	}
	place(child, rest, value)
}

// mappingIn returns the mapping among the forms that a key may have, and adds one
// where there is none yet.
func mappingIn(p schema, name string) schema {
	either, ok := p[name].(schema)["anyOf"].([]any)
	if !ok {
		either = []any{p[name]}
	}
	for _, e := range either {
		if m := e.(schema); m["properties"] != nil {
			return m
		}
	}
	m := object(schema{})
	p[name] = schema{"anyOf": append(either, m)}
	return m
}

// keySchema is what one key of a rig takes.
func keySchema(k scenarios.Key) schema {
	v := quantity(k.Quantity)
	switch {
	case k.Presets != nil:
		return words(append([]string{"none"}, k.Presets...)...)
	case k.Words != nil:
		v = words(k.Words...)
	case k.Quantity == scenarios.Whole || k.Quantity == scenarios.Fraction:
		low := "minimum"
		if k.Above {
			low = "exclusiveMinimum"
		}
		v[low], v["maximum"] = json.Number(k.Low), json.Number(k.High)
	case k.Quantity == scenarios.Word: // a key that only takes none
		return schema{"const": "none"}
	}
	if k.Absent {
		v = schema{"anyOf": []any{v, schema{"const": "none"}}}
	}
	return v
}

func rigSchema() schema {
	s := object(schema{})
	adjustable := object(schema{})
	for _, k := range scenarios.Describe() {
		v := keySchema(k)
		switch k.Name {
		case "usb.poll":
			v = schema{"anyOf": []any{v, with(object(schema{
				"speed": words(part.Speeds...), "interval": schema{"type": "integer", "minimum": 1, "maximum": 255},
			}), "interval")}}
		case "program.frame_list":
			v = schema{"anyOf": []any{schema{"type": "string"}, arrayOf(quantity(scenarios.Time))}}
		}
		v["description"] = k.About
		place(s, k.Name, v)
		choice := schema{"anyOf": []any{arrayOf(keySchema(k))}}
		if k.Quantity < scenarios.Switch {
			span := object(schema{"from": keySchema(k), "to": keySchema(k), "by": quantity(k.Quantity)})
			choice["anyOf"] = append(choice["anyOf"].([]any), with(span, "from", "to", "by"))
		}
		adjustable["properties"].(schema)[k.Name] = choice
	}
	adjustable["properties"].(schema)["acceleration"] = object(schema{
		"home": arrayOf(modes[encoder.Home]()), "curves": arrayOf(words(accel.CurveWords()...)),
	})
	s["properties"].(schema)["adjustable"] = adjustable
	return s
}

func profileSchema() schema {
	time := quantity(scenarios.Time)
	settings := object(schema{})
	for _, k := range scenarios.Describe() {
		v := keySchema(k)
		v["description"] = k.About
		settings["properties"].(schema)[k.Name] = v
	}
	curve := object(schema{})
	for _, k := range accel.Curves() {
		curve["properties"].(schema)[k.Word] = about(k.Formula, curveSchema(k))
	}
	curve["minProperties"], curve["maxProperties"] = 1, 1
	return object(schema{
		"settings": about("keys of the rig and the values that this profile gives them", settings),
		"acceleration": object(schema{
			"home": about("where it lives: larger steps in the program, more pulses in the firmware", modes[encoder.Home]()),
			"base": about("task steps of a slow detent", schema{"type": "integer", "minimum": 1, "maximum": accel.MaxBase}),
			"tick": about("unit of the clock that times the detents", words("1ms", "1us")),
			"rate": object(schema{
				"from": about("how the turning rate is estimated", modes[accel.From]()),
				"over": about("time constant of the average or length of the window", time),
				"rest": about("without a detent for so long the rate is 0", time), "reversal": about("what turning back does to the estimate", modes[accel.Reversal]()),
			}),
			"curve": about("factor on base as a function of the turning rate", curve),
			"steps": about("what becomes of fractions of a step", modes[accel.Steps]()),
			"landing": with(object(schema{
				"above": about("gain in task steps per detent above which the number lands on multiples of its steps", schema{"type": "integer", "minimum": 1, "maximum": accel.MaxGain * accel.MaxBase}),
			}), "above"),
		}),
		"press": with(object(schema{"coarse": about("task steps that a step counts after a push", schema{"type": "integer", "minimum": scenarios.MinPressCoarse, "maximum": scenarios.MaxPressCoarse})}), "coarse"),
	})
}

// curveSchema is what one kind of curve takes.
func curveSchema(k *accel.Kind) schema {
	s := object(schema{})
	set := func(in schema, p accel.Parameter) {
		v := quantity(quantityOf(p))
		if v["type"] == "number" {
			low := "minimum"
			if p.Above {
				low = "exclusiveMinimum"
			}
			v[low], v["maximum"] = p.Low, p.High
		}
		in["properties"].(schema)[p.Word] = about(p.About, v)
	}
	for _, p := range k.Parameters {
		set(s, p)
	}
	if r := k.Rows; r != nil {
		row := object(schema{})
		set(row, r.Rate)
		set(row, r.Gain)
		rows := arrayOf(with(row, r.Rate.Word, r.Gain.Word))
		rows["maxItems"] = accel.MaxSteps
		s["properties"].(schema)[r.Word] = rows
		return with(s, r.Word)
	}
	return s
}

func panelSchema() schema {
	name := schema{"type": "string"}
	rig := about("a built-in rig's name, or a rig file beside this one", name)
	use := with(object(schema{
		"task":     about("a built-in task's name, or a task file beside this one", name),
		"per_hour": about("how often it is done", quantity(scenarios.Fraction)),
	}), "task")
	knob := with(object(schema{
		"name": name, "rings": about("2 where an outer ring dials the larger part", schema{"enum": []int{1, 2}}),
		"rig":      schema{"anyOf": []any{rig, with(object(schema{"outer": rig, "inner": rig}), "inner")}},
		"selector": about("a button chooses which of the tasks the knob dials", schema{"type": "boolean"}),
		"tasks":    arrayOf(use),
	}), "name", "rig", "tasks")
	return with(object(schema{"title": name, "knobs": arrayOf(knob)}), "knobs")
}

func taskSchema() schema {
	amount := schema{"type": []string{"number", "string"}}
	pair := schema{"type": "array", "items": amount, "minItems": 2, "maxItems": 2}
	whole := quantity(scenarios.Whole)
	text := schema{"type": "string"}
	distribution := object(schema{
		"uniform": about("any number is as likely as any other", object(schema{
			"multiples_of": about("but of the share below only multiples of this", amount), "share": quantity(scenarios.Share),
		})),
		"list":  about("each number of it is as likely as any other", arrayOf(amount)),
		"pairs": about("real changes: a CSV file with the header from,to, rows of [from, to], or a built-in task's name", schema{"anyOf": []any{text, arrayOf(pair)}}),
		"near":  about("normal around a number, or else around the start", with(object(schema{"sd": amount, "around": amount}), "sd")),
		"move":  about("a distance whose logarithm is uniform, up or down", with(object(schema{"from": amount, "to": amount}), "from", "to")),
	})
	distribution["minProperties"], distribution["maxProperties"] = 1, 1
	return object(schema{
		"title": about("one line for lists", text), "source": about("where the numbers come from", text),
		"unit":          about("of every number below; may stand behind each", text),
		"range":         object(schema{"from": amount, "to": amount, "ends": about("what comes beyond the last number", words(ends...))}),
		"step":          about("what one detent at gain 1 adds", amount),
		"numbers":       about("instead of range and step: the numbers, rising", arrayOf(amount)),
		"called":        about("what one of these numbers is called, such as channel name", text),
		"channels":      about("instead of range and step: the numbers of a built-in task", text),
		"digits":        about("instead of range and step: digits dialed one by one", with(object(schema{"count": whole, "base": whole, "order": about("1 is the leftmost", arrayOf(whole)), "alarms": about("runs of codes that must not be passed", arrayOf(pair))}), "count")),
		"outer":         about("what one detent of an outer ring adds", amount),
		"outer_numbers": about("how many of the numbers one detent of an outer ring passes", whole),
		"tolerance":     about("how far off is near enough", amount),
		"limit":         about("a trial that takes longer is a timeout", quantity(scenarios.Time)),
		"effect":        about("what being a step off does, in another unit", with(object(schema{"per_step": amount, "unit": text, "nearest": about("told to the nearest so many", amount)}), "per_step", "unit")),
		"start":         about("where a trial starts", distribution), "target": about("what it asks for", distribution),
	})
}

func operatorSchema() schema {
	o := scenarios.Practised()
	all := object(schema{})
	p := all["properties"].(schema)
	cv := about("coefficient of variation between people", quantity(scenarios.Share))
	for _, x := range delays(&o) {
		p[x.key] = about(x.about, object(schema{"mean": quantity(scenarios.Time), "cv": cv}))
	}
	for _, x := range spreads(&o) {
		place(all, x.key, about(x.about, object(schema{"mean": quantity(x.q), "cv": cv})))
	}
	for _, x := range mistakes(&o) {
		p[x.key] = about(x.about, quantity(scenarios.Share))
	}
	return all
}
