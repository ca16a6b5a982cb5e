package main

import (
	"context"
	"encoding/base32"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/pquerna/otp/totp"

	"wearround/server/password"
	"wearround/store"
	"wearround/store/storetest"
)

// desktop is a browser that is worked with the keyboard alone, and keeps a
// picture of every step.
type desktop struct {
	context.Context
	t      *testing.T
	folder string
	step   int
}

// picture keeps what the screen shows under the number of the step.
func (d *desktop) picture(name string) {
	d.t.Helper()
	d.step++
	image, err := chromedp.Run(d, chromedp.CaptureScreenshot())
	if err != nil {
		d.t.Fatal(err)
	}
	d.keep(fmt.Sprintf("%02d-%s.png", d.step, name), image)
}

func (d *desktop) keep(name string, data []byte) {
	d.t.Helper()
	if err := os.WriteFile(filepath.Join(d.folder, name), data, 0o600); err != nil {
		d.t.Fatal(err)
	}
}

// to presses Tab until what a selector names has the focus. Where that does
// not come, the keyboard does not reach it.
func (d *desktop) to(selector string) {
	d.t.Helper()
	for range 150 {
		if evaluate[bool](d.t, d, fmt.Sprintf(`document.activeElement.matches(%q)`, selector)) {
			return
		}
		press(d.t, d, kb.Tab)
	}
	d.t.Fatalf("the Tab key does not reach %s on %s", selector, evaluate[string](d.t, d, `document.title`))
}

// enter goes to a link or button and presses Enter.
func (d *desktop) enter(selector string) {
	d.t.Helper()
	d.to(selector)
	send(d.t, d)
}

// types goes to a field and types into it.
func (d *desktop) types(selector, text string) {
	d.t.Helper()
	d.to(selector)
	press(d.t, d, text)
}

// ticks goes to a box and ticks it.
func (d *desktop) ticks(selector string) {
	d.t.Helper()
	d.to(selector)
	press(d.t, d, " ")
}

// chooses goes to a group of radio buttons and down it to a value.
func (d *desktop) chooses(name, value string) {
	d.t.Helper()
	d.to(fmt.Sprintf(`input[type=radio][name=%q]`, name))
	press(d.t, d, " ")
	for range 20 {
		if evaluate[string](d.t, d, fmt.Sprintf(`document.querySelector('input[name=%q]:checked')?.value ?? ""`, name)) == value {
			return
		}
		press(d.t, d, kb.ArrowDown)
	}
	d.t.Fatalf("the arrow keys do not reach %s = %s", name, value)
}

// reads gives the text of what a selector names.
func (d *desktop) reads(selector string) string {
	d.t.Helper()
	return evaluate[string](d.t, d, fmt.Sprintf(`document.querySelector(%q)?.innerText ?? ""`, selector))
}

// arrives drops the export of a fortnight for the nth patient: three meals a
// day, and with dips three quarters of an hour below 3.9 every other afternoon.
func (p practiceApp) arrives(n int, dips bool) {
	p.t.Helper()
	var b strings.Builder
	b.WriteString("time,glucose mmol/L\n")
	start := time.Now().UTC().AddDate(0, 0, -15).Truncate(24 * time.Hour)
	rise := 1.5
	if dips {
		rise = 2.9 // and so it stands first
	}
	for i := range 14 * 288 {
		at := start.Add(time.Duration(i) * 5 * time.Minute)
		hour := float64(at.Hour()) + float64(at.Minute())/60
		v := 5.1 + 0.3*math.Sin(float64(i+90*n)/17) + 0.2*math.Sin(float64(i)*2.1+float64(n))
		for _, meal := range []float64{7.5, 12.5, 18.5} {
			if h := hour - meal; h > 0 {
				v += rise * h / 0.8 * math.Exp(1-h/0.8)
			}
		}
		if into := hour - 16; dips && at.Day()%2 == 0 && into >= 0 && into < 1.25 {
			v = 5.2 - 2*math.Sin(math.Pi*into/1.25)
		}
		fmt.Fprintf(&b, "%s,%.1f\n", at.Format("2006-01-02 15:04:05"), v)
	}
	name := p.People[n].Code + "_export.csv"
	if err := os.WriteFile(filepath.Join(p.drop, name), []byte(b.String()), 0o600); err != nil {
		p.t.Fatal(err)
	}
}

