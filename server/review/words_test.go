package review_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/web/form"
	"wearround/worker/wear"
)

// TestWordsAreReadByPeople: a note is words; they stand on the wear and on its
// row, bar "all is well", are read, count, and can be taken back.
func TestWordsAreReadByPeople(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	path, n := door.WearAddress(w.ID), store.RoleNurse
	f.Must(n, path+"/claim", nil)
	f.Must(n, path+"/note", url.Values{"note": {"his wife could not wake him on Monday"}})
	report := func() *wear.Report {
		t.Helper()
		w, err := f.Store.Wear(t.Context(), w.ID)
		if err != nil {
			t.Fatal(err)
		}
		return w.Report
	}
	r := report()
	i := slices.IndexFunc(r.Words, func(w wear.Words) bool { return w.Kind == wear.WordsStaff })
	if r.Unread != 2 || i < 0 { // the other is what the file calls its meals
		t.Fatalf("%d unread of %+v", r.Unread, r.Words)
	}
	key := r.Words[i].Key
	f.Has(n, path, "could not wake him", "2 not read", "Read the words")
	f.Has(n, "/", "2 texts not read", path+"/words")
	f.Has(n, path+"/outcome", "2 texts not read yet", "read the words")
	f.Has(n, path+"/words", "could not wake him", "noted by the practice")

	// Nothing chosen, what is on no list, and words that are not there.
	for _, bad := range []url.Values{{}, {"as.." + key: {"fine"}}, {"as..1-x": {"nothing"}}} {
		if w := f.AskAs(n, http.MethodPost, path+"/words", bad); w.Code != http.StatusUnprocessableEntity && w.Code != http.StatusConflict {
			t.Errorf("%v: status %d", bad, w.Code)
		}
	}
	to := f.Must(n, path+"/words", url.Values{"as.." + key: {"severe"}})
	if r = report(); r.Unread != 1 || r.Priority.Tier != wear.Today {
		t.Errorf("read as severe: %d unread, tier %s", r.Unread, r.Priority.Tier)
	}
	f.Has(n, to, "A severe symptom stands on this wear.", "emergency care", "It stays: ") // words that sound severe are at the top before they are read

	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.Read) != 1 || v.Read[0].As != wear.ReadSevere {
		t.Fatal(v.Read, err)
	}
	f.Must(n, path+"/take-back", url.Values{"what": {"read"}, "item": {door.IDText(v.Read[0].ID)}, "reason": {"the wrong wear"}})
	if r = report(); r.Unread != 2 {
		t.Errorf("taken back: %d unread", r.Unread)
	}
}

