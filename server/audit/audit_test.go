package audit_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// TestAudit asks for the page, the list and the numbers of a period with one
// wear that was worked and one that was not, and finds the looks in the log.
func TestAudit(t *testing.T) {
	f := servertest.New(t)
	ctx := t.Context()
	id := f.File(1)
	f.File(2)
	if _, err := f.Store.Claim(ctx, f.Actor(store.RoleClinician), id); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Store.RecordOutcome(ctx, f.Actor(store.RoleClinician), store.NewOutcome{WearID: id, Kind: store.OffPathway, Reason: "looked after elsewhere", Seen: storetest.Seen(t, f.Store, id)}); err != nil {
		t.Fatal(err)
	}
	f.Clock.Advance(48 * time.Hour)
	f.SignIn(store.RoleAuditor)
	page := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit", nil)
	if page.Code != http.StatusOK || !strings.Contains(page.Body.String(), "Of 2 wears read") || !strings.Contains(page.Body.String(), "Off this pathway") {
		t.Errorf("status %d: %s", page.Code, page.Body)
	}
	from, to := f.Now().AddDate(-2, 0, 0).Format(time.DateOnly), f.Now().AddDate(-1, 0, 0).Format(time.DateOnly)
	if w := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit?from="+from+"&to="+to, nil); !strings.Contains(w.Body.String(), "Nothing came in this period") {
		t.Errorf("a period before everything: %s", w.Body)
	}
	if w := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit?from="+to+"&to="+from, nil); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "The last day lies before the first.") {
		t.Errorf("a period that ends before it begins: status %d", w.Code)
	}
	list := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit.csv", nil)
	if list.Header().Get("Content-Type") != "text/csv; charset=utf-8; header=present" || !strings.HasPrefix(list.Header().Get("Content-Disposition"), `attachment; filename="audit-20`) {
		t.Errorf("the list comes as %v", list.Header())
	}
	if !strings.Contains(list.Body.String(), ",Today,under 10\r\n") {
		t.Errorf("the list: %s", list.Body)
	}
	if w := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit.csv?from="+to+"&to="+from, nil); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("the list of no period: status %d", w.Code)
	}
	f.Clock.Advance(48 * time.Hour)
	f.SignIn(store.RoleAuditor)
	day, today := f.Now().AddDate(0, 0, -1).Format(time.DateOnly), f.Now().Format(time.DateOnly)
	span := url.Values{"from": {f.Now().AddDate(0, 0, -9).Format(time.DateOnly)}, "to": {day}, "as_of": {day}, "change": {"ring sooner"}}
	if w := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit?"+span.Encode(), nil); !strings.Contains(w.Body.String(), "Keep this audit") || !strings.Contains(w.Body.String(), "as_of="+day) {
		t.Errorf("as of a day that is over: status %d", w.Code)
	}
	if w := f.AskAs(store.RoleAuditor, http.MethodGet, "/audit?as_of="+today, nil); !strings.Contains(w.Body.String(), "as of a day that is over") {
		t.Errorf("as of today: %s", w.Body)
	}
	f.Must(store.RoleAuditor, "/audit/keep", span)
	if w := f.AskAs(store.RoleAuditor, http.MethodPost, "/audit/keep", span); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "kept already") {
		t.Errorf("kept twice: status %d", w.Code)
	}
	f.File(3)
	f.Has(store.RoleAuditor, "/audit/kept/1", "Of 2 wears read", "ring sooner", "Kept by Audo Auditor", "Where a count of today says otherwise")
	f.Has(store.RoleAuditor, "/audit", `href="/audit/kept/1"`)
	rows, err := f.Store.LogRows(ctx, store.LogQuery{Object: "audit", Action: "view", Limit: 20})
	if err != nil || len(rows) != 11 || rows[0].Actor.ID != f.People[store.RoleAuditor].ID {
		t.Errorf("the looks in the log: %+v, %v", rows, err)
	}
}
