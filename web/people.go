package web

import (
	"slices"
	"strings"
	"time"

	"wearround/web/form"
)

// User is who is signed in. The zero User is nobody.
type User struct {
	ID     int64
	Name   string // as others see it
	Roles  []string
	CSRF   string    // the session's token, in every form as "csrf"
	IdleAt time.Time // the session ends then if nothing is done before; zero: it does not
}

// PeoplePage lists who may sign in. Posts to /people (name, login, role…),
// /people/ID/roles (role…), /people/ID/disable (reason), /people/ID/enable,
// /people/ID/reset-factor (reason) and /people/ID/link. Task is "add", "roles",
// "disable" or "reset-factor".
type PeoplePage struct {
	Layout
	form.Form
	Open   int64 // the person whose forms are shown, or 0
	People []Person
	Link   *OneTimeLink // just made, shown once
	Done   string
}

// Person is one who may sign in.
type Person struct {
	ID        int64
	Name      string
	Login     string
	Roles     []string
	Disabled  bool
	FactorSet bool
	LastSeen  time.Time
	Me        bool
}

// OneTimeLink lets one person in once, to choose a password.
type OneTimeLink struct {
	For     string // display name
	Address string // whole address
	Until   time.Time
}

func (PeoplePage) view() (set, block string) { return "people", "page" }

// Is reports whether the user has one of the roles.
func (u User) Is(roles ...string) bool {
	return slices.ContainsFunc(roles, func(r string) bool { return slices.Contains(u.Roles, r) })
}

// RoleWords are the user's roles in words.
func (u User) RoleWords() string { return rolesWords(u.Roles) }

// Staff reports whether the user works with patients.
func (u User) Staff() bool { return u.Is(form.RoleNurse, form.RoleClinician, form.RoleLead) }

func rolesWords(roles []string) string {
	var out []string
	for _, r := range form.RoleOrder {
		if slices.Contains(roles, r) {
			out = append(out, form.RoleWords[r])
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

// sections are the pages that the top of every page leads to, and who may go there.
var sections = []struct {
	name, words, address string
	roles                []string
}{
	{"round", "The round", "/", staff},
	{"sheet", "Routine sheet", "/sheet", staff},
	{"out", "Out now", "/out", staff},
	{"recalls", "Recalls", "/recalls", staff},
	{"register", "Patients", "/patients", staff},
	{"files", "Files", "/files", staff},
	{"outbox", "Outbox", "/outbox", staff},
	{"letters", "Letters", "/letters", staff},
	{"settings", "Settings", "/settings", []string{form.RoleLead}},
	{"people", "People", "/people", []string{form.RoleLead}},
	{"audit", "Audit", "/audit", []string{form.RoleClinician, form.RoleLead, form.RoleAuditor}},
	{"log", "Log", "/log", []string{form.RoleLead, form.RoleAuditor}},
	{"about", "How it decides", "/about", append([]string{form.RoleAuditor}, staff...)},
}

var staff = []string{form.RoleNurse, form.RoleClinician, form.RoleLead}

// Nav are the links at the top of the page named current: those that the reader
// may follow.
func (l Layout) Nav(current string) []Link {
	var out []Link
	for _, p := range sections {
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
func (p PeoplePage) RolePick(f form.Form, roles []string) form.Pick {
	return f.Pick("checkbox", "role", "Roles", form.OptionsOf("roles"), roles...)
}
