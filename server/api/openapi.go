// Package api answers programs: the same acts as the pages, in JSON, with the
// document that describes them.
package api

import (
	"encoding/json"
	"net/http"
	"reflect"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/door"
)

// document is the OpenAPI 3.1 description of the operations, made once.
func document(operations []operation) ([]byte, error) {
	s := newSchemas()
	paths := map[string]map[string]any{}
	for _, o := range operations {
		if paths[door.APIBase+o.path] == nil {
			paths[door.APIBase+o.path] = map[string]any{}
		}
		paths[door.APIBase+o.path][strings.ToLower(o.method)] = describe(s, o)
	}
	problem := s.of(reflect.TypeFor[door.ApiProblem]())
	return json.MarshalIndent(map[string]any{
		"openapi": "3.1.1",
		"info": map[string]any{
			"title":       "wearround",
			"version":     "1",
			"description": "Everything that the pages of wearround show and take. It orders work and shows evidence; it does not diagnose. Times are RFC 3339; a figure that cannot be given is null. Every report names the protocol by whose limits it was made.",
		},
		"servers":  []map[string]any{{"url": "/"}},
		"security": []map[string]any{{"token": []string{}}},
		"paths":    paths,
		"components": map[string]any{
			"schemas": s.named,
			"securitySchemes": map[string]any{"token": map[string]any{
				"type": "http", "scheme": "bearer",
				"description": "A token made with “wearround token”. Its scopes limit what it may be used for; what its owner may not do, it may not either.",
			}},
			"responses": map[string]any{"Problem": map[string]any{
				"description": "Why it was not done",
				"content":     map[string]any{"application/problem+json": map[string]any{"schema": problem}},
			}},
		},
	}, "", " ")
}

func describe(s *schemas, o operation) map[string]any {
	d := map[string]any{
		"operationId": o.id, "summary": o.summary, "description": "Needs the scope " + string(o.scope) + " and one of the roles " + roleList(o.who) + ".",
		"tags": []string{strings.Split(strings.Trim(o.path, "/"), "/")[0]},
	}
	var parameters []map[string]any
	for i := range o.in.NumField() {
		f := o.in.Field(i)
		where, name := "path", f.Tag.Get("path")
		if name == "" {
			where, name = "query", f.Tag.Get("query")
		}
		if name == "" {
			continue
		}
		p := s.of(f.Type)
		if e := enumOf(f); e != nil {
			p["enum"] = e
		}
		parameter := map[string]any{"name": name, "in": where, "required": where == "path", "schema": p}
		if doc := f.Tag.Get("doc"); doc != "" {
			parameter["description"] = doc
		}
		parameters = append(parameters, parameter)
	}
	if parameters != nil {
		d["parameters"] = parameters
	}
	if o.hasBody() {
		d["requestBody"] = map[string]any{"required": true, "content": jsonContent(s.object(o.in))}
	}
	answer := map[string]any{"description": "Done"}
	if o.status() != http.StatusNoContent {
		answer["content"] = jsonContent(s.of(o.out))
	}
	if o.makes != "" {
		answer["description"] = "Made"
		answer["headers"] = map[string]any{"Location": map[string]any{
			"description": "where what was made can be read, by itself or in what holds it", "required": true,
			"schema": map[string]any{"type": "string", "format": "uri-reference"},
		}}
	}
	d["responses"] = map[string]any{
		strconv.Itoa(o.status()): answer,
		"default":                map[string]any{"$ref": "#/components/responses/Problem"},
	}
	return d
}

func jsonContent(s schema) map[string]any {
	return map[string]any{"application/json": map[string]any{"schema": s}}
}

func roleList(a door.Access) string {
	var names []string
	for _, r := range a {
		names = append(names, string(r))
	}
	return strings.Join(names, ", ")
}

// OpenAPI serves the document to whoever is signed in or holds a token.
func (s *API) OpenAPI(c *gin.Context) {
	c.Data(http.StatusOK, "application/json", s.document)
}
