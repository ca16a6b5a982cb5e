package review_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// TestNotThisPatients moves a wear to whose it is: the page says who that is by
// name and birth date and asks once more, and the wear can be moved back.
func TestNotThisPatients(t *testing.T) {
	f := servertest.New(t)
	w, err := f.Store.Wear(t.Context(), f.File(1))
	if err != nil {
		t.Fatal(err)
	}
	was, other := w.Patient, storetest.AddPatient(t, f.Store, 70)
	path := door.WearAddress(w.ID) + "/move"
	ask := url.Values{"code": {other.Code}, "reason": {"two sensors were mixed up"}, "results": {"no"}}
	owner := func() string {
		t.Helper()
		now, err := f.Store.Wear(t.Context(), w.ID)
		if err != nil {
			t.Fatal(err)
		}
		return now.Patient.Code
	}
	first := f.AskAs(store.RoleNurse, http.MethodPost, path, ask)
	if body := first.Body.String(); first.Code != http.StatusUnprocessableEntity || owner() != was.Code ||
		!strings.Contains(body, other.Name) || !strings.Contains(body, other.BirthDate) || !strings.Contains(body, `name="sure" value="`+other.Code) {
		t.Fatalf("status %d, the wear is %s's: %s", first.Code, owner(), servertest.SaidOn(first))
	}
	ask.Set("code", "no-such")
	if w := f.AskAs(store.RoleNurse, http.MethodPost, path, ask); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "No patient on the register") {
		t.Errorf("a code that nobody has: status %d", w.Code)
	}
	for _, to := range []string{other.Code, was.Code} {
		ask.Set("code", to)
		ask.Set("sure", to)
		if f.Must(store.RoleNurse, path, ask); owner() != to {
			t.Errorf("moved to %s, the wear is %s's", to, owner())
		}
	}
}
