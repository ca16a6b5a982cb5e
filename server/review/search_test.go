package review_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
)

// What is searched for never stands in an address, and comes back from it.
func TestSearchStaysOutOfAddresses(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	f.File(2)
	who := storetest.Patient(1)
	for _, path := range []string{"/", "/patients/search"} {
		to := f.Must(store.RoleNurse, path, url.Values{"q": {who.Name}, "tier": {"this_month"}})
		if strings.Contains(to, url.QueryEscape(who.Name)) || strings.Contains(to, strings.Fields(who.Name)[0]) {
			t.Errorf("%s leads to %s", path, to)
		}
		w := f.Ask(http.MethodGet, to, nil)
		if body := w.Body.String(); !strings.Contains(body, "“"+who.Name+"”") || !strings.Contains(body, who.Code) || strings.Contains(body, storetest.Patient(2).Code) {
			t.Errorf("%s shows %s", to, servertest.SaidOn(w))
		}
	}
	// A broken or an old veil shows the whole list, never none of it.
	for _, s := range []string{"x", "%21", door.NewVeil().Cover(who.Name), url.QueryEscape(who.Name)} {
		if body := f.Ask(http.MethodGet, "/?s="+s, nil).Body.String(); !strings.Contains(body, "2 of 2 open wears shown: the whole round") {
			t.Errorf("s=%s does not show the whole round", s)
		}
	}
	v := door.NewVeil()
	if one, two := v.Cover("a"), v.Cover("a"); one == two || v.Uncover(v.Cover("Velo Ünt")) != "Velo Ünt" || v.Cover("") != "" {
		t.Error("the veil does not hide and give back")
	}
}
