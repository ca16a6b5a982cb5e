package servertest

import (
	"net/http"
	"net/http/httptest"
	"net/url"
)

// Browser keeps cookies between requests of somebody who is not signed in yet.
type Browser struct {
	*Fixture
	Cookies map[string]string
}

// Browser opens one.
func (f *Fixture) Browser() *Browser { return &Browser{f, map[string]string{}} }

// Send asks with the cookies kept, and keeps those that come.
func (b *Browser) Send(method, path string, form url.Values) *httptest.ResponseRecorder {
	b.T.Helper()
	w := b.AskAs(Nobody, method, path, form, func(r *http.Request) {
		for name, value := range b.Cookies {
			r.AddCookie(&http.Cookie{Name: name, Value: value})
		}
	})
	for _, k := range w.Result().Cookies() {
		if b.Cookies[k.Name] = k.Value; k.MaxAge < 0 {
			delete(b.Cookies, k.Name)
		}
	}
	return w
}

// Lands sends a form that must lead on to a place.
func (b *Browser) Lands(to, path string, form url.Values) {
	b.T.Helper()
	w := b.Send(http.MethodPost, path, form)
	if got := w.Header().Get("Location"); w.Code != http.StatusSeeOther || got != to {
		b.T.Fatalf("%s leads to %q with status %d, want %q: %s", path, got, w.Code, to, SaidOn(w))
	}
}
