package store_test

import (
	"reflect"
	"testing"
	"time"

	"wearround/store"
	"wearround/worker/wear"
)

// What the engine is given and the hash of the evidence leaves out changes
// without a new report: every field moves it, also one added later.
func TestEvidenceHoldsAllThatIsJudged(t *testing.T) {
	known := wear.Input{Zone: time.UTC}
	fillOne(reflect.ValueOf(&known).Elem())
	was, err := store.EvidenceOf(known)
	must(t, err)
	leaves(reflect.ValueOf(&known).Elem(), "", func(name string, v reflect.Value) {
		old := reflect.ValueOf(v.Interface())
		change(v)
		now, err := store.EvidenceOf(known)
		if must(t, err); now == was {
			t.Errorf("%s changes and the evidence does not", name)
		}
		v.Set(old)
	})
}

// fillOne puts one of each into every list.
func fillOne(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fillOne(v.Field(i))
		}
	case reflect.Slice:
		if v.CanSet() {
			v.Set(reflect.MakeSlice(v.Type(), 1, 1))
			fillOne(v.Index(0))
		}
	}
}

// leaves calls f with every value that is no list and no struct. The protocol is
// hashed with what is judged by, and a zone by its name.
func leaves(v reflect.Value, name string, f func(string, reflect.Value)) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if field := v.Type().Field(i); field.IsExported() {
				leaves(v.Field(i), name+"."+field.Name, f)
			}
		}
	case reflect.Slice:
		leaves(v.Index(0), name, f)
	case reflect.Pointer:
	default:
		f(name, v)
	}
}

func change(v reflect.Value) {
	switch v.Kind() {
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.String:
		v.SetString(v.String() + "x")
	case reflect.Float64:
		v.SetFloat(v.Float() + 1)
	case reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64, reflect.Uint:
		v.SetUint(v.Uint() + 1)
	default:
		v.SetInt(v.Int() + 1)
	}
}

// A date of birth that is put right judges anew in the same act.
func TestBirthDateJudgesAnew(t *testing.T) {
	w := newWard(t)
	before, err := w.Wear(ctx, w.wear)
	must(t, err)
	r, err := w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	r.BirthDate, r.Context.BirthYear = "2018-05-01", 0
	must(t, w.EditPatient(ctx, w.nurse, r))
	after, err := w.Wear(ctx, w.wear)
	if must(t, err); before.Evidence == after.Evidence {
		t.Error("the same evidence for a child as for a grown-up")
	}
	r, err = w.PatientRecord(ctx, w.patient.ID)
	must(t, err)
	r.Context.BirthYear = 1980
	wants(t, w.EditPatient(ctx, w.nurse, r), store.Invalid, "the year of birth says 1980")
}
