package audit_test

import (
	"bytes"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/totp"

	"wearround/server/door"
	"wearround/server/servertest"
	"wearround/store"
	"wearround/store/storetest"
	"wearround/worker/wear"
	"wearround/worker/wear/protocolfile"
)

// typed is the form of a draft, filled as the page fills it.
func typed(f *servertest.Fixture) url.Values {
	v := url.Values{"version": {"of the test"}, "proposed_by": {"the meeting"}, "from": {"0"}}
	for _, x := range f.Protocol().Settings() {
		if !strings.HasPrefix(x.Name, "limit.") && x.Range != "a tier" {
			v.Set(x.Name, x.Value)
		}
	}
	return v
}

// A draft is typed, comes back with its faults, is tried and compared, and is
// signed by a clinician with password and code and by nobody else.
func TestProtocolIsDraftedTriedAndSigned(t *testing.T) {
	f := servertest.New(t)
	id := f.File(1)
	f.File(2)
	v := typed(f)
	v.Set("flag.above_10_days", "61")
	v.Set("due.today", "soon")
	w := f.AskAs(store.RoleLead, http.MethodPost, "/protocol/draft", v)
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `value="soon"`) || !strings.Contains(w.Body.String(), `href="#due.today"`) {
		t.Fatalf("a fault: status %d", w.Code)
	}
	v.Set("due.today", "0")
	if w = f.AskAs(store.RoleLead, http.MethodPost, "/protocol/draft", v); w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `href="#flag.above_10_days"`) {
		t.Fatalf("out of its range: status %d", w.Code)
	}
	v.Set("flag.above_10_days", "1")
	v.Set("tier.above_10", "today")
	f.Must(store.RoleLead, "/protocol/draft", v)
	list, err := f.Store.KeptProtocols(t.Context())
	if err != nil || len(list) != 1 {
		t.Fatal(list, err)
	}
	at := "/protocol/versions/" + door.IDText(list[0].ID)
	f.Has(store.RoleNurse, at, "is a draft of Lemo Lead", "flag.above_10_days", "Today")
	f.Has(store.RoleNurse, "/protocol", "of the test", "draft")
	f.Has(store.RoleLead, at+"/what-if", "of 2 wears would stand in another tier", "Work a month")
	if before, err := f.Store.Wear(t.Context(), id); err != nil || before.Report.Protocol == "of the test" {
		t.Errorf("a trial changed a wear: %v", err)
	}

	k, err := f.Store.KeptProtocol(t.Context(), list[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	day := f.Clock.Now().AddDate(0, 0, 1).In(f.Zone).Format(time.DateOnly)
	sign := url.Values{"from": {day}, "current": {servertest.GoodPassword}, "code": {"000000"}, "made": {fmt.Sprint(k.At.Unix())}}
	refused := func(role store.Role, status int, words string) {
		t.Helper()
		w := f.AskAs(role, http.MethodPost, at+"/sign", sign)
		if w.Code != status || !strings.Contains(w.Body.String(), words) {
			t.Errorf("status %d, want %d with %q: %s", w.Code, status, words, servertest.SaidOn(w))
		}
	}
	refused(store.RoleNurse, http.StatusForbidden, "")
	refused(store.RoleClinician, http.StatusUnprocessableEntity, "needs a second factor")
	const secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
	who := f.Actor(store.RoleClinician)
	if err := f.Store.SetSecondFactor(t.Context(), who, storetest.Proof(t, f.Store, who.UserID), secret, 1, []string{"x"}); err != nil {
		t.Fatal(err)
	}
	f.SignIn(store.RoleClinician)
	code, err := totp.GenerateCodeCustom(secret, f.Clock.Now(), totp.ValidateOpts{Period: 30, Digits: otp.DigitsSix})
	if err != nil {
		t.Fatal(err)
	}
	refused(store.RoleClinician, http.StatusUnprocessableEntity, "This code is not right")
	sign.Set("current", "another")
	sign.Set("code", code)
	refused(store.RoleClinician, http.StatusUnprocessableEntity, "not your current password")
	sign.Set("current", servertest.GoodPassword)
	sign.Set("made", "1")
	refused(store.RoleClinician, http.StatusUnprocessableEntity, "The draft was changed meanwhile")
	refused(store.RoleClinician, http.StatusUnprocessableEntity, "was used already")
	sign.Set("made", fmt.Sprint(k.At.Unix()))
	sign.Set("from", f.Clock.Now().AddDate(0, 0, -2).Format(time.DateOnly))
	refused(store.RoleClinician, http.StatusUnprocessableEntity, "today or a later one")
	sign.Set("from", day)
	f.Clock.Advance(time.Minute)
	if code, err = totp.GenerateCodeCustom(secret, f.Clock.Now(), totp.ValidateOpts{Period: 30, Digits: otp.DigitsSix}); err != nil {
		t.Fatal(err)
	}
	sign.Set("code", code)
	f.Must(store.RoleClinician, at+"/sign", sign)
	f.Has(store.RoleClinician, at, "was signed by Kelo Clinician and will hold from")
	f.Clock.Advance(48 * time.Hour)
	f.SignIn(store.RoleNurse)
	f.Has(store.RoleNurse, at, "is in force since")
	f.Has(store.RoleNurse, "/protocol", "Protocol of the test: Signed by Kelo Clinician")
	f.Beat(true, "")
	f.Has(store.RoleNurse, "/", "still to be judged anew by protocol of the test")
	if err := f.Store.JudgeBy(store.Judging{Protocol: wear.DefaultProtocol(), Zone: f.Zone}); err != nil {
		t.Fatal(err)
	}
	f.Has(store.RoleNurse, "/protocol", "is signed and its day has come, but the program was started with")
}

// A file is kept as a draft whoever it says has signed it, and comes out as it
// went in.
func TestProtocolFileIsImported(t *testing.T) {
	f := servertest.New(t)
	send := func(text string) (int, string) {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		w, err := m.CreateFormFile("file", "protocol.json")
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprint(w, text)
		if err := m.WriteField("csrf", door.FormToken(f.Sessions[store.RoleLead])); err != nil {
			t.Fatal(err)
		}
		if err := m.Close(); err != nil {
			t.Fatal(err)
		}
		a := f.AskAs(store.RoleLead, http.MethodPost, "/protocol/import", nil, func(r *http.Request) {
			r.Header.Set("Content-Type", m.FormDataContentType())
			r.Body, r.ContentLength = io.NopCloser(&b), int64(b.Len())
		})
		return a.Code, a.Body.String() + a.Header().Get("Location")
	}
	if code, body := send(`{"version": "x", "flag": {"above_10_dayz": 3}}`); code != http.StatusUnprocessableEntity || !strings.Contains(body, "there is no setting called") {
		t.Errorf("a file with a fault: status %d", code)
	}
	code, to := send(`{"version": "sent in", "status": "signed by somebody", "flag": {"above_10_days": 6}}`)
	if code != http.StatusSeeOther {
		t.Fatalf("status %d: %s", code, to)
	}
	f.Has(store.RoleNurse, to, "is a draft of Lemo Lead", "Where it differs from "+f.Protocol().Version)
	w := f.AskAs(store.RoleNurse, http.MethodGet, to+"/file", nil)
	p, err := protocolfile.Read(w.Body.Bytes())
	if err != nil || p.Flag.Above10Days != 6 || strings.Contains(p.Status, "signed by") {
		t.Errorf("%v, %v", p, err)
	}
}
