package web

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// ProtocolPage lists every limit in force, where each comes from, and how the
// practice sets its own.
type ProtocolPage struct {
	Layout
	Engine     string         // version of the arithmetic
	Settings   []wear.Setting // with who put it forward where that is somebody else than of the rest, else ""
	ProposedBy string         // who put forward what no published source gives
	Made       []MadeUnder    // open wears by the protocol of their reports
	Versions   []ProtocolVersion
	Waiting    string // a signed version whose day has come and that the program was not started with, or ""
	form.Form         // of the file that was sent in
}

// ProtocolVersion is a version that the practice keeps: a draft, or signed.
type ProtocolVersion struct {
	ID       int64
	Name     string // as every report gives it
	By       string
	At       time.Time
	SignedBy string
	SignedAt time.Time // zero: a draft
	From     time.Time // from when it holds
	InForce  bool
}

// Signed reports whether a clinician signed it.
func (v ProtocolVersion) Signed() bool { return !v.SignedAt.IsZero() }

// Address is the version's page.
func (v ProtocolVersion) Address() string { return "/protocol/versions/" + strconv.FormatInt(v.ID, 10) }

// MadeUnder counts the wears on the round whose reports carry one version of the
// protocol.
type MadeUnder struct {
	Protocol string
	Wears    int
}

func (ProtocolPage) view() (set, block string) { return "protocol", "page" }

// SettingGroup is one part of the protocol.
type SettingGroup struct {
	ID, Title string
	Settings  []wear.Setting
}

// settingGroups name the parts of the protocol.
var settingGroups = map[string]string{
	"limit": "The limits", "wear": "What a wear is, and how much of it is enough", "censored": "“Low” and “high” in place of a number",
	"believe": "Which readings are believed", "episode": "What an episode is", "measure": "Which measures are given",
	"meal": "Meals", "night": "Nights and mornings", "exercise": "Exercise", "symptom": "When a symptom belongs to a dip",
	"risk": "Results on record", "compare": "What counts as a change", "flag": "What is a reason for follow-up",
	"tier": "How pressing each flag is", "contact": "Reaching patients", "due": "Within how many days", "score": "How the score is added up",
}

// Groups are the settings by part, in the order of the protocol.
func (p ProtocolPage) Groups() []SettingGroup { return groupsOf(p.Settings) }

func groupsOf(list []wear.Setting) []SettingGroup {
	var out []SettingGroup
	for _, s := range list {
		part, _, _ := strings.Cut(s.Name, ".")
		if id := groupID(part); len(out) == 0 || out[len(out)-1].ID != id {
			out = append(out, SettingGroup{ID: id, Title: cmp.Or(settingGroups[part], form.SentenceCase(part))})
		}
		g := &out[len(out)-1]
		g.Settings = append(g.Settings, s)
	}
	return out
}

// groupID is the id of a part on the page.
func groupID(part string) string {
	if settingGroups[part] == "" {
		return "group-" + mark(part)
	}
	return "group-" + part
}

// Sentence says whether a clinician answers for the protocol.
func (p ProtocolPage) Sentence() string {
	switch {
	case p.Protocol == "":
		return "The protocol in force cannot be shown."
	case p.ProtocolStatus == wear.DefaultProtocol().Status:
		return "Protocol " + p.Protocol + " is an unsigned proposal: no clinician of this practice has agreed to it."
	}
	return "Protocol " + p.Protocol + ": " + form.Sentence(p.ProtocolStatus)
}

// Counts says how many settings stand how sure.
func (p ProtocolPage) Counts() string {
	n := map[string]int{}
	var order []string
	for _, s := range p.Settings {
		if n[s.Status]++; n[s.Status] == 1 {
			order = append(order, s.Status)
		}
	}
	var parts []string
	for _, status := range order {
		parts = append(parts, strconv.Itoa(n[status])+" “"+status+"”")
	}
	return count(len(p.Settings), "setting") + ": " + strings.Join(parts, ", ") + "."
}

// Own are the settings that differ from those that ship.
func (p ProtocolPage) Own() []wear.Setting {
	var out []wear.Setting
	for _, s := range p.Settings {
		if s.Status == "own" {
			out = append(out, s)
		}
	}
	return out
}

// Older are the wears on the round whose reports were made under another
// protocol than that in force.
func (p ProtocolPage) Older() []MadeUnder {
	var out []MadeUnder
	for _, m := range p.Made {
		if m.Protocol != p.Protocol {
			out = append(out, m)
		}
	}
	return out
}

// settingLinks lead from a definition to the settings it uses. Each text names
// one setting of the protocol or, by its beginning, several.
func settingLinks(text string) []Link {
	var out []Link
	for _, name := range strings.Split(text, ", ") {
		if name == "" {
			continue
		}
		to := "/protocol"
		if i := slices.IndexFunc(shippedSettings, func(s wear.Setting) bool { return strings.HasPrefix(s.Name, name) }); i >= 0 {
			to += "#" + shippedSettings[i].Name
		}
		out = append(out, Link{Words: name, Address: to})
	}
	return out
}

var shippedSettings = wear.DefaultProtocol().Settings()
