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
// that it cannot be shown, or be what it was. Each table is taken away once for
// all pages: to take it away costs more than to show them.
func (f *Fixture) Tells(role store.Role, paths ...string) {
	f.T.Helper()
	page := func(path string) (int, string) {
		w := f.AskAs(role, http.MethodGet, path, nil)
		return w.Code, disk.ReplaceAllString(keys.ReplaceAllString(w.Body.String(), ""), "")
	}
	whole, said := map[string]string{}, map[string]int{}
	for range 2 { // to have been looked at may be told on them
		for _, path := range paths {
			code, text := page(path)
			if code != http.StatusOK {
				f.T.Fatalf("%s: status %d", path, code)
			}
			whole[path] = text
		}
	}
	storetest.Gone(f.T, f.Store, func(table string) {
		for _, path := range paths {
			code, got := page(path)
			if code >= http.StatusBadRequest || strings.Contains(got, "How things stand cannot be read") {
				said[path]++
			} else if got != whole[path] {
				f.T.Errorf("%s: without the table %s it says otherwise, with status %d:%s", path, table, code, firstDifference(whole[path], got))
			}
		}
	})
	for _, path := range paths {
		if said[path] == 0 {
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

// What differs from one showing to the next, each with a beginning that can be
// searched for.
var (
	keys = regexp.MustCompile(`name="(?:csrf|once)" value="[^"]*"`)
	disk = regexp.MustCompile(`<dt>(?:Left on its disk|Database)</dt><dd>[^<]*`)
)