// TestReviewWithTheKeyboard is a new nurse's first item, from signing in to the
// next one: claim the top of the round, log a symptom from a call, see the flag
// and the place change, record an outcome with its recall, print the letter, go
// on. The mouse is not touched; the pictures of the steps lie in the folder that
// the test names.
func TestReviewWithTheKeyboard(t *testing.T) {
	ctx := chromium(t)
	p := openPractice(t, 20)
	d := &desktop{Context: ctx, t: t, folder: t.ArtifactDir()}
	t.Log("the pictures of each step are in", d.folder)

	const chosen = "kemo turan below the hill"
	secret := base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString([]byte("an invented secret.."))
	hash, err := password.New(password.Cost{MemoryKiB: 64, Passes: 1, Lanes: 1}).Hash(ctx, chosen)
	if err != nil {
		t.Fatal(err)
	}
	nurse, err := p.store.AddUser(ctx, store.Actor{UserID: p.lead(ctx).ID}, store.NewUser{Login: "kemo", Name: "Kemo Turan", Roles: []store.Role{store.RoleNurse}, Password: hash})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.store.SetSecondFactor(ctx, store.Actor{UserID: nurse.ID}, storetest.Proof(t, p.store, nurse.ID), secret, 0, []string{"none"}); err != nil {
		t.Fatal(err)
	}
	p.arrives(0, true)
	p.arrives(1, false)

	visit(t, ctx, p.url())
	d.picture("sign-in")
	d.types(`input[name="login"]`, "kemo")
	d.types(`input[name="password"]`, chosen)
	send(t, ctx)
	code, err := totp.GenerateCode(secret, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	d.types(`input[name="code"]`, code)
	d.picture("second-factor")
	send(t, ctx)

	js[bool](t, ctx, `document.querySelectorAll("tr.wear").length === 2`)
	top := d.reads("tr.wear th.who, tr.wear .who")
	d.picture("round")
	d.enter(`form[action="/claims/next"] [type=submit]`)
	if who := d.reads("h1"); !strings.Contains(top, who) {
		t.Errorf("claimed the wear of %q; at the top of the round is %q", who, top)
	}
	if bar := d.reads("#work"); !strings.Contains(bar, "Yours until") {
		t.Errorf("the claimed wear says %q", bar)
	}
	place := d.reads(".standing")
	d.picture("claimed")

	d.enter(`#work a[href$="/call"]`)
	d.picture("call-sheet")
	d.chooses("felt-1", "yes")
	d.ticks(`input[name="what-1"][value="shaky"]`)
	d.types(`input[name="words-1"]`, "had to sit down")
	d.picture("answered")
	d.enter(`form.callsheet [type=submit]`)
	d.picture("place-changed")
	if now := d.reads(".standing"); now == place {
		t.Errorf("the place is still %q after a symptom in a dip", now)
	}
	if said := d.reads("#work .notice"); !strings.Contains(said, "Before: ") || !strings.Contains(said, "Now: ") {
		t.Errorf("the change of place reads %q", said)
	}
	if flags := d.reads(".pressing"); !strings.Contains(strings.ToLower(flags), "symptom") {
		t.Errorf("the flags are %q", flags)
	}

	d.enter(`#work a[href$="/outcome"]`)
	d.picture("outcomes")
	d.chooses("outcome", "tests_ordered")
	d.types(`[name="tests_ordered-reason"]`, "HbA1c and fasting glucose")
	d.picture("outcome-chosen")
	d.enter(`form.outcomes [type=submit]`)
	if said := d.reads("#work .state"); !strings.Contains(said, "Tests ordered") || !strings.Contains(said, "laboratory result by") {
		t.Errorf("the outcome reads %q", said)
	}
	d.picture("outcome-recorded")

	d.enter(`#work a[href$="/letters"]`)
	d.chooses("kind", "patient_tests")
	d.picture("letter-chosen")
	d.enter(`form.outcomes [type=submit]`)
	d.picture("letter-to-read")
	d.ticks(`form[action$="/send"] input[name="read"]`)
	d.enter(`form[action$="/send"] [type=submit]`)
	d.picture("letter-sent")
	var letter strings.Builder
	for _, sheet := range printed(t, ctx) {
		letter.WriteString(sheet.text())
	}
	if !strings.Contains(letter.String(), "HbA1c") {
		t.Errorf("the printed letter reads %q", letter.String())
	}
	pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
	if err != nil {
		t.Fatal(err)
	}
	d.keep("letter.pdf", pdf)

	d.enter(`nav a[href="/recalls"]`)
	if list := d.reads("table.recalls"); !strings.Contains(list, "laboratory result") {
		t.Errorf("the recalls are %q", list)
	}
	d.picture("recall")
	d.enter(`table.recalls a[href^="/wears/"]`)
	d.enter(`#work form[action="/claims/next"] [type=submit]`)
	if bar := d.reads("#work"); !strings.Contains(bar, "Yours until") {
		t.Errorf("the next item says %q", bar)
	}
	d.picture("next-item")
	if k, err := p.store.VerifyLog(ctx); err != nil || !k.OK() {
		t.Errorf("the log: %+v, %v", k, err)
	}
}
