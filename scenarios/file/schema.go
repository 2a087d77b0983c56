package file

import (
	"encoding/json"
	"fmt"
	"strings"

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
		"rig": rigSchema, "profile": profileSchema, "panel": panelSchema, "task": taskSchema, "operator": operatorSchema,
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

func arrayOf(items schema) schema { return schema{"type": "array", "items": items, "minItems": 1} }

func words(of ...string) schema { return schema{"enum": of} }

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
		"home": arrayOf(words(homes...)), "curves": arrayOf(words(scenarios.Curves()...)),
	})
	s["properties"].(schema)["adjustable"] = adjustable
	return s
}

func profileSchema() schema {
	number, rate, whole, time := quantity(scenarios.Fraction), quantity(scenarios.Rate), quantity(scenarios.Whole), quantity(scenarios.Time)
	settings := object(schema{})
	for _, k := range scenarios.Describe() {
		v := keySchema(k)
		v["description"] = k.About
		settings["properties"].(schema)[k.Name] = v
	}
	curve := object(schema{
		"constant": object(schema{"gain": number}),
		"ladder":   with(object(schema{"steps": arrayOf(with(object(schema{"above": rate, "gain": number}), "above", "gain")), "hysteresis": quantity(scenarios.Share)}), "steps"),
		"linear":   object(schema{"per": rate, "factor": number, "cap": number}),
		"power":    object(schema{"at": rate, "factor": number, "exponent": number, "cap": number}),
		"logistic": object(schema{"low": number, "high": number, "at": rate, "width": rate}),
		"table":    with(object(schema{"points": arrayOf(with(object(schema{"rate": rate, "gain": number}), "rate", "gain"))}), "points"),
	})
	curve["minProperties"], curve["maxProperties"] = 1, 1
	return object(schema{
		"settings": settings,
		"acceleration": object(schema{
			"home": words(homes...), "base": whole, "tick": words("1ms", "1us"),
			"rate":  object(schema{"from": words("last", "average", "window"), "over": time, "rest": time, "reversal": words("reset", "keep")}),
			"curve": curve, "steps": words("carry", "round"), "landing": with(object(schema{"above": whole}), "above"),
		}),
		"press": with(object(schema{"coarse": whole}), "coarse"),
	})
}

func panelSchema() schema {
	name := schema{"type": "string"}
	knob := object(schema{
		"name": name, "rings": schema{"enum": []int{1, 2}}, "selector": schema{"type": "boolean"},
		"rig":   schema{"anyOf": []any{name, object(schema{"outer": name, "inner": name})}},
		"tasks": arrayOf(with(object(schema{"task": name, "per_hour": quantity(scenarios.Fraction)}), "task")),
	})
	return with(object(schema{"title": name, "knobs": arrayOf(with(knob, "name", "rig", "tasks"))}), "knobs")
}

func taskSchema() schema {
	amount := schema{"type": []string{"number", "string"}}
	whole := quantity(scenarios.Whole)
	text := schema{"type": "string"}
	pair := schema{"type": "array", "items": amount, "minItems": 2, "maxItems": 2}
	distribution := object(schema{
		"uniform": object(schema{"multiples_of": amount, "share": quantity(scenarios.Share)}),
		"list":    arrayOf(amount),
		"pairs":   schema{"anyOf": []any{text, arrayOf(pair)}},
		"near":    with(object(schema{"sd": amount, "around": amount}), "sd"),
		"move":    with(object(schema{"from": amount, "to": amount}), "from", "to"),
	})
	return object(schema{
		"title": text, "source": text, "unit": text, "channels": text, "called": text,
		"effect": with(object(schema{"per_step": amount, "unit": text, "nearest": amount}), "per_step", "unit"),
		"range":  object(schema{"from": amount, "to": amount, "ends": words("stop", "wrap")}),
		"step":   amount, "numbers": arrayOf(amount), "outer": amount, "outer_numbers": whole, "tolerance": amount, "limit": quantity(scenarios.Time),
		"digits": with(object(schema{"count": whole, "base": whole, "order": arrayOf(whole), "alarms": arrayOf(pair)}), "count"),
		"start":  distribution, "target": distribution,
	})
}

func operatorSchema() schema {
	o := scenarios.Practised()
	p := schema{}
	cv := quantity(scenarios.Share)
	for _, x := range delays(&o) {
		p[x.key] = object(schema{"mean": quantity(scenarios.Time), "cv": cv})
	}
	for _, x := range spreads(&o) {
		p[x.key] = object(schema{"mean": quantity(x.q), "cv": cv})
	}
	for _, key := range []string{"wrong_ring", "wrong_mode", "push_turns"} {
		p[key] = cv
	}
	return object(p)
}
