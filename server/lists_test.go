package server_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// TestSecondPageOfEveryList: each list of more than a page goes on where it
// stopped, leaves nothing out and shows nothing twice.
func TestSecondPageOfEveryList(t *testing.T) {
	const many = 53
	f := servertest.New(t)
	for n := range many {
		f.File(n + 1)
		who, err := f.Store.PatientByCode(t.Context(), storetest.Patient(n+1).Code)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Store.AddRecall(t.Context(), f.Actor(store.RoleNurse), store.NewRecall{PatientID: who.ID, Kind: store.RecallReview, DueAt: f.Clock.Now().AddDate(0, 0, n)}); err != nil {
			t.Fatal(err)
		}
	}
	for path, row := range map[string]string{
		"/?page=1":         `href="(/wears/\d+)"[^>]*>`,
		"/patients?page=1": `href="(/patients/\d+)"`,
		"/recalls?page=1":  `id="recall-(\d+)"`,
		"/files?page=1":    `(ward/export-\d+\.csv)`,
	} {
		seen := map[string]bool{}
		var pages [2][]string
		for i := range pages {
			body := f.Ask(http.MethodGet, path[:len(path)-1]+fmt.Sprint(i+1), nil).Body.String()
			for _, m := range regexp.MustCompile(row).FindAllStringSubmatch(body, -1) {
				if !slices.Contains(pages[i], m[1]) {
					pages[i] = append(pages[i], m[1])
				}
				seen[m[1]] = true
			}
		}
		if len(pages[0]) != 50 || len(pages[1]) != many-50 || len(seen) != many {
			t.Errorf("%s: %d rows, then %d, %d different ones of %d", path, len(pages[0]), len(pages[1]), len(seen), many)
		}
	}
	token := f.Token(store.RoleLead, store.ScopeRead)
	for path, key := range map[string]string{"/api/v1/round": "rows", "/api/v1/recalls": "rows", "/api/v1/files": "files"} {
		from := func(offset int) []any {
			w := f.AskAs(servertest.Nobody, http.MethodGet, path+"?offset="+fmt.Sprint(offset), nil, servertest.Bearer(token))
			var answer map[string]any
			if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil || w.Code != http.StatusOK {
				t.Fatalf("%s: status %d, %v", path, w.Code, err)
			}
			rows, _ := answer[key].([]any)
			return rows
		}
		all, rest := from(0), from(50)
		if len(all) != many || len(rest) != many-50 || cmp.Diff(all[50:], rest) != "" {
			t.Errorf("%s: %d rows, and from the 50th %d", path, len(all), len(rest))
		}
	}
}