// TestAWordReadMeanwhileStands: a page of the words answers for what it showed.
// Whatever was said of words before and since, a stale page changes none of them,
// tells what was said instead, and writes nothing that it was not asked to; nor
// does what was typed there fit the page that is shown then.
func TestAWordReadMeanwhileStands(t *testing.T) {
	f := servertest.New(t)
	w, _ := f.Dipper(1)
	path, n := door.WearAddress(w.ID)+"/words", store.RoleNurse
	f.Must(n, door.WearAddress(w.ID)+"/note", url.Values{"note": {"went down in the kitchen"}})
	f.Must(n, door.WearAddress(w.ID)+"/note", url.Values{"note": {"likes toast"}})
	words := func() map[string]wear.Words {
		t.Helper()
		w, err := f.Store.Wear(t.Context(), w.ID)
		if err != nil {
			t.Fatal(err)
		}
		by := map[string]wear.Words{}
		for _, x := range w.Report.Words {
			by[x.Text] = x
		}
		return by
	}
	page := func() url.Values { // all that the page would send, a radio that is checked included
		v := url.Values{}
		for _, x := range words() {
			if x.ReadAs != wear.Unread {
				v.Set(form.ReadField(x.Key, x.ReadAs), string(x.ReadAs))
			}
		}
		return v
	}
	kitchen, toast := words()["went down in the kitchen"].Key, words()["likes toast"].Key
	for _, before := range []wear.ReadAs{wear.Unread, wear.ReadNothing, wear.ReadSymptom} {
		if before != wear.Unread {
			f.Must(n, path, url.Values{form.ReadField(kitchen, words()["went down in the kitchen"].ReadAs): {string(before)}})
		}
		stale := page()
		f.Must(store.RoleClinician, path, url.Values{form.ReadField(kitchen, before): {string(wear.ReadSevere)}})

		seen := words()["likes toast"].ReadAs
		said := wear.ReadMeal
		if seen == said {
			said = wear.ReadAlcohol
		}
		stale.Set(form.ReadField(toast, seen), string(said))
		f.Must(n, path, stale) // what it does not change, it does not write
		if got := words(); got["went down in the kitchen"].ReadAs != wear.ReadSevere || got["likes toast"].ReadAs != said {
			t.Errorf("over %q: %q and %q", before, got["went down in the kitchen"].ReadAs, got["likes toast"].ReadAs)
		}

		other := wear.ReadRelief
		stale.Set(form.ReadField(kitchen, before), string(other))
		a := f.AskAs(n, http.MethodPost, path, stale)
		if a.Code != http.StatusUnprocessableEntity || words()["went down in the kitchen"].ReadAs != wear.ReadSevere {
			t.Errorf("over %q: status %d, read as %q", before, a.Code, words()["went down in the kitchen"].ReadAs)
		}
		if body := a.Body.String(); !strings.Contains(body, "“went down in the kitchen” as “severe” meanwhile") || strings.Contains(body, form.ReadField(kitchen, before)) {
			t.Errorf("over %q the page says: %s", before, servertest.SaidOn(a))
		}
	}
	f.Must(n, path, url.Values{form.ReadField(kitchen, wear.ReadNothing): {string(wear.ReadSevere)}, form.ReadField(toast, words()["likes toast"].ReadAs): {string(wear.ReadNothing)}}) // as it stands: no quarrel
}

// TestRedFlagsComeFirst: a box of the call sheet puts the wear into Today, says
// what to do, stands once, and can be taken back; nothing felt is refused over a
// symptom that is written down, and the sheet opens with what was said.
func TestRedFlagsComeFirst(t *testing.T) {
	f := servertest.New(t)
	w, dip := f.Dipper(1)
	path, n := door.WearAddress(w.ID), store.RoleNurse
	f.Must(n, path+"/claim", nil)
	if w := f.AskAs(n, http.MethodPost, path+"/red-flags", url.Values{"red": {"bored"}}); w.Code != http.StatusUnprocessableEntity {
		t.Errorf("a box that is on no sheet: status %d", w.Code)
	}
	for range 2 {
		to := f.Must(n, path+"/red-flags", url.Values{"red": {"not_woken"}})
		f.Has(n, to, "Could not be woken.", "speak with a clinician before this call ends")
	}
	v, err := f.Store.Review(t.Context(), w.ID)
	if err != nil || len(v.RedFlags) != 1 {
		t.Fatal(v.RedFlags, err)
	}
	got, err := f.Store.Wear(t.Context(), w.ID)
	if err != nil || got.Report.Priority.Tier != wear.Today {
		t.Errorf("tier %s, %v", got.Report.Priority.Tier, err)
	}
	f.Must(n, path+"/take-back", url.Values{"what": {"redflag"}, "item": {door.IDText(v.RedFlags[0].ID)}, "reason": {"ticked by mistake"}})

	sheet := servertest.Symptom(dip)
	f.Must(n, path+"/call", sheet)
	f.Has(n, path+"/call", `value="yes" checked`, "Asked on")
	f.Has(n, path, "asked: felt: ")
	again := url.Values{}
	for k, v := range sheet {
		if strings.HasPrefix(k, "asked-") || k == "version" {
			again[k] = v
		}
		if strings.HasPrefix(k, "felt-") {
			again[k] = []string{"no"}
		}
	}
	if w := f.AskAs(n, http.MethodPost, path+"/call", again); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), "Written down for then is") {
		t.Errorf("nothing felt over a symptom: status %d: %s", w.Code, servertest.SaidOn(w))
	}
}
