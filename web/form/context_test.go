package form

import (
	"reflect"
	"testing"
	"time"
)

// Everything about a patient that changes a rule has a box on the form: saving
// the form would lose what has none.
func TestFormHasABoxForAllContext(t *testing.T) {
	var r PatientRecord
	r.Patient.Code = "P-0417"
	c := reflect.ValueOf(&r.Context).Elem()
	for i := range c.NumField() {
		if f := c.Field(i); f.Kind() == reflect.Bool {
			f.SetBool(true)
		}
	}
	back, wrong := ParsePatient(r.Values(), time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC))
	if len(wrong) > 0 || back.Context != r.Context {
		t.Errorf("%+v came back as %+v; %v", r.Context, back.Context, wrong)
	}
}
