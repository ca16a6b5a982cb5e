package door

import (
	"crypto/rand"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
)

// Reference is the key under which a request's short id is kept.
const Reference = "reference"

// observe gives the request an id, counts it and writes one log line: the
// route's template, never the address, its query or a cookie.
func (s *Door) observe(c *gin.Context) {
	id := rand.Text()[:10]
	c.Set(Reference, id)
	begin := time.Now()
	c.Next()
	route := c.FullPath()
	if route == "" {
		route = "unmatched"
	}
	took, status := time.Since(begin), c.Writer.Status()
	method := methodLabel(c.Request.Method)
	s.metrics.requests.WithLabelValues(route, method, strconv.Itoa(status)).Inc()
	s.metrics.seconds.WithLabelValues(route).Observe(took.Seconds())
	level := slog.LevelDebug
	switch {
	case status >= 500:
		level = slog.LevelError
	case status == http.StatusUnauthorized || status == http.StatusForbidden || status == http.StatusTooManyRequests: // refused
		level = slog.LevelInfo
	}
	s.Log.Log(c.Request.Context(), level, "request", "ref", id, "method", method, "route", route, "status", status, "ms", took.Milliseconds())
}

// recover turns a panic into an error page. The framework's own recovery is
// not used: it writes request headers, and so cookies, to the log.
func (s *Door) recover(c *gin.Context) {
	defer func() {
		if p := recover(); p != nil {
			if p == http.ErrAbortHandler {
				panic(p)
			}
			s.Log.Error("handler panicked", "ref", c.GetString(Reference), "panic", p, "stack", string(debug.Stack()))
			if !c.Writer.Written() {
				s.Fail(c, errPanic)
			}
			c.Abort()
		}
	}()
	c.Next()
}

// headers are the same on every answer. No page needs a script, style, font or
// picture from anywhere but here, and none may be framed or kept.
func (s *Door) headers(c *gin.Context) {
	h := c.Writer.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
	h.Set("Cache-Control", "no-store")
	if s.Secure() {
		h.Set("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
	}
	c.Next()
}

// ownHost refuses requests that name another host: a page on the internet
// could otherwise point a name of its own at this machine and read the round.
func (s *Door) ownHost(c *gin.Context) {
	host := c.Request.Host
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	if len(host) > 1 && host[0] == '[' && host[len(host)-1] == ']' {
		host = host[1 : len(host)-1]
	}
	if p := c.FullPath(); p == HealthPath || p == ReadyPath { // machines ask by any name, and learn nothing of the practice
		c.Next()
		return
	}
	if !Loopback(host) && (s.Host == nil || !s.Host(host)) {
		s.Fail(c, errHost)
		return
	}
	c.Next()
}

// Loopback reports whether a host is this machine, seen from itself.
func Loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// sameOrigin refuses a change that a page of another site asks for. A change
// that does not say where it comes from is refused as well: browsers always
// say. What programs ask for rests on a token alone, which no browser adds by
// itself; without one they are told that it is wanting.
func (s *Door) sameOrigin(c *gin.Context) {
	r := c.Request
	if forPrograms(r.URL.Path) {
		c.Next()
		return
	}
	if err := http.NewCrossOriginProtection().Check(r); err != nil {
		s.Fail(c, errOrigin)
		return
	}
	unsafe := r.Method != http.MethodGet && r.Method != http.MethodHead && r.Method != http.MethodOptions
	if unsafe && r.Header.Get("Sec-Fetch-Site") == "" && r.Header.Get("Origin") == "" {
		s.Fail(c, errOrigin)
		return
	}
	c.Next()
}

// ThisMachine lets only programs on this machine ask: the counts of a small
// practice can say something about a person.
func (s *Door) ThisMachine(h http.Handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		host, _, err := net.SplitHostPort(c.Request.RemoteAddr)
		if err != nil || !Loopback(host) || c.GetHeader("X-Forwarded-For") != "" || c.GetHeader("Forwarded") != "" {
			s.Fail(c, ErrNoPage)
			return
		}
		h.ServeHTTP(c.Writer, c.Request)
	}
}
