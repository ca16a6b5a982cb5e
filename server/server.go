// Package server shows the practice its wears: pages for people, a health
// check and counts for machines. It reads and writes the store and knows
// nothing of how files are read.
//
// The way through it: routes.go is the map of pages and operations.go that of
// the API, each line with who may ask; admit.go is the one place that lets a
// request through; the rest is one file a page. A request for a host name that
// is not ours is refused, so that a web page elsewhere cannot reach this server
// through a trick of names.
package server

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"wearround/store"
	"wearround/worker/wear"
)

// Looker is asked for a look at the watched folder when an answer was given.
type Looker interface{ Look() }

// Config is what a server depends on. Every field is required unless said.
type Config struct {
	Store     *store.Store
	Worker    Looker
	Passwords *Passwords
	Protocol  *wear.Protocol
	Zone      *time.Location
	Drop      string        // the watched folder, for the person who must find it
	Settle    time.Duration // time between the worker's looks: a much longer silence is a stall
	Practice  string        // its name, for letters; without it none can be written
	Telephone string        // of the practice, likewise
	Emergency string        // number for emergency care, likewise

	// Anchors gives the lines of the audit log that were noted in a second place.
	Anchors func() ([]store.Anchor, error)

	// NextRuns says when each of the worker's scheduled jobs is to run next.
	NextRuns func(context.Context) (map[string]time.Time, error)

	// FactorRequired makes everybody set up a second factor before they come
	// in. Only an invented practice goes without.
	FactorRequired bool

	TLS   *tls.Config            // nil serves plain HTTP, to this machine or to Proxy
	Proxy bool                   // a proxy before this server ends TLS and names the client in X-Forwarded-For
	Host  func(name string) bool // which host names are ours beside loopback; may be nil

	NameRule string // the file-name rule that holds until another is set

	// TryNameRule gives the code that a file-name rule finds in each of some
	// names. An error says to a person why it is no rule.
	TryNameRule func(rule string, names []string) (codes []string, err error)

	Now      func() time.Time
	Log      *slog.Logger
	Registry *prometheus.Registry
}

// Server answers requests.
type Server struct {
	Config
	metrics  *metrics
	lobby    *lobby
	veil     veil
	norms    norms
	document []byte // the OpenAPI document
	http     *http.Server
}

// Limits on what a request may cost.
const (
	maxBody         = 64 << 10 // of a form
	maxAPIBody      = 2 << 20  // of one API request: a register of some thousand lines
	maxListBody     = 4 << 20  // of a register sent as a file
	shutdownTimeout = 10 * time.Second
)

// New makes a server. It does nothing until Serve.
func New(c Config) *Server {
	gin.SetMode(gin.ReleaseMode)
	doc, err := document(operations, c.Protocol.Version)
	if err != nil {
		panic("server: the document of the API: " + err.Error()) // made of our own types; a test builds it
	}
	s := &Server{Config: c, metrics: newMetrics(c.Registry, c.Store), lobby: &lobby{list: map[store.Digest]pending{}}, veil: newVeil(), norms: norms{kind: map[string]keptNorms{}}, document: doc}
	s.http = &http.Server{
		Handler:           s.mux(),
		TLSConfig:         c.TLS,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       15 * time.Second,
		WriteTimeout:      60 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(c.Log.Handler(), slog.LevelWarn),
	}
	return s
}

// ServeHTTP answers one request: the whole server without a listener.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.http.Handler.ServeHTTP(w, r) }

// Listen takes an address. One that is not this machine's own is refused
// unless open says that what is sent there is protected: by TLS here, or by a
// proxy that ends it.
func Listen(addr string, open bool) (net.Listener, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("address %q: write it as 127.0.0.1:8470", addr)
	}
	if !open && !loopback(host) {
		return nil, fmt.Errorf("address %q is not this machine's own: give --tls-cert and --tls-key, or --behind-proxy, to serve others; without them only 127.0.0.1, [::1] and localhost are served", addr)
	}
	l, err := net.Listen("tcp", addr)
	if err != nil {
		return nil, fmt.Errorf("address %s cannot be used (%w); another program may have it: try --addr 127.0.0.1:0", addr, err)
	}
	return l, nil
}

// Serve answers on l until ctx ends, then lets requests in hand finish for up
// to ten seconds.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	failed := make(chan error, 1)
	go func() {
		if s.TLS != nil {
			failed <- s.http.ServeTLS(l, "", "")
			return
		}
		failed <- s.http.Serve(l)
	}()
	select {
	case err := <-failed:
		return fmt.Errorf("server: %w", err)
	case <-ctx.Done():
	}
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownTimeout)
	defer cancel()
	if err := s.http.Shutdown(stop); err != nil {
		return errors.Join(fmt.Errorf("server: requests were still open after %v: %w", shutdownTimeout, err), s.http.Close())
	}
	return nil
}
