package door

import (
	"encoding/json"
	"net/http"
	"net/url"

	"github.com/gin-gonic/gin"

	"wearround/store"
)

// What somebody types into a page is kept under their name until it is sent, so
// that neither a session that ends nor a step back loses it. The script of the
// page sends it every few seconds and puts it back.

// unkept are fields that are never kept.
var unkept = []string{"password", "again", "current", "code", "csrf", "once", "page", "next", "version"}

// DraftsPath is where a page sends what was typed.
const DraftsPath = "/drafts"

// SaveDraft keeps what was typed into a page.
func (s *Door) SaveDraft(c *gin.Context) {
	page := c.PostForm("page")
	if err := s.Store.SaveDraft(c.Request.Context(), Me(c), Local(page, ""), draftOf(c.Request.PostForm)); err != nil {
		s.Fail(c, err)
		return
	}
	c.Status(http.StatusNoContent)
}

// Draft gives what was typed into a page, as a JSON object of lists.
func (s *Door) Draft(c *gin.Context) {
	fields, err := s.Store.Draft(c.Request.Context(), Me(c), c.Query("page"))
	if err != nil {
		s.Fail(c, err)
		return
	}
	if fields == "" {
		fields = "{}"
	}
	c.Data(http.StatusOK, "application/json", []byte(fields))
}

// draftOf is what of a form is kept, in JSON; "" where nothing was typed.
func draftOf(form url.Values) string {
	kept := url.Values{}
	some := false
	for k, v := range form {
		kept[k] = v
		for _, x := range v {
			some = some || x != ""
		}
	}
	for _, k := range unkept {
		kept.Del(k)
	}
	b, err := json.Marshal(kept)
	if err != nil || len(kept) == 0 || !some {
		return ""
	}
	return string(b)
}

// keepPosted keeps a form that came after its session had ended, under whoever
// had the session, and reports whether it could. The form's own token tells whose
// session that was: signing out, in another tab too, takes the cookie away.
func (s *Door) keepPosted(c *gin.Context) bool {
	token := c.PostForm("csrf")
	if token == "" || c.Request.ParseForm() != nil {
		return false
	}
	userID, err := s.Store.EndedSession(c.Request.Context(), func(session store.Digest) bool { return tokenOf(token, session) })
	return err == nil && userID != 0 && s.keepTyped(c, userID)
}

// keepTyped keeps what a form brings as a draft of the page that it came from,
// and reports whether it could.
func (s *Door) keepTyped(c *gin.Context, userID int64) bool {
	fields := draftOf(c.Request.PostForm)
	page, err := url.Parse(cameFrom(c))
	return fields != "" && err == nil && s.Store.SaveDraft(c.Request.Context(), userID, page.Path, fields) == nil
}

// sent forgets what was typed into the page that a form came from, once the form
// was taken. Where it was not, what was typed stands in the page that is shown
// instead, and goes with it.
func (s *Door) sent(c *gin.Context, again string) {
	v := VisitorOf(c)
	if v == nil || c.Request.Method != http.MethodPost {
		return
	}
	from, err := url.Parse(cameFrom(c))
	if err != nil {
		return
	}
	ctx := c.Request.Context()
	had, err := s.Store.Draft(ctx, v.User.ID, from.Path)
	if err == nil && had != "" {
		err = s.Store.SaveDraft(ctx, v.User.ID, from.Path, "")
	}
	if err == nil && again != "" {
		err = s.Store.SaveDraft(ctx, v.User.ID, c.Request.URL.Path, again)
	}
	if err != nil && store.CodeOf(err) == store.Internal {
		s.Log.Error("what was typed is not kept as it was sent", "ref", c.GetString(Reference), "err", err)
	}
}
