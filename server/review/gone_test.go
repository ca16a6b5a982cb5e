package review_test

import (
	"net/url"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// A page about a wear or a letter never leaves out what could not be read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	n := store.RoleNurse
	f.File(1)
	w, dip := f.Dipper(2)
	at := door.WearAddress(w.ID)
	f.Must(n, at+"/claim", nil)
	f.Must(n, at+"/call", servertest.Symptom(dip))
	f.Must(n, at+"/note", url.Values{"note": {"rings back"}})
	f.Must(n, at+"/attempt", url.Values{"means": {"telephone"}, "reached": {"yes"}})
	f.Must(n, at+"/fingerstick", url.Values{"at": {dip.From.Format("2006-01-02T15:04")}, "value": {"3.3"}, "unit": {"mmol/L"}})
	letter := f.Must(n, at+"/letters", url.Values{"kind": {"clinician"}, "clinician-to": {"Dr Oru"}, "clinician-by": {f.Clock.Now().Format("2006-01-02")}})
	f.Tells(n, "/", at, at+"/call", at+"/words", at+"/outcome", at+"/letters", letter, "/letters", "/sheet", "/outbox", "/recalls")
}
