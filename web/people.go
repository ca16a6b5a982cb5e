package web

import (
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Is reports whether the user has one of the roles.
func (u User) Is(roles ...string) bool {
	return slices.ContainsFunc(roles, func(r string) bool { return slices.Contains(u.Roles, r) })
}

// RoleWords are the user's roles in words.
func (u User) RoleWords() string { return rolesWords(u.Roles) }

// Staff reports whether the user works with patients.
func (u User) Staff() bool { return u.Is(RoleNurse, RoleClinician, RoleLead) }

func rolesWords(roles []string) string {
	var out []string
	for _, r := range roleOrder {
		if slices.Contains(roles, r) {
			out = append(out, roleWords[r])
		}
	}
	return strings.Join(out, ", ")
}

// Link is one way to another page.
type Link struct {
	Words   string
	Address string
	Current bool
}

// places are the pages that the top of every page leads to, and who may go there.
var places = []struct {
	name, words, address string
	roles                []string
}{
	{"round", "The round", "/", staff},
	{"recalls", "Recalls", "/recalls", staff},
	{"register", "Patients", "/patients", staff},
	{"files", "Files", "/files", staff},
	{"letters", "Letters", "/letters", staff},
	{"people", "People", "/people", []string{RoleLead}},
	{"audit", "Audit", "/audit", []string{RoleClinician, RoleLead, RoleAuditor}},
	{"log", "Log", "/log", []string{RoleLead, RoleAuditor}},
	{"about", "How it decides", "/about", append([]string{RoleAuditor}, staff...)},
}

var staff = []string{RoleNurse, RoleClinician, RoleLead}

// Nav are the links at the top of the page named current: those that the reader
// may follow.
func (l Layout) Nav(current string) []Link {
	var out []Link
	for _, p := range places {
		if l.User.Is(p.roles...) {
			out = append(out, Link{Words: p.words, Address: p.address, Current: p.name == current})
		}
	}
	return out
}

// IdleSeconds is how long the session lasts if nothing is done, or 0 where it
// does not end.
func (l Layout) IdleSeconds() int {
	if l.User.IdleAt.IsZero() {
		return 0
	}
	return max(1, int(l.User.IdleAt.Sub(l.Now)/time.Second))
}

// Sentence says how many people are listed.
func (p PeoplePage) Sentence() string {
	closed := 0
	for _, x := range p.People {
		if x.Disabled {
			closed++
		}
	}
	s := "Everybody is shown: " + number(len(p.People)) + " people"
	if closed > 0 {
		s += ", " + number(closed) + " of them with a closed sign-in"
	}
	return s + "."
}

// RolesWords are a person's roles in words.
func (p PeoplePage) RolesWords(roles []string) string { return rolesWords(roles) }

// RolePick is the choice of a person's roles, those now held chosen.
func (p PeoplePage) RolePick(f Form, roles []string) Pick {
	return f.Pick("checkbox", "role", "Roles", optionsOf("roles"), roles...)
}

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
