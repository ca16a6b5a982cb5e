package review_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// One tick on the call sheet answers for every dip that nobody was asked about.
func TestNothingFeltAtAnyDip(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	path, nurse := door.WearAddress(w.ID), store.RoleNurse
	asks := func() bool {
		w, err := f.Store.Wear(t.Context(), w.ID)
		if err != nil {
			t.Fatal(err)
		}
		_, why := wear.MayReassure(w.Report)
		return slices.ContainsFunc(why, func(r wear.Reason) bool { return r.Code == wear.ReasonDips })
	}
	if !asks() {
		t.Fatal("nobody needs to ask about the dips")
	}
	f.Must(nurse, path+"/claim", nil)
	f.Must(nurse, path+"/call", url.Values{"none": {"yes"}, "version": {fmt.Sprint(w.Evidence)}})
	if asks() {
		t.Error("asked about all at once, the dips still stand against telling well")
	}
}

// TestFromFlaggedToFinished is the nurse's and the clinician's way with one
// wear: claim, ring, see the place change, be refused, hand over, record, undo,
// record again, write, recall, result.
func TestFromFlaggedToFinished(t *testing.T) {
	f := servertest.New(t)
	w, dip := f.Dipper(1)
	path := door.WearAddress(w.ID)
	n, c := store.RoleNurse, store.RoleClinician
	if w.Report.Priority.Tier == wear.Today {
		t.Fatal("the wear is pressing before anything was asked")
	}
	if w := f.AskAs(n, http.MethodPost, path+"/outcome", url.Values{"outcome": {"told_well"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an outcome without a claim: status %d", w.Code)
	}
	f.Must(n, path+"/claim", nil)
	f.Has(n, path+"/call", "shaky")
	if w := f.AskAs(n, http.MethodPost, path+"/call", url.Values{}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("an empty call sheet: status %d", w.Code)
	}
	to := f.Must(n, path+"/call", servertest.Symptom(dip))
	f.Has(n, to, "Before: "+w.Report.Priority.Tier.Words(), "shaky", "better after food")
	after, err := f.Store.Wear(t.Context(), w.ID)
	if err != nil {
		t.Fatal(err)
	}
	if after.Report.Priority.Tier.Rank() >= w.Report.Priority.Tier.Rank() {
		t.Errorf("the place was %s and is %s after a symptom in a dip", w.Report.Priority.Tier, after.Report.Priority.Tier)
	}
	if !slices.ContainsFunc(store.Standing(after.Report), func(f wear.Flag) bool { return f.Code == wear.FlagDipSymptom }) {
		t.Error("the dip with a symptom is not flagged")
	}

	// All is well: not for anybody to say, before the words are read.
	version := fmt.Sprint(after.Evidence)
	well := url.Values{"outcome": {"told_well"}, "version": {version}}
	if w := f.AskAs(n, http.MethodPost, path+"/outcome", well); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "words that nobody has read") {
		t.Errorf("a nurse says that all is well: status %d: %s", w.Code, servertest.SaidOn(w))
	}
	// Nor on what the page said before the call.
	old := url.Values{"outcome": {"off_pathway"}, "off_pathway-reason": {"elsewhere"}, "version": {fmt.Sprint(w.Evidence)}}
	if w := f.AskAs(n, http.MethodPost, path+"/outcome", old); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "has changed since") {
		t.Errorf("an outcome on old evidence: status %d", w.Code)
	}
	f.Must(c, path+"/take-over", url.Values{"reason": {"a clinician decides"}})
	tests := url.Values{
		"outcome": {"tests_ordered"}, "version": {version},
		"tests_ordered-reason": {"HbA1c and fasting glucose"}, "tests_ordered-by": {f.Clock.Now().AddDate(0, 0, 14).Format(time.DateOnly)},
	}
	to = f.Must(c, path+"/outcome", tests)
	f.Has(c, to, "Tests ordered", "Undo", "a laboratory result by")
	f.Has(c, "/recalls", "P00001", "a laboratory result")
	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.Outcomes) != 1 {
		t.Fatal(v.Outcomes, err)
	}
	f.Must(c, "/outcomes/"+door.IDText(v.Outcomes[0].ID)+"/undo", nil)
	f.Has(c, path, "Yours until")
	f.Must(c, path+"/outcome", tests)

	// The letter.
	if w := f.AskAs(c, http.MethodPost, path+"/letters", url.Values{"kind": {"patient_unremarkable"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a letter that nothing needs follow-up: status %d", w.Code)
	}
	open := f.Must(c, path+"/letters", url.Values{
		"kind": {"patient_tests"}, "patient_tests-tests": {"hba1c"}, "patient_tests-by": {f.Clock.Now().AddDate(0, 0, 14).Format(time.DateOnly)},
	})
	f.Has(c, open, "Read it before it goes", "HbA1c", storetest.Patient(1).Name)
	id := strings.TrimPrefix(open, "/letters/")
	l, err := f.Store.Letter(t.Context(), servertest.Atoi(t, id))
	if err != nil {
		t.Fatal(err)
	}
	send := url.Values{"text": {l.Text}, "how": {"post"}}
	if w := f.AskAs(c, http.MethodPost, open+"/send", send); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a letter goes unread: status %d", w.Code)
	}
	send.Set("read", "yes")
	f.Must(c, open+"/send", send)
	f.Has(c, open, "Protocol "+f.Protocol().Version)

	// The result comes back and closes the recall.
	v, err = f.Store.Review(t.Context(), w.ID)
	if err != nil {
		t.Fatal(err)
	}
	var recall int64
	for _, r := range v.Recalls {
		if r.ClosedAt.IsZero() {
			recall = r.ID
		}
	}
	rp := "/recalls/" + door.IDText(recall)
	f.Must(n, rp+"/attempt", url.Values{"means": {"telephone"}, "reached": {"no"}, "note": {"message left"}})
	res := url.Values{"test": {"hba1c"}, "value": {"49"}, "unit": {"mmol/mol"}, "taken": {f.Clock.Now().Format(time.DateOnly)}}
	got := f.AskAs(n, http.MethodPost, rp+"/results", res)
	for _, want := range []string{"in the diabetes range", "repeat it on another day", "clinician"} {
		if !strings.Contains(strings.ToLower(got.Body.String()), want) {
			t.Errorf("the result does not say %q: %s", want, servertest.SaidOn(got))
		}
	}
	if strings.Contains(strings.ToLower(got.Body.String()), "diagnosed") {
		t.Error("the program diagnoses")
	}
	f.Has(n, path, "HbA1c", "in the diabetes range")
	f.Has(n, door.PatientAddress(w.Patient.ID), "Tests ordered", "HbA1c", "in the diabetes range", "sent a letter")

	log, err := f.Store.LogRows(t.Context(), store.LogQuery{PatientID: w.Patient.ID, Limit: 200})
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
	if k, err := f.Store.VerifyLog(t.Context()); err != nil || !k.OK() {
		t.Errorf("the log: %+v, %v", k, err)
	}
}

