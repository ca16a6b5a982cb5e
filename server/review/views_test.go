package review_test

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
)

// TestFilterSurvives: the view and filter that somebody looked at last are those
// of the next wear and of the way back, for them alone.
func TestFilterSurvives(t *testing.T) {
	f := servertest.New(t)
	for n := range 6 {
		p := storetest.AddPatient(t, f.Store, n+1)
		tier := wear.Today
		if n%2 == 1 {
			tier = wear.ThisMonth
		}
		storetest.File(t, f.Store, storetest.Filing(n+1, p.ID, f.Clock.Now(), 14, tier, float64(n)))
	}
	last := ""
	ask := func(role store.Role, method, path string, form url.Values) (int, string, string) {
		w := f.AskAs(role, method, path, form, func(r *http.Request) {
			if last != "" {
				r.AddCookie(&http.Cookie{Name: "f", Value: last})
			}
		})
		for _, k := range w.Result().Cookies() {
			if k.Name == "f" {
				last = k.Value
			}
		}
		return w.Code, w.Header().Get("Location"), w.Body.String()
	}
	const shown = "/?sort=names&tier=this_month"
	if code, _, _ := ask(store.RoleClinician, http.MethodGet, shown, nil); code != http.StatusOK || last == "" {
		t.Fatalf("status %d, kept %q", code, last)
	}
	_, wearAt, _ := ask(store.RoleClinician, http.MethodPost, "/claims/next", url.Values{"tier": {"this_month"}, "sort": {"names"}})
	id := wearAt[strings.LastIndex(wearAt, "/")+1:]
	var n int64
	fmt.Sscan(id, &n)
	code, _, body := ask(store.RoleClinician, http.MethodPost, wearAt+"/outcome", url.Values{"outcome": {"off_pathway"}, "off_pathway-reason": {"elsewhere"}, "version": {fmt.Sprint(f.Evidence(n))}})
	if code != http.StatusSeeOther {
		t.Fatalf("outcome: status %d %s", code, body)
	}
	_, _, page := ask(store.RoleClinician, http.MethodGet, wearAt, nil)
	for _, want := range []string{`name="tier" value="this_month"`, `name="sort" value="names"`, "Claim the next of tier “This month”", strings.ReplaceAll(shown, "&", "&amp;")} {
		if !strings.Contains(page, want) {
			t.Errorf("after the outcome %q is missing", want)
		}
	}
	// Somebody else at the same browser has the whole round.
	if _, _, page = ask(store.RoleNurse, http.MethodGet, wearAt, nil); strings.Contains(page, `name="tier" value="this_month"`) {
		t.Error("another person goes on by the filter")
	}
}

// TestRoundList: the list holds what is shown, in its order, and no text of it
// is a formula.
func TestRoundList(t *testing.T) {
	f := servertest.New(t)
	var want []string
	for n, name := range []string{"Zel Tarim", "=cmd|' /C calc'!A0", "Abo \"Tarim\", junior"} {
		p := storetest.AddPatient(t, f.Store, n+1)
		rec, err := f.Store.PatientRecord(t.Context(), p.ID)
		if err != nil {
			t.Fatal(err)
		}
		rec.Name, rec.Contact.Telephone = name, "+61 2 5550 1000"
		if err := f.Store.EditPatient(t.Context(), f.Actor(store.RoleNurse), rec); err != nil {
			t.Fatal(err)
		}
		storetest.File(t, f.Store, storetest.Filing(n+1, p.ID, f.Clock.Now(), 14, wear.ThisWeek, 1))
		want = append(want, name)
	}
	w := f.AskAs(store.RoleNurse, http.MethodGet, "/round.csv?sort=names&tier=this_week", nil)
	if w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "\r\n") {
		t.Fatalf("status %d: %s", w.Code, w.Body)
	}
	lines, err := csv.NewReader(w.Body).ReadAll()
	if err != nil || len(lines) != 4 {
		t.Fatalf("%d lines, %v", len(lines), err)
	}
	for i, at := range []int{1, 2, 0} {
		row := lines[i+1]
		if name := strings.TrimPrefix(row[4], "'"); name != want[at] {
			t.Errorf("line %d is of %q, want %q", i+1, row[4], want[at])
		}
		for _, cell := range row {
			if strings.IndexAny(cell, "=+-@\t\r") == 0 {
				t.Errorf("%q is a formula", cell)
			}
		}
	}
}
