package audit_test

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/worker/wear"
)

func TestSystemPage(t *testing.T) {
	var notes []store.Anchor
	fault := error(nil)
	f := servertest.New(t, func(c *door.Config) {
		c.Anchors = func() ([]store.Anchor, error) { return notes, fault }
	})
	f.File(1)
	ctx := t.Context()
	now := f.Clock.Now()
	if err := f.Store.RecordRun(ctx, "archive_check", now.Add(-time.Hour), 300*time.Millisecond, "2 originals are missing from the archive"); err != nil {
		t.Fatal(err)
	}
	for n := range int64(8) {
		notes = append(notes, store.Anchor{Seq: 100 + n, MAC: store.Digest{byte(n), 0xAB}, At: now.Add(time.Duration(n) * time.Minute)})
	}
	says := func(want ...string) {
		t.Helper()
		w := f.AskAs(store.RoleClinician, http.MethodGet, "/system", nil)
		if w.Code != http.StatusOK {
			t.Fatalf("status %d", w.Code)
		}
		body := w.Body.String()
		for _, x := range want {
			if !strings.Contains(body, x) {
				t.Errorf("the page does not say %q", x)
			}
		}
		for _, secret := range []string{"P00001", "Balen"} { // of the invented patient
			if strings.Contains(body, secret) {
				t.Errorf("the page names a patient: %q", secret)
			}
		}
	}
	says("something needs somebody", "2 originals are missing from the archive.", "it never ran well", "See that the log holds together", "Has not run yet.", "07ab00000000", "Patients</dt><dd>1<")
	if body := f.Ask(http.MethodGet, "/system", nil).Body.String(); strings.Contains(body, "02ab00000000") {
		t.Error("more notes are shown than the latest")
	}

	fault = errors.New("the share is gone")
	says("second place where the log is noted cannot be read")

	f.Clock.Advance(time.Hour)
	f.SignIn(store.RoleClinician) // the session ended meanwhile
	says("Not all is well", "longer ago than it should be", "The round may be incomplete")
	f.Beat(false, "the folder is gone")
	says("Not all is well", "The folder is gone.")
}

// The protocol's page lists every setting, and its file is the protocol itself.
func TestProtocolPage(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	body := f.AskAs(store.RoleNurse, http.MethodGet, "/protocol", nil).Body.String()
	for _, x := range f.Protocol().Settings() {
		if !strings.Contains(body, `id="`+x.Name+`"`) {
			t.Errorf("the page lacks %s", x.Name)
		}
	}
	if !strings.Contains(body, "is an unsigned proposal") {
		t.Error("the page does not say that nobody signed")
	}
	w := f.AskAs(store.RoleAuditor, http.MethodGet, "/protocol.json", nil)
	if w.Header().Get("Content-Disposition") == "" {
		t.Error("the file is not offered to be saved")
	}
	got := new(wear.Protocol)
	if err := json.Unmarshal(w.Body.Bytes(), got); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(f.Protocol(), got); d != "" {
		t.Error(d)
	}
}

// The tour leads to the first wear of the round, and to the round where there
// is none.
func TestTourLeadsToAWear(t *testing.T) {
	f := servertest.New(t)
	if body := f.AskAs(store.RoleNurse, http.MethodGet, "/help/tour?step=4", nil).Body.String(); strings.Contains(body, "/wears/") {
		t.Error("the tour of an empty practice leads to a wear")
	}
	id := f.File(1)
	if body := f.AskAs(store.RoleNurse, http.MethodGet, "/help/tour?step=4", nil).Body.String(); !strings.Contains(body, `href="/wears/`+door.IDText(id)+`"`) {
		t.Error("the tour does not lead to the first wear")
	}
}
