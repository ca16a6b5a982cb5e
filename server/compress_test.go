package server

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"

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
	f := newFixture(t)
	f.file(1)
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
		{openAPIPath, "gzip", true},
		{livePath, "gzip", false}, // too short
		{"/healthz", "gzip", false},
	} {
		t.Run(c.path+" "+c.accepts, func(t *testing.T) {
			plain := f.ask(http.MethodGet, c.path, nil)
			w := f.ask(http.MethodGet, c.path, nil, accepting(c.accepts))
			if packed := w.Header().Get("Content-Encoding") == "gzip"; packed != c.packed {
				t.Fatalf("packed: %v, want %v", packed, c.packed)
			}
			if c.packed && (w.Body.Len() > plain.Body.Len()/2 || w.Header().Get("Vary") != "Accept-Encoding" || w.Header().Get("Content-Length") != "") {
				t.Errorf("%d bytes of %d, headers %v", w.Body.Len(), plain.Body.Len(), w.Header())
			}
			if w.Code != plain.Code {
				t.Errorf("status %d, without packing %d", w.Code, plain.Code)
			}
			token := regexp.MustCompile(`name="csrf" value="[^"]*"|data-idle="\d+"`)
			if got, want := token.ReplaceAllString(unpacked(t, w), ""), token.ReplaceAllString(plain.Body.String(), ""); got != want {
				t.Errorf("the unpacked answer differs from the one sent plain: %d and %d bytes", len(got), len(want))
			}
		})
	}
}

// TestPiecesArriveInPieces holds the packing from keeping back an answer that
// comes in pieces, and from touching a stream of events.
func TestPiecesArriveInPieces(t *testing.T) {
	for kind, packed := range map[string]bool{"text/csv": true, "text/event-stream": false} {
		t.Run(kind, func(t *testing.T) {
			s := &Server{}
			first, second := strings.Repeat("one,", minCompressed), "two"
			asked, more := make(chan struct{}), make(chan struct{})
			e := gin.New()
			e.Use(s.compress)
			e.GET("/", func(c *gin.Context) {
				c.Header("Content-Type", kind)
				_, _ = c.Writer.WriteString(first)
				c.Writer.Flush()
				close(asked)
				<-more
				_, _ = c.Writer.WriteString(second)
			})
			server := httptest.NewServer(e)
			defer server.Close()
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, server.URL, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Accept-Encoding", "gzip") // asked for by name, the client leaves it packed
			answer, err := http.DefaultClient.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			defer answer.Body.Close()
			body := io.Reader(answer.Body)
			if packed != (answer.Header.Get("Content-Encoding") == "gzip") {
				t.Fatalf("headers %v", answer.Header)
			}
			if packed {
				if body, err = gzip.NewReader(body); err != nil {
					t.Fatal(err)
				}
			}
			got := make([]byte, len(first))
			if _, err := io.ReadFull(body, got); err != nil || string(got) != first {
				t.Fatalf("the first piece did not come whole: %v", err)
			}
			<-asked
			close(more)
			rest, err := io.ReadAll(body)
			if err != nil || string(rest) != second {
				t.Errorf("then came %q, %v", rest, err)
			}
		})
	}
}

// TestFormTokensDiffer: no two pages carry the same token, each is good, and
// one that was changed is not.
func TestFormTokensDiffer(t *testing.T) {
	const secret = "a session"
	a, b := formToken(secret), formToken(secret)
	if a == b {
		t.Error("two pages carry the same token")
	}
	changed := "A" + a[1:]
	if a[0] == 'A' {
		changed = "B" + a[1:]
	}
	for token, want := range map[string]bool{a: true, b: true, "": false, changed: false, a[:len(a)-4]: false, a + "AAAA": false, "not base 64!": false} {
		if ownToken(token, secret) != want {
			t.Errorf("%q: want %v", token, want)
		}
	}
	if ownToken(formToken(""), "") {
		t.Error("a visitor without a session has a token")
	}
}
