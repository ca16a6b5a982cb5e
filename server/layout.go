package server

import (
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// layout is what every page shows around its own matter. A fault in finding it
// out must not hide the page: it shows as a worker that cannot be heard.
func (s *Server) layout(c *gin.Context) web.Layout {
	ctx := c.Request.Context()
	l := web.Layout{Now: s.Now(), Zone: s.Zone, Protocol: s.Protocol.Version, ProtocolStatus: s.Protocol.Status}
	var err error
	if l.Version, err = s.Store.DataVersion(ctx); err != nil {
		s.Log.Error("data version unknown", "err", err)
	}
	l.System, err = s.system(c)
	if err != nil {
		s.Log.Error("state of the worker unknown", "err", err)
		l.System.Stalled = true
	}
	return l
}

func (s *Server) system(c *gin.Context) (web.System, error) {
	beat, err := s.Store.LastBeat(c.Request.Context())
	if err != nil {
		return web.System{}, err
	}
	n, err := s.Store.Counts(c.Request.Context())
	if err != nil {
		return web.System{}, err
	}
	sys := web.System{LastLook: beat.At, Seen: beat.Seen, Waiting: beat.Waiting, Held: n.HeldFiles, Stalled: s.stalled(beat)}
	if !beat.FolderOK && !beat.At.IsZero() {
		sys.FolderProblem = beat.Message
	}
	return sys, nil
}

// stalled reports whether the worker has been silent for much longer than its
// time between looks. A look at a full folder may itself take minutes.
func (s *Server) stalled(b store.Beat) bool {
	return s.Now().Sub(b.At) > 3*s.Settle+3*time.Minute
}

// live is what open pages ask for about once a second.
func (s *Server) live(c *gin.Context) {
	c.JSON(http.StatusOK, s.layout(c).Live())
}

// health says whether the program does its work: the database answers and the
// worker looks.
func (s *Server) health(c *gin.Context) {
	sys, err := s.system(c)
	switch {
	case err != nil:
		s.Log.Error("health: database", "err", err)
		c.String(http.StatusServiceUnavailable, "database does not answer\n")
	case sys.Stalled:
		c.String(http.StatusServiceUnavailable, "worker does not look\n")
	case sys.FolderProblem != "":
		c.String(http.StatusServiceUnavailable, "watched folder cannot be read\n")
	default:
		c.String(http.StatusOK, "ok\n")
	}
}
