package api

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/door"
	"wearround/server/view"
)

// API answers programs.
type API struct {
	*door.Door
	*act.Acts
	*view.View
	document []byte // of the API, in OpenAPI's form
}

// New makes the API and its document.
func New(d *door.Door, acts *act.Acts, v *view.View) *API {
	doc, err := document(operations)
	if err != nil {
		panic("api: its document: " + err.Error()) // made of our own types; a test builds it
	}
	return &API{d, acts, v, doc}
}

// Routes are the operations as lines of the server's map.
func (s *API) Routes() []door.Route {
	var out []door.Route
	for _, o := range operations {
		path := door.APIBase + strings.NewReplacer("{", ":", "}", "").Replace(o.path)
		out = append(out, door.Route{Method: o.method, Path: path, Who: o.who, Scope: o.scope, Handle: s.answer(o), Body: door.MaxAPIBody, Reply: o.reply})
	}
	return out
}

// operation is one line of the table that both the routes and the OpenAPI
// document are made from, so neither can say what the other does not do.
type operation struct {
	id, method, path string // path as in the document: /wears/{id}
	summary          string
	scope            door.Scope
	who              door.Access
	in, out          reflect.Type // structs; out may be none
	handle           func(*API, *gin.Context) ([]byte, error)

	// makes is where what the operation makes can be read, by itself or in what
	// holds it: {…} stands for a member of the answer and :… for one of the
	// address. "" is an operation that makes nothing.
	makes string
}

// making is the operation, which makes something.
func (o operation) making(at string) operation {
	o.makes = at
	return o
}

// status is that of what was done.
func (o *operation) status() int {
	switch {
	case o.out == reflect.TypeFor[none]():
		return http.StatusNoContent
	case o.makes != "":
		return http.StatusCreated
	}
	return http.StatusOK
}

// place is a part of [operation.makes] that stands for something.
var place = regexp.MustCompile(`[:{]\w+}?`)

// reply answers what was done.
func (o operation) reply(c *gin.Context, answer []byte) {
	if o.makes != "" {
		var made map[string]any
		d := json.NewDecoder(bytes.NewReader(answer))
		d.UseNumber() // as it is written
		if err := d.Decode(&made); err != nil {
			panic("api: an answer of " + o.id + " cannot be read: " + err.Error()) // we wrote it
		}
		c.Header("Location", door.APIBase+place.ReplaceAllStringFunc(o.makes, func(p string) string {
			if p[0] == ':' {
				return c.Param(p[1:])
			}
			return fmt.Sprint(made[p[1:len(p)-1]])
		}))
	}
	if o.status() == http.StatusNoContent {
		c.Status(http.StatusNoContent)
		return
	}
	c.Data(o.status(), "application/json", answer)
}

// none is the answer of an operation that has nothing to say: 204.
type none struct{}

// op makes an operation of a function. Fields of In tagged "path" or "query"
// come from the address, the others from the JSON body.
func op[In, Out any](id, method, path, summary string, sc door.Scope, who door.Access, do func(*API, *gin.Context, In) (Out, error)) operation {
	in, out := reflect.TypeFor[In](), reflect.TypeFor[Out]()
	return operation{id: id, method: method, path: path, summary: summary, scope: sc, who: who, in: in, out: out,
		handle: func(s *API, c *gin.Context) ([]byte, error) {
			var v In
			if err := decode(c, reflect.ValueOf(&v).Elem()); err != nil {
				return nil, err
			}
			answer, err := do(s, c, v)
			if err != nil || out == reflect.TypeFor[none]() {
				return nil, err
			}
			b, err := json.Marshal(answer)
			if err != nil {
				return nil, fmt.Errorf("write the answer of %s: %w", id, err)
			}
			return b, nil
		},
	}
}

// hasBody reports whether an operation reads a body.
func (o *operation) hasBody() bool { return len(fieldsOf(o.in)) > 0 }

// answer runs one operation and answers in JSON.
func (s *API) answer(o operation) gin.HandlerFunc {
	return func(c *gin.Context) {
		b, err := o.handle(s, c)
		if err != nil {
			s.Fail(c, err)
			return
		}
		s.KeepAnswer(c, b)
		o.reply(c, b)
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
				return door.ErrNoPage
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
		return door.InvalidField(name, "There is no such parameter.")
	}
	want := fieldsOf(t)
	if len(want) == 0 {
		return nil
	}
	if c.ContentType() != "application/json" {
		return door.Invalid("Send the body as application/json.")
	}
	body, err := io.ReadAll(c.Request.Body)
	if err != nil {
		if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
			return door.ErrTooLong
		}
		return fmt.Errorf("read the body: %w", err)
	}
	return decodeBody(body, v, want)
}

func decodeBody(body []byte, v reflect.Value, want []jsonField) error {
	var given map[string]json.RawMessage
	if err := json.Unmarshal(body, &given); err != nil {
		return door.Invalid("The body is not a JSON object.")
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	if err := d.Decode(v.Addr().Interface()); err != nil {
		if e, ok := errors.AsType[*json.UnmarshalTypeError](err); ok {
			return door.InvalidField(e.Field, "This has the wrong type.")
		}
		return door.Invalid("The body holds a member that is not known, or a value that cannot be read. See the document of the API.")
	}
	for _, m := range want {
		raw, ok := given[m.name]
		if !m.optional && (!ok || string(raw) == "null") {
			return door.InvalidField(m.name, "This is missing.")
		}
		if f := v.FieldByIndex(m.Index); ok && m.enum != nil && f.Kind() == reflect.String && !slices.Contains(m.enum, f.String()) {
			return door.InvalidField(m.name, "This is not one of the values that are allowed.")
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
		return door.InvalidField(name, "This is not one of the values that are allowed.")
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(text)
	case reflect.Bool:
		b, err := strconv.ParseBool(text)
		if err != nil {
			return door.InvalidField(name, "Write true or false.")
		}
		v.SetBool(b)
	default:
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 0 {
			return door.InvalidField(name, "Write a whole number.")
		}
		v.SetInt(n)
	}
	return nil
}
