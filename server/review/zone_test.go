package review_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/worker/wear"
)

// TestZoneOfWear says on the page of a wear in which zone the wearer's clock
// was: it and the sheet for a call are then told by that clock, and forms are
// read by it.
func TestZoneOfWear(t *testing.T) {
	f := servertest.New(t)
	w, dip := f.Dipper(1)
	path, nurse := door.WearAddress(w.ID), store.RoleNurse
	if got := f.AskAs(nurse, http.MethodPost, path+"/zone", url.Values{"zone": {"Mars/Tharsis"}}); got.Code != http.StatusUnprocessableEntity ||
		!strings.Contains(got.Body.String(), "no time zone that is known") || !strings.Contains(got.Body.String(), `value="Mars/Tharsis"`) {
		t.Errorf("a zone that there is not: status %d: %s", got.Code, servertest.SaidOn(got))
	}
	looks := f.Looks
	f.Must(nurse, path+"/zone", url.Values{"zone": {"Europe/Athens"}})
	if f.Looks == looks {
		t.Error("the worker is not told that files are to be read again")
	}
	f.Has(nurse, path, "Told by the wearer’s clock, Europe/Athens", "set the zone of the wearer’s clock. Europe/Athens", "being read again", `value="Europe/Athens"`)
	athens, err := time.LoadLocation("Europe/Athens")
	if err != nil {
		t.Fatal(err)
	}
	there := dip.From.In(athens).Format("Mon 2 Jan 15:04")
	day, clock := there[:len(there)-6], there[len(there)-5:]
	f.Has(nurse, path, day+" "+clock)
	f.Has(nurse, path+"/call", "All times are by the wearer’s clock, Europe/Athens", day+", "+clock+": did you feel anything?")

	at := dip.From.Add(24 * time.Hour).Truncate(time.Minute)
	f.Must(nurse, path+"/fingerstick", url.Values{"at": {at.In(athens).Format("2006-01-02T15:04")}, "value": {"5.6"}, "unit": {"mmol/L"}})
	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.Events) != 1 || v.Events[0].Event.Kind != wear.Fingerstick || v.Events[0].Event.At != at.Unix() {
		t.Errorf("a fingerstick by that clock: %+v, %v", v.Events, err)
	}
	f.Has(nurse, path, "fingerstick 5.6 mmol/L, "+at.In(athens).Format("2 Jan 2006 15:04"))
	after, err := f.Store.Wear(t.Context(), w.ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, offset := after.Report.Start.Zone(); offset != 3*3600 {
		t.Errorf("the report made anew begins %s", after.Report.Start)
	}

	f.Must(nurse, path+"/zone", url.Values{"zone": {""}})
	if body := f.AskAs(nurse, http.MethodGet, path, nil).Body.String(); strings.Contains(body, "Told by the wearer") {
		t.Error("taken back, the wear is still told by another clock")
	}
}
