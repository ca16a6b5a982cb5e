package api

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"wearround/worker/wear"
)

// schema is one JSON Schema (2020-12).
type schema map[string]any

// schemas makes schemas from Go types, so that the document cannot differ from
// what is sent. Structs are named once and referred to.
type schemas struct {
	named map[string]schema
	types map[string]reflect.Type
}

func newSchemas() *schemas {
	return &schemas{named: map[string]schema{}, types: map[string]reflect.Type{}}
}

var (
	timeType   = reflect.TypeFor[time.Time]()
	figureType = reflect.TypeFor[wear.Figure]()
)

// of is the schema of what a value of type t is written as. It panics for a
// type that has none or a name that two types share: a fault of the table of
// operations, which a test builds.
func (s *schemas) of(t reflect.Type) schema {
	switch t {
	case timeType:
		return schema{"type": "string", "format": "date-time"}
	case figureType:
		return schema{"type": []string{"number", "null"}, "description": "null where there is not enough data"}
	}
	switch t.Kind() {
	case reflect.Bool:
		return schema{"type": "boolean"}
	case reflect.Int, reflect.Int32, reflect.Int64, reflect.Uint8, reflect.Uint32:
		return schema{"type": "integer"}
	case reflect.Float64:
		return schema{"type": "number"}
	case reflect.String:
		return schema{"type": "string"}
	case reflect.Slice:
		return schema{"type": "array", "items": s.of(t.Elem())}
	case reflect.Map:
		return schema{"type": "object", "additionalProperties": s.of(t.Elem())}
	case reflect.Pointer:
		return schema{"anyOf": []schema{s.of(t.Elem()), {"type": "null"}}}
	case reflect.Struct:
		return s.refer(t)
	}
	panic(fmt.Sprintf("server: no JSON schema for %v", t))
}

func (s *schemas) refer(t reflect.Type) schema {
	name := strings.TrimPrefix(t.Name(), "api")
	ref := schema{"$ref": "#/components/schemas/" + name}
	if had, ok := s.types[name]; ok {
		if had != t {
			panic(fmt.Sprintf("server: two types are both called %s in the API: %v and %v", name, had, t))
		}
		return ref
	}
	s.types[name] = t
	s.named[name] = s.object(t)
	return ref
}

// object is the schema of a struct's JSON members.
func (s *schemas) object(t reflect.Type) schema {
	properties := map[string]schema{}
	required := []string{}
	for _, m := range fieldsOf(t) {
		p := s.of(m.Type)
		if m.enum != nil {
			p["enum"] = m.enum
		}
		if d := m.Tag.Get("doc"); d != "" {
			p["description"] = d
		}
		properties[m.name] = p
		if !m.optional {
			required = append(required, m.name)
		}
	}
	o := schema{"type": "object", "properties": properties, "additionalProperties": false}
	if len(required) > 0 {
		o["required"] = required
	}
	return o
}

// jsonField is one field of a struct that stands in its JSON.
type jsonField struct {
	reflect.StructField
	name     string
	optional bool
	enum     []string
}

// fieldsOf lists the JSON members of a struct; those of an embedded struct
// without a name of its own count as its own.
func fieldsOf(t reflect.Type) []jsonField {
	var out []jsonField
	for i := range t.NumField() {
		f := t.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case name == "-" || !f.IsExported() && !f.Anonymous:
			continue
		case f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct:
			for _, m := range fieldsOf(f.Type) {
				m.Index = append(slices.Clone(f.Index), m.Index...)
				out = append(out, m)
			}
			continue
		case name == "":
			name = f.Name
		}
		m := jsonField{StructField: f, name: name, optional: strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero")}
		m.enum = enumOf(f)
		out = append(out, m)
	}
	return out
}

// enumOf lists the values that a field may have, where they are listed.
func enumOf(f reflect.StructField) []string {
	if e := f.Tag.Get("enum"); e != "" {
		return strings.Split(e, "|")
	}
	return nil
}
