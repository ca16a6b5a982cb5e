package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// Before a session ends the page warns, and one press keeps it; with the
// keyboard as well.
func TestSessionIsKeptWithOnePress(t *testing.T) {
	ctx := browser(t)
	page := fullPages("")["about"].(AboutPage)
	page.System = System{LastLook: page.Now}
	page.User.IdleAt = page.Now.Add(90 * time.Second)
	s := &site{pages: map[string]Page{"/": page}, live: Live{Version: page.Version}}
	tokens := make(chan string, 1)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodPost && r.URL.Path == "/session/extend" {
			tokens <- r.FormValue("csrf")
			fmt.Fprint(w, `{"idle_s":900}`)
			return
		}
		s.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	do(t, ctx, chromedp.Navigate(server.URL+"/"), chromedp.WaitVisible(css("#idle button")))
	if said := get(t, ctx, chromedp.Text(css("#idle p"))); !strings.Contains(said, "2 minutes") {
		t.Errorf("the warning says %q", said)
	}
	do(t, ctx, chromedp.Focus(css("#idle button")), chromedp.KeyEvent("\r"), chromedp.WaitNotVisible(css("#idle")))
	if got := <-tokens; got != "t0k3n" {
		t.Errorf("the session was extended with the token %q", got)
	}
}

// The seconds left to undo count down, and the button goes when they are over.
func TestUndoCountsDown(t *testing.T) {
	ctx := browser(t)
	page := wearPages("")["wear ended"].(WearPage)
	page.System = System{LastLook: page.Now}
	until := time.Now().Add(3 * time.Second)
	page.Now, page.User.IdleAt = time.Now(), time.Time{}
	page.Work.Outcome.UndoUntil = until
	server := httptest.NewServer(&site{pages: map[string]Page{"/": page}, live: Live{Version: page.Version}})
	t.Cleanup(server.Close)
	do(t, ctx, chromedp.Navigate(server.URL+"/"))
	if left := get(t, ctx, chromedp.Poll[string](`document.querySelector(".undo .left").textContent`)); !strings.HasSuffix(left, " s)") {
		t.Errorf("beside the button stands %q", left)
	}
	do(t, ctx, chromedp.WaitNotVisible(css("form.undo")))
	if early := time.Until(until); early > 0 {
		t.Errorf("the button went %v too early", early)
	}
}
