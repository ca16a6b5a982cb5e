package review_test

import (
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

// worsen has a wear judged to be looked at today, by a fact that comes late.
func worsen(f *servertest.Fixture, wearID int64) {
	f.T.Helper()
	late := storetest.Verdict(f.Clock.Now().Unix()-86400, wear.Today, 90, wear.FlagVeryHigh)
	if err := f.Store.AddEvents(f.T.Context(), f.Actor(store.RoleClinician), wearID, []wear.Event{late}); err != nil {
		f.T.Fatal(err)
	}
}

// TestLetterHeldBack: a letter that comforts does not leave the house once its
// wear says something else, printed or not; the others do.
func TestLetterHeldBack(t *testing.T) {
	f := servertest.New(t)
	var ids []int64
	for n := range 3 {
		ids = append(ids, routine(f, n+1, func(*wear.Report) {}))
	}
	f.Must(store.RoleNurse, "/sheet", url.Values{"told": sheetMarks(f, store.RoleNurse)})
	worsen(f, ids[0])
	f.Has(store.RoleNurse, "/outbox", "Print 2 letters", "Held back.")
	run := f.Must(store.RoleNurse, "/outbox/print", nil)
	f.Has(store.RoleNurse, run, "2 letters to print, 2 with the wearer’s page", "Your two weeks")
	worsen(f, ids[1])
	f.Has(store.RoleNurse, run, "1 letter to print", "Held back")
	f.Has(store.RoleNurse, "/outbox?list=printed", "1 letter posted", "Held back.")
	f.Must(store.RoleNurse, "/outbox/posted", nil)
	for list, want := range map[string]string{"unprinted": "1 of 1 letter", "printed": "1 of 1 letter", "posted": "1 of 1 letter"} {
		f.Has(store.RoleNurse, "/outbox?list="+list, want)
	}
}

// TestTwoWeeks: the wearer's page is there where a letter about what was seen
// is, and nowhere else.
func TestTwoWeeks(t *testing.T) {
	f := servertest.New(t)
	id := routine(f, 1, func(*wear.Report) {})
	address := fmt.Sprintf("/wears/%d/two-weeks", id)
	f.Has(store.RoleNurse, address, "Your two weeks", "What you can leave alone", "nothing more that we would like to do")
	worsen(f, id)
	if w := f.AskAs(store.RoleNurse, http.MethodGet, address, nil); w.Code == http.StatusOK && strings.Contains(w.Body.String(), "leave alone") {
		t.Error("the page comforts beside a finding")
	}
	unread := routine(f, 2, func(r *wear.Report) { r.Unread = 1 })
	if w := f.AskAs(store.RoleNurse, http.MethodGet, fmt.Sprintf("/wears/%d/two-weeks", unread), nil); w.Code != http.StatusConflict {
		t.Errorf("beside unread words: status %d", w.Code)
	}
}
