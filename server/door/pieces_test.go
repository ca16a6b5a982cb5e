package door

import (
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gin-gonic/gin"
)

// TestPiecesArriveInPieces holds the packing from keeping back an answer that
// comes in pieces, and from touching a stream of events.
func TestPiecesArriveInPieces(t *testing.T) {
	for kind, packed := range map[string]bool{"text/csv": true, "text/event-stream": false} {
		t.Run(kind, func(t *testing.T) {
			s := &Door{}
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
