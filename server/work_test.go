package server

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// dipper files a wear with dips below 3.9 that no symptom belongs to yet, as
// the worker would, and gives it with the start of its first dip.
func (f *fixture) dipper(n int) (store.Wear, wear.Episode) {
	f.t.Helper()
	p := storetest.AddPatient(f.t, f.store, n)
	filing := storetest.Filing(n, p.ID, f.clock.Now(), 14, wear.Routine, 0)
	w := &filing.Wears[0]
	for i := range w.Readings {
		if at := w.Readings[i].At % 86400; at >= 15*3600 && at < 15*3600+2700 { // three quarters of an hour each afternoon
			w.Readings[i].Num = 33
		}
	}
	w.Report = wear.Analyse(wear.Input{Readings: w.Readings, Events: w.Events, Zone: time.UTC, SensorKind: w.SensorKind, Protocol: f.Protocol})
	got, err := f.store.Wear(f.t.Context(), storetest.File(f.t, f.store, filing))
	if err != nil {
		f.t.Fatal(err)
	}
	for _, e := range got.Report.Episodes {
		if e.Kind == wear.EpisodeBelow3_9 {
			return got, e
		}
	}
	f.t.Fatal("the invented wear has no dip")
	return got, wear.Episode{}
}

func (f *fixture) has(role store.Role, path string, want ...string) {
	f.t.Helper()
	w := f.askAs(role, http.MethodGet, path, nil)
	if w.Code != http.StatusOK {
		f.t.Fatalf("%s: status %d: %s", path, w.Code, said1(w))
	}
	body := strings.ToLower(w.Body.String())
	for _, x := range want {
		if !strings.Contains(body, strings.ToLower(x)) {
			f.t.Errorf("%s does not say %q", path, x)
		}
	}
}

// symptom is a call sheet that tells of a symptom in an episode.
func symptom(e wear.Episode) url.Values {
	return url.Values{
		"asked-1": {fmt.Sprint(e.From.Unix())}, "felt-1": {"yes"}, "what-1": {"shaky"}, "food-1": {"yes"},
		"when-1": {e.From.Add(10 * time.Minute).Format("2006-01-02T15:04")},
	}
}

