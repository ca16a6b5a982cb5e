package settings_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// TestSettings: what a lead sets stands on the next letter and sheet, and what
// was given at the start holds over it.
func TestSettings(t *testing.T) {
	f := servertest.New(t, func(c *door.Config) { c.Telephone, c.Backups = "", "/copies" })
	f.Has(store.RoleNurse, "/settings", "/copies", "no good copy so far")
	if err := f.Store.RecordRun(t.Context(), "backup", f.Now().Add(-90*time.Minute), time.Second, ""); err != nil {
		t.Fatal(err)
	}
	f.Has(store.RoleNurse, "/settings", "the newest good copy is of", "1 h 30 ago")
	f.Has(store.RoleLead, "/system", "/copies", "1 h 30 ago")
	f.Has(store.RoleNurse, "/settings", "First day", "A lead of the practice can change them")
	set := url.Values{"name": {"Another name"}, "telephone": {"5550 4321"}, "emergency": {"000"}, "address": {"1 Nowhere Street"}, "alarm_high": {"10.0 mmol/L"}}
	if w := f.AskAs(store.RoleNurse, http.MethodPost, "/settings", set); w.Code != http.StatusForbidden {
		t.Errorf("a nurse: status %d", w.Code)
	}
	if w := f.AskAs(store.RoleLead, http.MethodPost, "/settings", url.Values{"alarm_high": {"20"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("half a form: status %d", w.Code)
	}
	f.Must(store.RoleLead, "/settings", set)
	f.Has(store.RoleLead, "/settings", "Another name", "Given at the start", "Practice of Ludo Street")
	f.Has(store.RoleNurse, "/letters/sheets/wear_start", "5550 4321", "the high one to 10.0 mmol/L", "Practice of Ludo Street")
}
