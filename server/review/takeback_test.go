package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// What was entered wrongly is taken back with a reason, and the report is what
// it was before.
func TestTakenBack(t *testing.T) {
	f := servertest.New(t)
	w, dip := f.Dipper(1)
	n, path, whose := store.RoleNurse, door.WearAddress(w.ID), door.PatientAddress(w.Patient.ID)
	clock := func(t time.Time) string { return t.Format("2006-01-02T15:04") }
	f.Must(n, path+"/overrule", url.Values{"from": {clock(dip.From)}, "to": {clock(dip.To)}, "believe": {"no"}, "reason": {"lay on the arm"}})
	said := servertest.Symptom(dip)
	next := dip.From.Add(24 * time.Hour).Unix()
	said["asked-2"], said["felt-2"] = []string{fmt.Sprint(next)}, []string{"no"}
	f.Must(n, path+"/call", said)
	f.Must(n, whose+"/results", url.Values{"test": {"hba1c"}, "value": {"49"}, "unit": {"mmol/mol"}, "taken": {f.Clock.Now().Format(time.DateOnly)}})
	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.Overrides) != 1 || len(v.Events) != 1 || len(v.Calls) != 1 || len(v.Results) != 1 {
		t.Fatal(v, err)
	}
	f.Has(n, path, "lay on the arm", "Added by a person", "symptom, shaky", ": felt nothing", "Take it back")
	for _, x := range []struct {
		at, what string
		id       int64
	}{{path, "answer", v.Calls[0].ID}, {path, "overrule", v.Overrides[0].ID}, {path, "event", v.Events[0].ID}, {whose, "result", v.Results[0].ID}} {
		item := url.Values{"what": {x.what}, "item": {fmt.Sprint(x.id)}, "asked": {fmt.Sprint(next)}, "reason": {""}}
		if w := f.AskAs(n, http.MethodPost, x.at+"/take-back", item); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Say why it is taken back.") {
			t.Errorf("%s without a reason: status %d", x.what, w.Code)
		}
		item.Set("reason", "another patient's")
		other := url.Values{"what": {x.what}, "item": {"99"}, "asked": {fmt.Sprint(next)}, "reason": {"another's"}}
		if w := f.AskAs(n, http.MethodPost, x.at+"/take-back", other); w.Code != http.StatusNotFound {
			t.Errorf("%s of another: status %d", x.what, w.Code)
		}
		f.Must(n, x.at+"/take-back", item)
		if w := f.AskAs(n, http.MethodPost, x.at+"/take-back", item); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%s twice: status %d", x.what, w.Code)
		}
	}
	f.Has(n, path, ": felt nothing (taken back")
	if body := f.AskAs(n, http.MethodGet, path+"/call", nil).Body.String(); strings.Contains(body, "Asked on") {
		t.Error("the sheet still opens with an answer that was taken back")
	}
	after, err := f.Store.Wear(t.Context(), w.ID)
	if err != nil || after.Evidence != w.Evidence || after.Report.Priority.Tier != w.Report.Priority.Tier || after.Report.Believed != w.Report.Believed {
		t.Errorf("the place is %s, with %d readings believed: %v", after.Report.Priority.Tier, after.Report.Believed, err)
	}
	if body := f.AskAs(n, http.MethodGet, path, nil).Body.String(); strings.Contains(body, "Take it back") || !strings.Contains(body, "taken back") {
		t.Error("the wear still offers to take back what was taken back, or does not tell of it")
	}
	f.Must(n, whose+"/note", url.Values{"note": {"hard of hearing"}})
	f.Has(n, whose, "hard of hearing")
}

