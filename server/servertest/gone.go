package servertest

import (
	"net/http"
	"regexp"
	"strings"

	"wearround/store"
	"wearround/store/storetest"
)

// Tells fails the test where a page, or the answer to a form that changes
// nothing, leaves out what could not be read: with any table gone it must say
// that it cannot be shown, or be what it was.
func (f *Fixture) Tells(role store.Role, paths ...string) {
	f.T.Helper()
	for _, path := range paths {
		page := func() (int, string) {
			w := f.AskAs(role, http.MethodGet, path, nil)
			return w.Code, seen.ReplaceAllString(w.Body.String(), "")
		}
		page() // to have been looked at may be told on it
		code, whole := page()
		if code != http.StatusOK {
			f.T.Errorf("%s: status %d", path, code)
			continue
		}
		said := 0
		storetest.Gone(f.T, f.Store, func(table string) {
			code, got := page()
			if code >= http.StatusBadRequest || strings.Contains(got, "How things stand cannot be read") {
				said++
			} else if got != whole {
				f.T.Errorf("%s: without the table %s it says otherwise, with status %d:%s", path, table, code, firstDifference(whole, got))
			}
		})
		if said == 0 {
			f.T.Errorf("%s: no table is needed", path)
		}
	}
}

// firstDifference is where two pages part.
func firstDifference(a, b string) string {
	one, two := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range one {
		if i >= len(two) || one[i] != two[i] {
			return "\n- " + one[i] + "\n+ " + strings.Join(two[min(i, len(two)):min(i+1, len(two))], "")
		}
	}
	return " it goes on"
}

// seen is what differs from one showing to the next.
var seen = regexp.MustCompile(`name="(csrf|once)" value="[^"]*"|Left on its disk</dt><dd>[^<]*`)
