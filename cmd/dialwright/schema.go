package main

import (
	"encoding/json"
	"path"
	"reflect"
	"strings"

	"github.com/invopop/jsonschema"

	"dialwright/scenarios/evidence"
	"dialwright/scenarios/file"
	"dialwright/scenarios/report"
	"dialwright/scenarios/survey"
	"dialwright/scenarios/workbench"
)

// evidenceReport is what evidence writes.
type evidenceReport struct {
	Kinds  map[evidence.Kind]evidence.Tally `json:"kinds"`
	Checks []evidence.Check                 `json:"checks"`
}

// results are the commands with a schema for their JSON, by what they write below the
// header; decide is what tune writes with --decide, over with --over.
func results() []workbench.Reported {
	list := []workbench.Reported{{Word: "evidence", Of: evidenceReport{}}, {Word: "report", Of: report.Report{}}, {Word: "survey", Of: survey.Report{}}}
	for _, study := range workbench.Commands(func() file.Loader { return file.Loader{} }) {
		list = append(list, study.Command().Reports...)
	}
	return list
}

// resultSchema returns the JSON Schema of a command's JSON, made from the structures
// that are written; nil for a command that has none.
func resultSchema(name string) ([]byte, error) {
	for _, r := range results() {
		if r.Word != name {
			continue
		}
		reflector := jsonschema.Reflector{
			Anonymous: true, ExpandedStruct: true, AllowAdditionalProperties: true,
			Namer: func(t reflect.Type) string { // of several packages, each with its Report
				if t.Name() == "" || t.PkgPath() == "" {
					return ""
				}
				return path.Base(t.PkgPath()) + "." + t.Name()
			},
		}
		whole, defs := schemaOf(&reflector, r.Of)
		head, more := schemaOf(&reflector, workbench.Header{})
		for of, d := range more {
			defs[of] = d
		}
		properties := whole["properties"].(map[string]any)
		for key, p := range head["properties"].(map[string]any) {
			properties[key] = p
		}
		command, title := name, name
		if name == "decide" || name == "over" {
			command, title = "tune", "tune --"+name
		}
		properties["command"] = map[string]any{"const": command}
		properties["format"] = map[string]any{"const": workbench.Format}
		required, _ := whole["required"].([]any)
		whole["required"] = append(head["required"].([]any), required...)
		whole["$defs"] = defs
		whole["title"] = "dialwright " + title + " --format json"
		return json.MarshalIndent(whole, "", "  ")
	}
	return nil, nil
}

// schemaOf returns the schema of a structure and those that it refers to. What is a
// pointer may be null.
func schemaOf(r *jsonschema.Reflector, of any) (whole, defs map[string]any) {
	text, err := json.Marshal(r.Reflect(of))
	if err == nil {
		err = json.Unmarshal(text, &whole)
	}
	if err != nil {
		panic(err) // the structures are part of the program
	}
	if defs, _ = whole["$defs"].(map[string]any); defs == nil {
		defs = map[string]any{}
	}
	seen := map[reflect.Type]bool{}
	var nullable func(t reflect.Type, properties map[string]any)
	nullable = func(t reflect.Type, properties map[string]any) {
		for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct || seen[t] && properties == nil {
			return
		}
		seen[t] = true
		if properties == nil {
			d, _ := defs[r.Namer(t)].(map[string]any)
			properties, _ = d["properties"].(map[string]any)
		}
		for i := range t.NumField() {
			f := t.Field(i)
			if f.Anonymous && f.Tag.Get("json") == "" {
				nullable(f.Type, properties)
				continue
			}
			name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
			p, ok := properties[name]
			if ok && (f.Type.Kind() == reflect.Pointer || f.Type.Kind() == reflect.Slice || f.Type.Kind() == reflect.Map) && !strings.Contains(options, "omitempty") {
				properties[name] = map[string]any{"anyOf": []any{p, map[string]any{"type": "null"}}}
			}
			nullable(f.Type, nil)
		}
	}
	nullable(reflect.TypeOf(of), whole["properties"].(map[string]any))
	return whole, defs
}
