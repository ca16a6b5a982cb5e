package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"reflect"
	"slices"
	"strconv"

	"github.com/gin-gonic/gin"

	"wearround/web"
)

// apiBase is where the API of this version lies.
const apiBase = "/api/v1"

// scope is what a token may be used for; see [store.Scopes]. What its owner may
// not do, the token may not either.
type scope string

// operation is one line of the table that both the routes and the OpenAPI
// document are made from, so neither can say what the other does not do.
type operation struct {
	id, method, path string // path as in the document: /wears/{id}
	summary          string
	scope            scope
	who              access
	in, out          reflect.Type // structs; out may be none
	handle           func(*Server, *gin.Context) error
}

// none is the answer of an operation that has nothing to say: 204.
type none struct{}

// op makes an operation of a function. Fields of In tagged "path" or "query"
// come from the address, the others from the JSON body.
func op[In, Out any](id, method, path, summary string, sc scope, who access, do func(*Server, *gin.Context, In) (Out, error)) operation {
	in, out := reflect.TypeFor[In](), reflect.TypeFor[Out]()
	return operation{id: id, method: method, path: path, summary: summary, scope: sc, who: who, in: in, out: out,
		handle: func(s *Server, c *gin.Context) error {
			var v In
			if err := decode(c, reflect.ValueOf(&v).Elem()); err != nil {
				return err
			}
			answer, err := do(s, c, v)
			if err != nil {
				return err
			}
			if out == reflect.TypeFor[none]() {
				c.Status(http.StatusNoContent)
				return nil
			}
			b, err := json.Marshal(answer)
			if err != nil {
				return fmt.Errorf("write the answer of %s: %w", id, err)
			}
			c.Data(http.StatusOK, "application/json", b)
			return nil
		},
	}
}

// hasBody reports whether an operation reads a body.
func (o *operation) hasBody() bool { return len(fieldsOf(o.in)) > 0 }

// api runs one operation and answers in JSON.
func (s *Server) api(o operation) gin.HandlerFunc {
	return func(c *gin.Context) {
		if err := o.handle(s, c); err != nil {
			s.fail(c, err)
		}
	}
}

// decode fills the struct v from the request and refuses what the document
// does not allow: unknown parameters, unknown and missing members, values
// outside their list.
func decode(c *gin.Context, v reflect.Value) error {
	t, query := v.Type(), c.Request.URL.Query()
	for i := range t.NumField() {
		f := t.Field(i)
		if name := f.Tag.Get("path"); name != "" {
			id, err := strconv.ParseInt(c.Param(name), 10, 64)
			switch {
			case f.Type.Kind() == reflect.String:
				v.Field(i).SetString(c.Param(name))
			case err != nil || id < 1:
				return errNoPage
			default:
				v.Field(i).SetInt(id)
			}
		}
		if name := f.Tag.Get("query"); name != "" {
			if err := setQuery(v.Field(i), f, query.Get(name)); err != nil {
				return err
			}
			query.Del(name)
		}
	}
	for name := range query { // what is not understood would silently be left out
		return invalidField(name, "There is no such parameter.")
	}
	want := fieldsOf(t)
	if len(want) == 0 {
		return nil
	}
	if c.ContentType() != "application/json" {
		return invalid("Send the body as application/json.")
	}
	body, err := io.ReadAll(c.Request.Body)
	if err != nil {
		if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
			return errTooLong
		}
		return fmt.Errorf("read the body: %w", err)
	}
	return decodeBody(body, v, want)
}

func decodeBody(body []byte, v reflect.Value, want []jsonField) error {
	var given map[string]json.RawMessage
	if err := json.Unmarshal(body, &given); err != nil {
		return invalid("The body is not a JSON object.")
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(v.Addr().Interface()); err != nil {
		if e, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
			return invalidField(e.Field, "This has the wrong type.")
		}
		return invalid("The body holds a member that is not known, or a value that cannot be read. See the document of the API.")
	}
	for _, m := range want {
		raw, ok := given[m.name]
		if !m.optional && (!ok || string(raw) == "null") {
			return invalidField(m.name, "This is missing.")
		}
		if f := v.FieldByIndex(m.Index); ok && m.enum != nil && f.Kind() == reflect.String && !slices.Contains(m.enum, f.String()) {
			return invalidField(m.name, "This is not one of the values that are allowed.")
		}
	}
	return nil
}

func setQuery(v reflect.Value, f reflect.StructField, text string) error {
	name := f.Tag.Get("query")
	if text == "" {
		return nil
	}
	if e := enumOf(f); e != nil && !slices.Contains(e, text) {
		return invalidField(name, "This is not one of the values that are allowed.")
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(text)
	case reflect.Bool:
		b, err := strconv.ParseBool(text)
		if err != nil {
			return invalidField(name, "Write true or false.")
		}
		v.SetBool(b)
	default:
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 0 {
			return invalidField(name, "Write a whole number.")
		}
		v.SetInt(n)
	}
	return nil
}

// invalid is a problem of the request itself.
func invalid(sentence string) *problem {
	return &problem{status: http.StatusUnprocessableEntity, sentence: sentence, toDo: "Go back and try again."}
}

// invalidField is a problem of one member or parameter.
func invalidField(name, sentence string) *problem {
	p := invalid("Something in the request cannot be taken: " + name + ".")
	p.fields = []web.FieldError{{Field: name, Text: sentence}}
	return p
}
