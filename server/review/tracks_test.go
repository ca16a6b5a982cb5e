package review_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// The window of a wear comes alone, to those who may see the wear, and is
// logged as a look at it.
func TestTracksFragment(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	w, err := f.Store.Wear(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	query := "?days=3&from=" + w.Report.Start.AddDate(0, 0, 2).Format("2006-01-02")
	code, body := f.TracksOf(store.RoleNurse, id, query)
	if code != http.StatusOK || !strings.HasPrefix(body, `<section id="tracks"`) || !strings.Contains(body, "3 days, ") || !strings.Contains(body, "tracks overview") {
		t.Errorf("status %d: %.300s", code, body)
	}
	if strings.Contains(body, "data-overrule") {
		t.Error("somebody who has not claimed the wear is offered to overrule it")
	}
	f.Must(store.RoleNurse, door.WearAddress(id)+"/claim", nil)
	if _, body = f.TracksOf(store.RoleNurse, id, query); !strings.Contains(body, "data-overrule") {
		t.Error("who has claimed the wear is not offered to overrule it")
	}
	if code, body = f.TracksOf(store.RoleAuditor, id, query); code == http.StatusOK || strings.Contains(body, "data-trace") {
		t.Errorf("the auditor gets readings: status %d", code)
	}
	log, err := f.Store.LogRows(t.Context(), store.LogQuery{Object: "wear", Action: "view", Limit: 10})
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
	f := servertest.New(t)
	p := storetest.AddPatient(t, f.Store, 1)
	var ids [2]int64
	for i, kind := range [2]string{"A", "B"} {
		filing := storetest.Filing(1+5*i, p.ID, f.Clock.Now(), 14, wear.ThisMonth, 1, wear.FlagAbove7_8)
		filing.Wears[0].SensorKind = kind
		ids[i] = storetest.File(t, f.Store, filing)
	}
	if ids[0] == ids[1] {
		t.Fatal("the two sensors became one wear")
	}
	for i, id := range ids {
		body := f.Ask(http.MethodGet, door.WearAddress(id), nil).Body.String()
		link := fmt.Sprintf(`<a href="%s">sensor kind %s</a>`, door.WearAddress(ids[1-i]), [2]string{"B", "A"}[i])
		if !strings.Contains(body, link) || !strings.Contains(body, `class="line-beside"`) {
			t.Errorf("the page of wear %d does not show the other sensor", id)
		}
	}
}
