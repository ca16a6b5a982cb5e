package server

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// tracksOf asks for a window of a wear as its open page does.
func (f *fixture) tracksOf(role store.Role, wearID int64, query string) (int, string) {
	f.t.Helper()
	w := f.askAs(role, http.MethodGet, wearAddress(wearID)+query, nil, func(r *http.Request) { r.Header.Set("X-Fragment", "tracks") })
	return w.Code, w.Body.String()
}

// The window of a wear comes alone, to those who may see the wear, and is
// logged as a look at it.
func TestTracksFragment(t *testing.T) {
	f := newFixture(t)
	id := f.file(1)
	w, err := f.store.Wear(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	query := "?days=3&from=" + w.Report.Start.AddDate(0, 0, 2).Format("2006-01-02")
	code, body := f.tracksOf(store.RoleNurse, id, query)
	if code != http.StatusOK || !strings.HasPrefix(body, `<section id="tracks"`) || !strings.Contains(body, "3 days, ") || !strings.Contains(body, "tracks overview") {
		t.Errorf("status %d: %.300s", code, body)
	}
	if strings.Contains(body, "data-overrule") {
		t.Error("somebody who has not claimed the wear is offered to overrule it")
	}
	f.must(store.RoleNurse, wearAddress(id)+"/claim", nil)
	if _, body = f.tracksOf(store.RoleNurse, id, query); !strings.Contains(body, "data-overrule") {
		t.Error("who has claimed the wear is not offered to overrule it")
	}
	if code, body = f.tracksOf(store.RoleAuditor, id, query); code == http.StatusOK || strings.Contains(body, "data-trace") {
		t.Errorf("the auditor gets readings: status %d", code)
	}
	log, err := f.store.AuditLog(t.Context(), store.AuditQuery{Object: "wear", Action: "view", Limit: 10})
	if err != nil {
		t.Fatal(err)
	}
	if len(log) != 2 {
		t.Errorf("%d looks are logged, want 2", len(log))
	}
}

// Two sensors worn at once are two wears; each page draws the other's line and
// leads to it.
func TestSensorsWornAtOnce(t *testing.T) {
	f := newFixture(t)
	p := storetest.AddPatient(t, f.store, 1)
	var ids [2]int64
	for i, kind := range [2]string{"A", "B"} {
		filing := storetest.Filing(1+5*i, p.ID, f.clock.Now(), 14, wear.ThisMonth, 1, wear.FlagAbove7_8)
		filing.Wears[0].SensorKind = kind
		ids[i] = storetest.File(t, f.store, filing)
	}
	if ids[0] == ids[1] {
		t.Fatal("the two sensors became one wear")
	}
	for i, id := range ids {
		body := f.ask(http.MethodGet, wearAddress(id), nil).Body.String()
		link := fmt.Sprintf(`<a href="%s">sensor kind %s</a>`, wearAddress(ids[1-i]), [2]string{"B", "A"}[i])
		if !strings.Contains(body, link) || !strings.Contains(body, `class="line-beside"`) {
			t.Errorf("the page of wear %d does not show the other sensor", id)
		}
	}
}
