package api

import (
	"reflect"
	"testing"
)

func FuzzDecodeBody(f *testing.F) {
	for _, s := range []string{`{"means":"post","reached":true}`, `{"means":null}`, `[]`, `{"reached":1,"reached":true}`, `{"at":"2026-01-02T03:04:05Z","means":"mail","reached":false}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		var in contactIn
		if err := decodeBody(body, reflect.ValueOf(&in).Elem(), fieldsOf(reflect.TypeFor[contactIn]())); err == nil && in.Means != "telephone" && in.Means != "message" && in.Means != "mail" && in.Means != "post" && in.Means != "in_person" {
			t.Errorf("%q gives the means %q", body, in.Means)
		}
	})
}
