package handout_test

import (
	"net/http"
	"net/url"
	"testing"

	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

func typed(code string, more ...string) url.Values {
	v := url.Values{"code": {code}, "given": {"2026-06-01"}, "kind": {"A"}, "serial": {"0417-2"}, "asked": {"yes"}, "asked_on": {"2026-06-01"}}
	for i := 0; i < len(more); i += 2 {
		v.Add(more[i], more[i+1])
	}
	return v
}

// TestHandOut: one form gives a sensor to somebody new and shows the start
// sheet; the wearer then stands on the list.
func TestHandOut(t *testing.T) {
	f := servertest.New(t)
	f.Has(store.RoleNurse, "/out", "No sensor is out")
	sheet := f.Must(store.RoleNurse, "/out", typed("P-7", "name", "Lumo Tevi", "birth", "1961-03-04", "phone", "(02) 5550 0007", "context", "pregnant"))
	f.Has(store.RoleNurse, sheet, "Lumo Tevi", "18 Jun", "Your two weeks with a sensor")
	f.Has(store.RoleNurse, "/out", "1 sensor out", "Lumo Tevi", "kind A, serial 0417-2", "nobody has tried yet")
	f.Has(store.RoleNurse, "/out?open=1", "tel:0255500007", "Record the try")
	if to := f.Must(store.RoleNurse, "/recalls/1/attempt", url.Values{"means": {"telephone"}, "reached": {"no"}}); to != "/out#recall-1" {
		t.Errorf("after a try it goes on at %s", to)
	}
	if w := f.AskAs(store.RoleNurse, http.MethodPost, "/recalls/1/cancel", url.Values{}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("given up without a reason: status %d", w.Code)
	}
	f.Must(store.RoleNurse, "/recalls/1/cancel", url.Values{"reason": {"fell off on the first day"}})
	f.Has(store.RoleNurse, "/out", "No sensor is out")
	f.Has(store.RoleNurse, "/recalls", "No recall is open")
}

// TestHandOutConfirmsATypedCode: nobody gets another's sensor by a slip of the
// finger.
func TestHandOutConfirmsATypedCode(t *testing.T) {
	f := servertest.New(t)
	who := storetest.AddPatient(t, f.Store, 1)
	w := f.AskAs(store.RoleNurse, http.MethodPost, "/out", typed(who.Code))
	if w.Code != http.StatusUnprocessableEntity {
		t.Fatalf("status %d: %s", w.Code, servertest.SaidOn(w))
	}
	f.Has(store.RoleNurse, "/out/new?patient=1", who.Name)
	f.Must(store.RoleNurse, "/out", typed(who.Code, "patient", "1"))
	rec, err := f.Store.PatientRecord(t.Context(), who.ID)
	if err != nil || rec.Name != who.Name || rec.BirthDate != who.BirthDate || rec.Context.AskedOn != "2026-06-01" {
		t.Errorf("the entry is now %+v (%v)", rec, err)
	}
}
