package web

import (
	"html/template"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
)

// SignInPage asks who is there. Posts login, password and next to /sign-in.
type SignInPage struct {
	Layout
	form.Form
	Next   string // local address to go on to
	Notice string // why the page is shown: "You were signed out because …", or ""
}

// SecondFactorPage asks for the code. Posts code and next to /sign-in/second.
type SecondFactorPage struct {
	Layout
	form.Form
	Next string
}

// SetUpPage makes the first lead's sign-in, or takes a one-time link. Posts
// name, login, password and again to Action.
type SetUpPage struct {
	Layout
	form.Form
	Action string
	First  bool   // of the whole practice; else a person invited, whose Name and Login stand
	Name   string // of the person invited
	Login  string
}

// FactorPage shows the secret of a new second factor. Posts code to Action.
type FactorPage struct {
	Layout
	form.Form
	Action string
	Secret string   // base 32, shown in groups of four
	QR     [][]bool // modules, true = dark, quiet zone not included; nil shows the text alone
	Setup  bool     // part of setting up, before the person has come in
}

// CodesPage shows recovery codes, once.
type CodesPage struct {
	Layout
	Codes []string
	Next  string // local address to go on to
}

// AccountPage is a person's own sign-in. Posts to /account/password (current,
// password, again), /account/factor (current), /account/codes (current),
// /account/sessions/ID/revoke and /account/sessions/revoke (all others). Task is
// "password", "factor" or "codes".
type AccountPage struct {
	Layout
	form.Form
	Login           string
	PasswordChanged time.Time
	FactorSet       bool
	CodesLeft       int
	Sessions        []Session
	Done            string // what was just changed, a plain sentence, or ""
}

// Session is one place where a person is signed in.
type Session struct {
	ID       int64
	Current  bool
	Began    time.Time
	LastSeen time.Time
	From     string // network address
}

func (SignInPage) view() (set, block string) { return "signin", "page" }

func (SecondFactorPage) view() (set, block string) { return "second", "page" }

func (SetUpPage) view() (set, block string) { return "setup", "page" }

func (FactorPage) view() (set, block string) { return "factor", "page" }

func (CodesPage) view() (set, block string) { return "codes", "page" }

func (AccountPage) view() (set, block string) { return "account", "page" }

// Key is the secret in groups of four, as it is typed.
func (p FactorPage) Key() string {
	var b strings.Builder
	for i, r := range p.Secret {
		if i > 0 && i%4 == 0 {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
	}
	return b.String()
}

// Square is the secret as a square that a telephone reads, or "". A quiet zone
// of four modules lies around it (ISO/IEC 18004).
func (p FactorPage) Square() template.HTML {
	n := len(p.QR)
	if n == 0 {
		return ""
	}
	const quiet = 4
	var d strings.Builder
	for y, row := range p.QR {
		for x := 0; x < len(row); x++ {
			if !row[x] {
				continue
			}
			from := x
			for x < len(row) && row[x] {
				x++
			}
			d.WriteString("M" + strconv.Itoa(from+quiet) + " " + strconv.Itoa(y+quiet) + "h" + strconv.Itoa(x-from) + "v1h-" + strconv.Itoa(x-from) + "z")
		}
	}
	side := strconv.Itoa(n + 2*quiet)
	return template.HTML(`<svg viewBox="0 0 ` + side + " " + side + `" width="232" height="232" role="img" aria-label="The key as a square to be read by a telephone" shape-rendering="crispEdges"><rect class="qr-ground" width="` + side + `" height="` + side + `"/><path class="qr-mark" d="` + d.String() + `"/></svg>`)
}
