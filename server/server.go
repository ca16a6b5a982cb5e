// Package server shows the practice its wears: pages for people, a health
// check and counts for machines. It reads and writes the store and knows
// nothing of how files are read.
//
// Until sign-in exists it serves this machine only: [Listen] refuses any
// address that is not loopback, and a request for another host name is refused
// too, so that a web page elsewhere cannot reach it through a trick of names.
package server

import (
	"context"
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

// Config is what a server depends on. Every field is required.
type Config struct {
	Store    *store.Store
	Worker   Looker
	Protocol *wear.Protocol
	Zone     *time.Location
	Drop     string        // the watched folder, for the person who must find it
	Settle   time.Duration // time between the worker's looks: a much longer silence is a stall
	Now      func() time.Time
	Log      *slog.Logger
	Registry *prometheus.Registry
}

// Server answers requests.
type Server struct {
	Config
	metrics *metrics
	http    *http.Server
}

// Limits on what a request may cost.
const (
	maxBody         = 64 << 10
	shutdownTimeout = 10 * time.Second
)

// New makes a server. It does nothing until Serve.
func New(c Config) *Server {
	gin.SetMode(gin.ReleaseMode)
	s := &Server{Config: c, metrics: newMetrics(c.Registry, c.Store)}
	s.http = &http.Server{
		Handler:           s.routes(),
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

// Listen takes a loopback address. Any other is refused, because nobody signs
// in yet and the pages are about patients.
func Listen(addr string) (net.Listener, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return nil, fmt.Errorf("address %q: write it as 127.0.0.1:8470", addr)
	}
	if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil, fmt.Errorf("address %q is not this machine's own: there is no sign-in yet, so only 127.0.0.1, [::1] and localhost are served", addr)
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
	go func() { failed <- s.http.Serve(l) }()
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