// TestFromFlaggedToFinished is the nurse's and the clinician's way with one
// wear: claim, ring, see the place change, be refused, hand over, record, undo,
// record again, write, recall, result.
func TestFromFlaggedToFinished(t *testing.T) {
	f := newFixture(t)
	w, dip := f.dipper(1)
	path := wearAddress(w.ID)
	n, c := store.RoleNurse, store.RoleClinician
	if w.Report.Priority.Tier == wear.Today {
		t.Fatal("the wear is pressing before anything was asked")
	}
	if w := f.askAs(n, http.MethodPost, path+"/outcome", url.Values{"outcome": {"told_well"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an outcome without a claim: status %d", w.Code)
	}
	f.must(n, path+"/claim", nil)
	f.has(n, path+"/call", "shaky")
	if w := f.askAs(n, http.MethodPost, path+"/call", url.Values{}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an empty call sheet: status %d", w.Code)
	}
	to := f.must(n, path+"/call", symptom(dip))
	f.has(n, to, "Before: "+w.Report.Priority.Tier.Words(), "shaky", "better after food")
	after, err := f.store.Wear(t.Context(), w.ID)
	if err != nil {
		t.Fatal(err)
	}
	if after.Report.Priority.Tier.Rank() >= w.Report.Priority.Tier.Rank() {
		t.Errorf("the place was %s and is %s after a symptom in a dip", w.Report.Priority.Tier, after.Report.Priority.Tier)
	}
	if !slices.ContainsFunc(store.Standing(after.Report), func(f wear.Flag) bool { return f.Code == wear.FlagDipSymptom }) {
		t.Error("the dip with a symptom is not flagged")
	}

	// All is well: not for a nurse to say, after that.
	version := fmt.Sprint(evidence(after.Report))
	well := url.Values{"outcome": {"told_well"}, "version": {version}}
	if w := f.askAs(n, http.MethodPost, path+"/outcome", well); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "clinician must decide") {
		t.Errorf("a nurse says that all is well: status %d: %s", w.Code, said1(w))
	}
	// Nor on what the page said before the call.
	old := url.Values{"outcome": {"off_pathway"}, "off_pathway-reason": {"elsewhere"}, "version": {fmt.Sprint(evidence(w.Report))}}
	if w := f.askAs(n, http.MethodPost, path+"/outcome", old); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "has changed since") {
		t.Errorf("an outcome on old evidence: status %d", w.Code)
	}
	f.must(c, path+"/take-over", url.Values{"reason": {"a clinician decides"}})
	tests := url.Values{
		"outcome": {"tests_ordered"}, "version": {version},
		"tests_ordered-reason": {"HbA1c and fasting glucose"}, "tests_ordered-by": {f.clock.Now().AddDate(0, 0, 14).Format(time.DateOnly)},
	}
	to = f.must(c, path+"/outcome", tests)
	f.has(c, to, "Tests ordered", "Undo", "a laboratory result by")
	f.has(c, "/recalls", "P00001", "a laboratory result")
	v, err := f.store.Review(t.Context(), w.ID)
	if err != nil || len(v.Outcomes) != 1 {
		t.Fatal(v.Outcomes, err)
	}
	f.must(c, "/outcomes/"+idText(v.Outcomes[0].ID)+"/undo", nil)
	f.has(c, path, "Yours until")
	f.must(c, path+"/outcome", tests)

	// The letter.
	if w := f.askAs(c, http.MethodPost, path+"/letters", url.Values{"kind": {"patient_unremarkable"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a letter that nothing needs follow-up: status %d", w.Code)
	}
	open := f.must(c, path+"/letters", url.Values{
		"kind": {"patient_tests"}, "patient_tests-tests": {"hba1c"}, "patient_tests-by": {f.clock.Now().AddDate(0, 0, 14).Format(time.DateOnly)},
	})
	f.has(c, open, "Read it before it goes", "HbA1c", storetest.Patient(1).Name)
	id := strings.TrimPrefix(open, "/letters/")
	l, err := f.store.Letter(t.Context(), atoi(t, id))
	if err != nil {
		t.Fatal(err)
	}
	send := url.Values{"text": {l.Text}, "how": {"post"}}
	if w := f.askAs(c, http.MethodPost, open+"/send", send); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a letter goes unread: status %d", w.Code)
	}
	send.Set("read", "yes")
	f.must(c, open+"/send", send)
	f.has(c, open, "Protocol "+f.Protocol.Version)

	// The result comes back and closes the recall.
	v, err = f.store.Review(t.Context(), w.ID)
	if err != nil {
		t.Fatal(err)
	}
	var recall int64
	for _, r := range v.Recalls {
		if r.ClosedAt.IsZero() {
			recall = r.ID
		}
	}
	rp := "/recalls/" + idText(recall)
	f.must(n, rp+"/attempt", url.Values{"means": {"telephone"}, "reached": {"no"}, "note": {"message left"}})
	res := url.Values{"test": {"hba1c"}, "value": {"49"}, "unit": {"mmol/mol"}, "taken": {f.clock.Now().Format(time.DateOnly)}}
	got := f.askAs(n, http.MethodPost, rp+"/results", res)
	for _, want := range []string{"in the diabetes range", "repeat it on another day", "clinician"} {
		if !strings.Contains(strings.ToLower(got.Body.String()), want) {
			t.Errorf("the result does not say %q: %s", want, said1(got))
		}
	}
	if strings.Contains(strings.ToLower(got.Body.String()), "diagnosed") {
		t.Error("the program diagnoses")
	}
	f.has(n, path, "HbA1c", "in the diabetes range")
	f.has(n, patientAddress(w.Patient.ID), "Tests ordered", "HbA1c", "in the diabetes range", "sent a letter")

	log, err := f.store.AuditLog(t.Context(), store.AuditQuery{PatientID: w.Patient.ID, Limit: 200})
	if err != nil {
		t.Fatal(err)
	}
	did := map[string]bool{}
	for _, r := range log {
		did[r.Action] = true
	}
	for _, want := range []string{"view", "claim a wear", "record a call", "make a report anew", "take a wear over", "record an outcome", "undo an outcome", "open a letter", "send a letter", "record a result"} {
		if !did[want] {
			t.Errorf("the log does not tell of %q", want)
		}
	}
	if k, err := f.store.VerifyAudit(t.Context()); err != nil || !k.OK() {
		t.Errorf("the log: %+v, %v", k, err)
	}
}

func atoi(t *testing.T, s string) int64 {
	t.Helper()
	var n int64
	if _, err := fmt.Sscan(s, &n); err != nil {
		t.Fatal(err)
	}
	return n
}

// TestEvidenceAdded overrules a stretch and adds a fingerstick: the report is
// made anew with them.
func TestEvidenceAdded(t *testing.T) {
	f := newFixture(t)
	w, dip := f.dipper(2)
	path := wearAddress(w.ID)
	clock := func(t time.Time) string { return t.Format("2006-01-02T15:04") }
	f.must(store.RoleNurse, path+"/overrule", url.Values{"from": {clock(dip.From)}, "to": {clock(dip.To)}, "believe": {"no"}, "reason": {"lay on the arm"}})
	after, err := f.store.Wear(t.Context(), w.ID)
	if err != nil {
		t.Fatal(err)
	}
	if after.Report.Believed >= w.Report.Believed {
		t.Errorf("%d readings believed before and %d after doubting a stretch", w.Report.Believed, after.Report.Believed)
	}
	for _, e := range after.Report.Episodes {
		if e.Kind == wear.EpisodeBelow3_9 && e.From.Equal(dip.From) {
			t.Error("the doubted dip is still counted")
		}
	}
	f.must(store.RoleNurse, path+"/fingerstick", url.Values{"at": {clock(dip.From.Add(24 * time.Hour))}, "value": {"5.6"}, "unit": {"mmol/L"}})
	f.must(store.RoleNurse, path+"/note", url.Values{"note": {"sleeps on the left side"}})
	f.has(store.RoleNurse, path, "lay on the arm", "fingerstick 5.6 mmol/L", "sleeps on the left side")
	if w := f.askAs(store.RoleNurse, http.MethodPost, path+"/fingerstick", url.Values{"at": {clock(dip.From)}, "value": {"560"}, "unit": {"mmol/L"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a fingerstick of 560 mmol/L: status %d", w.Code)
	}
	// While somebody works on it, nobody adds behind their back.
	f.must(store.RoleClinician, path+"/claim", nil)
	if w := f.askAs(store.RoleNurse, http.MethodPost, path+"/overrule", url.Values{"from": {clock(dip.From)}, "to": {clock(dip.To)}, "believe": {"yes"}, "reason": {"no"}}); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Kelo Clinician has this wear") {
		t.Errorf("added to what another works on: status %d", w.Code)
	}
}

// TestCouldNotReach needs its attempts and a letter, or a clinician.
func TestCouldNotReach(t *testing.T) {
	f := newFixture(t)
	w, _ := f.dipper(3)
	path, n := wearAddress(w.ID), store.RoleNurse
	f.must(n, path+"/claim", nil)
	end := url.Values{"outcome": {"could_not_reach"}, "could_not_reach-reason": {"rang and wrote"}, "version": {fmt.Sprint(evidence(w.Report))}}
	for i := range int(f.Protocol.Contact.Attempts) {
		if w := f.askAs(n, http.MethodPost, path+"/outcome", end); w.Code != http.StatusUnprocessableEntity {
			t.Fatalf("closed after %d attempts: status %d", i, w.Code)
		}
		f.must(n, path+"/attempt", url.Values{"means": {"telephone"}, "reached": {"no"}, "next_try": {f.clock.Now().AddDate(0, 0, 1).Format(time.DateOnly)}})
	}
	if w := f.askAs(n, http.MethodPost, path+"/outcome", end); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "letter first") {
		t.Errorf("closed without a letter: status %d", w.Code)
	}
	f.must(store.RoleClinician, path+"/take-over", url.Values{"reason": {"to close it"}})
	f.must(store.RoleClinician, path+"/outcome", end)
	if r, err := f.store.Round(t.Context(), store.RoundQuery{Limit: 1, Now: f.clock.Now()}); err != nil || r.Total != 0 {
		t.Errorf("%d wears on the round, %v", r.Total, err)
	}
}
