package register_test

import (
	"net/url"
	"testing"
	"time"

	"wearround/server/servertest"
	"wearround/store"
)

// A page about patients never leaves out what could not be read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	n := store.RoleNurse
	f.File(1)
	f.File(2)
	patient := "/patients/1"
	f.Must(n, patient+"/note", url.Values{"note": {"rings back"}})
	f.Must(n, patient+"/recalls", url.Values{"kind": {"review"}, "by": {f.Clock.Now().Add(48 * time.Hour).Format(time.DateOnly)}})
	f.Must(n, patient+"/results", url.Values{"test": {"hba1c"}, "value": {"39"}, "unit": {"mmol/mol"}, "taken": {f.Clock.Now().Format(time.DateOnly)}})
	f.Tells(n, "/patients", patient, patient+"/edit", patient+"/merge")
}