// TestEvidenceAdded overrules a stretch and adds a fingerstick: the report is
// made anew with them.
func TestEvidenceAdded(t *testing.T) {
	f := servertest.New(t)
	w, dip := f.Dipper(2)
	path := door.WearAddress(w.ID)
	clock := func(t time.Time) string { return t.Format("2006-01-02T15:04") }
	f.Must(store.RoleNurse, path+"/overrule", url.Values{"from": {clock(dip.From)}, "to": {clock(dip.To)}, "believe": {"no"}, "reason": {"lay on the arm"}})
	after, err := f.Store.Wear(t.Context(), w.ID)
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
	f.Must(store.RoleNurse, path+"/fingerstick", url.Values{"at": {clock(dip.From.Add(24 * time.Hour))}, "value": {"5.6"}, "unit": {"mmol/L"}})
	f.Must(store.RoleNurse, path+"/note", url.Values{"note": {"sleeps on the left side"}})
	f.Has(store.RoleNurse, path, "lay on the arm", "fingerstick 5.6 mmol/L", "sleeps on the left side")
	if w := f.AskAs(store.RoleNurse, http.MethodPost, path+"/fingerstick", url.Values{"at": {clock(dip.From)}, "value": {"560"}, "unit": {"mmol/L"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a fingerstick of 560 mmol/L: status %d", w.Code)
	}
	// While somebody works on it, nobody adds behind their back.
	f.Must(store.RoleClinician, path+"/claim", nil)
	if w := f.AskAs(store.RoleNurse, http.MethodPost, path+"/overrule", url.Values{"from": {clock(dip.From)}, "to": {clock(dip.To)}, "believe": {"yes"}, "reason": {"no"}}); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Kelo Clinician has this wear") {
		t.Errorf("added to what another works on: status %d", w.Code)
	}
}

// TestCouldNotReach needs its attempts and a letter, or a clinician.
func TestCouldNotReach(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(3)
	path, n := door.WearAddress(w.ID), store.RoleNurse
	f.Must(n, path+"/claim", nil)
	end := url.Values{"outcome": {"could_not_reach"}, "could_not_reach-reason": {"rang and wrote"}, "version": {fmt.Sprint(w.Evidence)}}
	for i := range int(f.Protocol().Contact.Attempts) {
		if w := f.AskAs(n, http.MethodPost, path+"/outcome", end); w.Code != http.StatusUnprocessableEntity {
			t.Fatalf("closed after %d attempts: status %d", i, w.Code)
		}
		f.Must(n, path+"/attempt", url.Values{"means": {"telephone"}, "reached": {"no"}, "next_try": {f.Clock.Now().AddDate(0, 0, 1).Format(time.DateOnly)}})
	}
	if w := f.AskAs(n, http.MethodPost, path+"/outcome", end); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "letter first") {
		t.Errorf("closed without a letter: status %d", w.Code)
	}
	f.Must(store.RoleClinician, path+"/take-over", url.Values{"reason": {"to close it"}})
	f.Must(store.RoleClinician, path+"/outcome", end)
	if r, err := f.Store.Round(t.Context(), store.RoundQuery{Limit: 1, Now: f.Clock.Now()}); err != nil || r.Total != 0 {
		t.Errorf("%d wears on the round, %v", r.Total, err)
	}
}
