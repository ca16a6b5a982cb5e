package door

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/gin-gonic/gin"

	"wearround/store"
	"wearround/web"
)

// Layout is what every page shows around its own matter. A fault in finding it
// out must not hide the page: it shows as a worker that cannot be heard. Nobody
// who is not signed in learns anything of the practice from it.
func (s *Door) Layout(c *gin.Context) web.Layout {
	ctx := c.Request.Context()
	force := s.Protocol()
	l := web.Layout{Now: s.Now(), Zone: s.Zone, Protocol: force.Version, ProtocolStatus: force.Status}
	v := VisitorOf(c)
	if v == nil {
		return l
	}
	l.User = web.User{ID: v.User.ID, Name: v.User.Name, Roles: RoleNames(v.User.Roles), CSRF: FormToken(v.secret), IdleAt: v.Session.IdleAt}
	var err1, err2, err3 error
	l.Version, err1 = s.Store.DataVersion(ctx)
	l.System, err2 = s.system(ctx)
	err3 = s.daily(c, &l)
	if err := errors.Join(err1, err2, err3); err != nil {
		s.Log.Error("what stands on every page cannot be read", "err", err)
		l.System.Unknown = true
	}
	l.System.Trouble = s.trouble(ctx)
	return l
}

// daily puts on a page what would be lost if nobody counted it, and how many
// files and wears wait.
func (s *Door) daily(c *gin.Context, l *web.Layout) error {
	now := s.Now().In(s.Zone)
	d, err := s.Store.Daily(c.Request.Context(), now)
	if err != nil {
		return err
	}
	l.System.Held, l.System.Anew = d.Held, d.Stale
	l.Daily = web.Daily{CountedAt: now, UnclaimedOverdue: d.UnclaimedOverdue, HeldOverDay: d.HeldLong, RecallsWithoutContact: d.RecallsUntried, OutsOverdue: d.OutsOverdue}
	if d.Chain != nil && !d.Chain.OK() {
		l.Daily.ChainProblem = ChainWords(d.Chain)
	}
	return nil
}

// ChainWords says where the log does not hold together.
func ChainWords(c *store.LogCheck) string {
	return "At line " + IDText(c.Broken) + ", " + c.Why + "."
}

func (s *Door) system(ctx context.Context) (web.System, error) {
	beat, err := s.Store.LastBeat(ctx)
	if err != nil {
		return web.System{}, err
	}
	sys := web.System{LastLook: beat.At, Seen: beat.Seen, Waiting: beat.Waiting, Stalled: s.stalled(beat)}
	switch {
	case beat.At.IsZero():
	case !beat.FolderOK:
		sys.FolderProblem = beat.Message
	default:
		sys.FilesProblem = beat.Message
	}
	return sys, nil
}

// stalled reports whether the worker has been silent for much longer than its
// time between looks. A look at a full folder may itself take minutes.
func (s *Door) stalled(b store.Beat) bool {
	return s.Now().Sub(b.At) > 3*s.Settle+3*time.Minute
}

// Live is what open pages ask for about once a second. It keeps no session
// alive: a screen left open signs out.
func (s *Door) Live(c *gin.Context) {
	c.JSON(http.StatusOK, s.Layout(c).Live())
}