// A recall is set by hand, moved with a reason, and listed as overdue from the
// day after its day.
func TestRecallByHand(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	n, whose := store.RoleNurse, door.PatientAddress(w.Patient.ID)
	day := func(n int) string { return f.Clock.Now().AddDate(0, 0, n).Format(time.DateOnly) }
	for _, bad := range []url.Values{{"kind": {"review"}}, {"kind": {"urgent"}, "by": {day(3)}}, {"kind": {"review"}, "by": {day(-1)}}} {
		if w := f.AskAs(n, http.MethodPost, whose+"/recalls", bad); w.Code != http.StatusUnprocessableEntity {
			t.Errorf("%v: status %d", bad, w.Code)
		}
	}
	f.Must(n, whose+"/recalls", url.Values{"kind": {"review"}, "by": {day(0)}, "note": {"how the walking goes"}})
	f.Has(n, "/recalls", "a review", "due today", "how the walking goes")
	if body := f.AskAs(n, http.MethodGet, "/recalls?state=overdue", nil).Body.String(); !strings.Contains(body, "No recall is overdue") {
		t.Error("what is due today is listed as overdue")
	}
	list, err := f.Store.Recalls(t.Context(), store.RecallQuery{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	move := "/recalls/" + door.IDText(list.Rows[0].ID) + "/move"
	if w := f.AskAs(n, http.MethodPost, move, url.Values{"by": {day(7)}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("moved without a reason: status %d", w.Code)
	}
	f.Must(n, move, url.Values{"by": {day(7)}, "reason": {"on holiday"}})
	f.Has(n, "/recalls", "due in 7 days")
}

// A wear that comes back is on the round again, with its outcome on record.
func TestReopened(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	n, path := store.RoleNurse, door.WearAddress(w.ID)
	f.Must(n, path+"/claim", nil)
	f.Must(n, path+"/outcome", url.Values{"outcome": {"off_pathway"}, "off_pathway-reason": {"elsewhere"}, "version": {fmt.Sprint(w.Evidence)}})
	f.Has(n, path, "Put it back on the round")
	if w := f.AskAs(n, http.MethodPost, path+"/reopen", url.Values{"reason": {" "}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("put back without a reason: status %d", w.Code)
	}
	f.Must(n, path+"/reopen", url.Values{"reason": {"rang back"}})
	f.Has(n, path, "Nobody is working on this wear", "put the wear back on the round. rang back", "off this pathway")
	f.Has(n, "/", w.Patient.Code)
}

// Where a flag must be acted on today, a nurse cannot leave it at that, and a
// clinician says why.
func TestPressingFlagNeedsAClinician(t *testing.T) {
	f := servertest.New(t)
	who := storetest.AddPatient(t, f.Store, 1)
	id := storetest.File(t, f.Store, storetest.Filing(1, who.ID, f.Clock.Now(), 14, wear.Today, 9, wear.FlagVeryHigh))
	w, err := f.Store.Wear(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	path, n, c := door.WearAddress(id), store.RoleNurse, store.RoleClinician
	f.Must(n, path+"/claim", nil)
	f.Has(n, path+"/outcome", "A clinician must decide this: the wear has a flag to be acted on today", "hand the wear over to them")
	for _, kind := range []string{"told_well", "advice", "wear_again", "sensor_replaced", "could_not_reach"} {
		form := url.Values{"outcome": {kind}, kind + "-reason": {"as agreed"}, kind + "-by": {f.Clock.Now().AddDate(0, 0, 30).Format(time.DateOnly)}, "version": {fmt.Sprint(w.Evidence)}}
		if w := f.AskAs(n, http.MethodPost, path+"/outcome", form); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "clinician must decide") {
			t.Errorf("%s by a nurse: status %d", kind, w.Code)
		}
	}
	f.Must(c, path+"/take-over", url.Values{"reason": {"to decide"}})
	f.Has(c, path+"/outcome", "Why this is enough, although the wear has a flag to be acted on today")
	well := url.Values{"outcome": {"told_well"}, "version": {fmt.Sprint(w.Evidence)}}
	if w := f.AskAs(c, http.MethodPost, path+"/outcome", well); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Why this is enough") {
		t.Errorf("without a reason: status %d", w.Code)
	}
	well.Set("told_well-reason", "seen in hospital; the sensor was wrong")
	f.Must(c, path+"/outcome", well)
	f.Has(c, path, "Told all is well", "the sensor was wrong")
}
