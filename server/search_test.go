package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wearround/store"
	"wearround/store/storetest"
)

// What is searched for never stands in an address, and comes back from it.
func TestSearchStaysOutOfAddresses(t *testing.T) {
	f := newFixture(t)
	f.file(1)
	f.file(2)
	who := storetest.Patient(1)
	for _, path := range []string{"/", "/patients/search"} {
		to := f.must(store.RoleNurse, path, url.Values{"q": {who.Name}, "tier": {"this_month"}})
		if strings.Contains(to, url.QueryEscape(who.Name)) || strings.Contains(to, strings.Fields(who.Name)[0]) {
			t.Errorf("%s leads to %s", path, to)
		}
		w := f.ask(http.MethodGet, to, nil)
		if body := w.Body.String(); !strings.Contains(body, "“"+who.Name+"”") || !strings.Contains(body, who.Code) || strings.Contains(body, storetest.Patient(2).Code) {
			t.Errorf("%s shows %s", to, said1(w))
		}
	}
	// A broken or an old veil shows the whole list, never none of it.
	for _, s := range []string{"x", "%21", newVeil().cover(who.Name), url.QueryEscape(who.Name)} {
		if body := f.ask(http.MethodGet, "/?s="+s, nil).Body.String(); !strings.Contains(body, "2 of 2 open wears shown: the whole round") {
			t.Errorf("s=%s does not show the whole round", s)
		}
	}
	v := newVeil()
	if one, two := v.cover("a"), v.cover("a"); one == two || v.uncover(v.cover("Velo Ünt")) != "Velo Ünt" || v.cover("") != "" {
		t.Error("the veil does not hide and give back")
	}
}
