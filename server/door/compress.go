package door

import (
	"strings"
	"sync"

	"github.com/gin-gonic/gin"
	"github.com/klauspost/compress/gzip"
)

// minCompressed is the shortest first write worth packing, in bytes: what fits
// into one packet anyway gains nothing. Common practice.
const minCompressed = 1400

// packLevel was chosen by measurement on a wear's page of 224 kB: a fifth of the
// time of the standard library's usual level for a quarter more bytes, which a
// practice's network does not feel.
const packLevel = 2

// packers are gzip writers to be used again: each holds some 800 kB.
var packers = sync.Pool{New: func() any {
	w, err := gzip.NewWriterLevel(nil, packLevel)
	if err != nil {
		panic(err) // only for a level that does not exist
	}
	return w
}}

// compress packs text on its way to a browser that can unpack it. How long a
// packed page is tells a little of what it holds: somebody who can make a
// person's browser ask for chosen words, and sees the lengths, could learn a
// secret that stands on the page beside them. Hence the session's cookie goes
// with no request from another site, and the token of the forms is another text
// on every page (see [FormToken]).
func (s *Door) compress(c *gin.Context) {
	if !acceptsGzip(c.GetHeader("Accept-Encoding")) {
		c.Next()
		return
	}
	w := &packingWriter{ResponseWriter: c.Writer}
	c.Writer = w
	defer w.finish()
	c.Next()
}

// acceptsGzip reads an Accept-Encoding header. A weight of nought is a refusal.
func acceptsGzip(header string) bool {
	for _, part := range strings.Split(header, ",") {
		coding, weight, _ := strings.Cut(part, ";")
		if strings.TrimSpace(coding) == "gzip" {
			weight = strings.TrimRight(strings.ReplaceAll(weight, " ", ""), "0")
			return weight != "q=" && weight != "q=0."
		}
	}
	return false
}

// packingWriter decides at the first write, when the kind of the answer is
// known, whether to pack it.
type packingWriter struct {
	gin.ResponseWriter
	decided bool
	gz      *gzip.Writer // nil: sent as it is
}

func (w *packingWriter) Write(b []byte) (int, error) {
	if !w.decided {
		w.decide(len(b))
	}
	if w.gz == nil {
		return w.ResponseWriter.Write(b)
	}
	return w.gz.Write(b)
}

func (w *packingWriter) WriteString(text string) (int, error) { return w.Write([]byte(text)) }

// Flush sends what there is: an answer that comes in pieces arrives in pieces.
func (w *packingWriter) Flush() {
	if w.gz != nil {
		_ = w.gz.Flush() // the writer below keeps the error for the next write
	}
	w.ResponseWriter.Flush()
}

func (w *packingWriter) decide(first int) {
	w.decided = true
	h := w.Header()
	if !packable(h.Get("Content-Type")) {
		return
	}
	h.Add("Vary", "Accept-Encoding")
	if first < minCompressed || w.ResponseWriter.Written() || h.Get("Content-Encoding") != "" || h.Get("Content-Range") != "" {
		return
	}
	h.Set("Content-Encoding", "gzip")
	h.Del("Content-Length")
	h.Del("Accept-Ranges")
	w.gz = packers.Get().(*gzip.Writer)
	w.gz.Reset(w.ResponseWriter)
}

// packable reports whether a kind of content is text. A stream of events is
// not in the list: each must leave at once.
func packable(contentType string) bool {
	kind, _, _ := strings.Cut(contentType, ";")
	switch kind {
	case "text/html", "text/css", "text/csv", "text/plain", "text/javascript", "application/json", "image/svg+xml":
		return true
	}
	return false
}

func (w *packingWriter) finish() {
	if w.gz == nil {
		return
	}
	_ = w.gz.Close() // fails only where the reader has gone
	w.gz.Reset(nil)
	packers.Put(w.gz)
	w.gz = nil
}
