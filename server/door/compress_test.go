package door_test

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"testing"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/web"
)

func accepting(codings string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set("Accept-Encoding", codings) }
}

// unpacked is the body of an answer, whichever way it came.
func unpacked(t *testing.T, w *httptest.ResponseRecorder) string {
	t.Helper()
	if w.Header().Get("Content-Encoding") == "" {
		return w.Body.String()
	}
	z, err := gzip.NewReader(w.Body)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestCompress(t *testing.T) {
	f := servertest.New(t)
	f.File(1)
	for _, c := range []struct {
		path, accepts string
		packed        bool
	}{
		{"/", "gzip, deflate, br", true},
		{"/", "br;q=1.0, gzip;q=0.8", true},
		{"/", "", false},
		{"/", "deflate, br", false},
		{"/", "gzip;q=0", false},
		{"/", "gzip; q=0.0", false},
		{"/wears/999999", "gzip", true}, // an error page
		{web.Asset("look.css"), "gzip", true},
		{door.OpenAPIPath, "gzip", true},
		{door.LivePath, "gzip", false}, // too short
		{"/healthz", "gzip", false},
	} {
		t.Run(c.path+" "+c.accepts, func(t *testing.T) {
			plain := f.Ask(http.MethodGet, c.path, nil)
			w := f.Ask(http.MethodGet, c.path, nil, accepting(c.accepts))
			if packed := w.Header().Get("Content-Encoding") == "gzip"; packed != c.packed {
				t.Fatalf("packed: %v, want %v", packed, c.packed)
			}
			if c.packed && (w.Body.Len() > plain.Body.Len()/2 || w.Header().Get("Vary") != "Accept-Encoding" || w.Header().Get("Content-Length") != "") {
				t.Errorf("%d bytes of %d, headers %v", w.Body.Len(), plain.Body.Len(), w.Header())
			}
			if w.Code != plain.Code {
				t.Errorf("status %d, without packing %d", w.Code, plain.Code)
			}
			token := regexp.MustCompile(`name="(csrf|once)" value="[^"]*"|data-idle="\d+"`)
			if got, want := token.ReplaceAllString(unpacked(t, w), ""), token.ReplaceAllString(plain.Body.String(), ""); got != want {
				t.Errorf("the unpacked answer differs from the one sent plain: %d and %d bytes", len(got), len(want))
			}
		})
	}
}
