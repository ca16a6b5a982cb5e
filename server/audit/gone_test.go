package audit_test

import (
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
)

// A page of the year, the log or the system never leaves out what could not be
// read.
func TestPagesTellWhatIsGone(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	at := f.Now().Add(-time.Minute)
	if _, err := f.Store.KeepAudit(t.Context(), f.Actor(store.RoleLead), store.Span{From: at.AddDate(0, -1, 0), To: at}, at, f.Zone, ""); err != nil {
		t.Fatal(err)
	}
	p := *f.Protocol()
	p.Version = "of the test"
	id, err := f.Store.DraftProtocol(t.Context(), f.Actor(store.RoleLead), &p)
	if err != nil {
		t.Fatal(err)
	}
	draft := "/protocol/versions/" + door.IDText(id)
	f.Tells(store.RoleLead, "/log") // alone: it and System show that other pages were looked at
	f.Tells(store.RoleLead, "/system")
	f.Tells(store.RoleLead, "/audit", "/audit.csv", "/audit/kept/1", "/protocol", "/protocol/draft?from="+door.IDText(id), draft, draft+"/file", draft+"/what-if")
}
