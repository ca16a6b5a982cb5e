// Package door is the way into the server: who asks and whether they may, what
// every page stands in, and how a fault is told. Every task's package is built
// on it, and it knows none of them.
package door

import (
	"context"
	"crypto/tls"
	"log/slog"
	"net/netip"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/prometheus/client_golang/prometheus"

	"wearround/server/password"
	"wearround/store"
	"wearround/web"
	"wearround/worker/wear"
)

// Looker is asked for a look at the watched folder when an answer was given.
type Looker interface{ Look() }

// Config is what a server depends on. Every field is required unless said.
type Config struct {
	Store     *store.Store
	Worker    Looker
	Passwords *password.Hasher
	Zone      *time.Location
	Drop      string        // the watched folder, for the person who must find it
	Settle    time.Duration // time between the worker's looks: a much longer silence is a stall
	Practice  string        // its name, for letters, where it is given at the start; otherwise as set in the browser
	Telephone string        // of the practice, likewise
	Emergency string        // number for emergency care, likewise

	// Anchors gives the lines of the log that were noted in a second place.
	Anchors func() ([]store.Anchor, error)

	// NextRuns says when each of the worker's scheduled jobs is to run next.
	NextRuns func(context.Context) (map[string]time.Time, error)

	// Installation says of each thing that the program stands on whether it is
	// right: folders, disk, backups and the like. It may be nil.
	Installation func(context.Context) []web.Check

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

	Backups   string         // where the worker copies the practice to, or "": late copies are trouble
	ProxyFrom []netip.Prefix // addresses that the proxy speaks from; none stands for this machine
}

// Door is what the packages of all tasks share. It is made once.
type Door struct {
	Config
	Veil    Veil
	metrics *metrics
	started time.Time
	tokens  limits
}

// New makes the door of a server.
func New(c Config) *Door {
	d := &Door{Config: c, Veil: NewVeil(), started: c.Now()}
	d.metrics = newMetrics(c.Registry, d)
	return d
}

// Protocol is the one in force.
func (s *Door) Protocol() *wear.Protocol { return s.Store.Judging().Protocol }

// Use has every request that e answers pass the door's checks.
func (s *Door) Use(e *gin.Engine) {
	e.Use(s.observe, s.compress, s.recover, s.headers, s.ownHost, s.fromProxy, s.sameOrigin)
}
