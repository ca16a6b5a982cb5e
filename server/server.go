// Package server shows the practice its wears: pages for people, an API for
// programs, a health check and counts for machines. It reads and writes the store
// and knows nothing of how files are read.
//
// The way through it: routes.go is the map of pages and api/operations.go that of
// the API, each line with who may ask; door/admit.go is the one place that lets a
// request through; beneath, a package a task. A request for a host name that is
// not ours is refused, so that a web page elsewhere cannot reach this server
// through a trick of names.
package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/server/act"
	"wearround/server/api"
	"wearround/server/audit"
	"wearround/server/door"
	"wearround/server/files"
	"wearround/server/handout"
	"wearround/server/register"
	"wearround/server/review"
	"wearround/server/settings"
	"wearround/server/signin"
	"wearround/server/view"
)

// Config is what a server depends on.
type Config = door.Config

// Server answers requests: each task's pages behind one door.
type Server struct {
	*door.Door
	signin   *signin.Desk
	review   *review.Review
	register *register.Register
	handout  *handout.HandOut
	settings *settings.Settings
	files    *files.Files
	audit    *audit.Audit
	api      *api.API
	http     *http.Server
}

// shutdownTimeout is how long requests in hand may take to finish.
const shutdownTimeout = 10 * time.Second

// New makes a server. It does nothing until Serve.
func New(c Config) *Server {
	gin.SetMode(gin.ReleaseMode)
	d := door.New(c)
	acts, v := &act.Acts{Door: d}, view.New(d)
	s := &Server{
		Door: d, signin: signin.New(d, acts), review: review.New(d, acts, v), register: &register.Register{Door: d, Acts: acts, View: v},
		handout:  &handout.HandOut{Door: d, Acts: acts, View: v},
		settings: &settings.Settings{Door: d, Acts: acts},
		files:    &files.Files{Door: d}, audit: &audit.Audit{Door: d, Acts: acts}, api: api.New(d, acts, v),
	}
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

// CheckAddress refuses an address that nothing may be served on; see [Listen].
func CheckAddress(addr string, open bool) error {
	host, port, err := net.SplitHostPort(addr)
	if n, e := strconv.Atoi(port); err != nil || e != nil || n < 0 || n > 65535 {
		return fmt.Errorf("address %q: write it as 127.0.0.1:8470", addr)
	}
	if !open && !door.Loopback(host) {
		return fmt.Errorf("address %q is not this machine's own: give --tls-cert and --tls-key, or --behind-proxy, to serve others; without them only 127.0.0.1, [::1] and localhost are served", addr)
	}
	return nil
}

// Listen takes an address. One that is not this machine's own is refused
// unless open says that what is sent there is protected: by TLS here, or by a
// proxy that ends it.
func Listen(addr string, open bool) (net.Listener, error) {
	if err := CheckAddress(addr, open); err != nil {
		return nil, err
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
