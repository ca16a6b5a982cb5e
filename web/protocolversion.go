package web

import (
	"strconv"
	"strings"

	"wearround/web/form"
	"wearround/worker/wear"
)

// ProtocolDraftPage is where a draft is written, a number a line. Posts to
// /protocol/draft: version, from and each setting under its name.
type ProtocolDraftPage struct {
	Layout
	form.Form
	From     int64 // the version that it begins from; 0: the one in force
	Based    string
	Settings []wear.Setting
}

func (ProtocolDraftPage) view() (set, block string) { return "protocoldraft", "page" }

// Groups are the settings by part, without the published limits, which are none.
func (p ProtocolDraftPage) Groups() []SettingGroup {
	var own []wear.Setting
	for _, s := range p.Settings {
		if !strings.HasPrefix(s.Name, "limit.") {
			own = append(own, s)
		}
	}
	return groupsOf(own)
}

// SettingLine is a setting as it is typed.
type SettingLine struct {
	wear.Setting
	Typed   string
	Error   string
	Choices []Choice // where it says how soon
}

// Line is a setting with what was typed for it.
func (p ProtocolDraftPage) Line(s wear.Setting) SettingLine {
	l := SettingLine{Setting: s, Typed: s.Value, Error: p.Error(s.Name)}
	_, typed := p.Values[s.Name]
	if typed {
		l.Typed = p.Value(s.Name)
	}
	for _, t := range wear.Tiers() {
		l.Choices = append(l.Choices, Choice{Words: t.Words(), Value: string(t), Current: typed && l.Typed == string(t) || !typed && s.Value == t.Words()})
	}
	return l
}

// ProtocolVersionPage is one version: who drafted and signed it, and where it
// differs from another. The signature posts to its own address.
type ProtocolVersionPage struct {
	Layout
	form.Form
	ProtocolVersion
	With        string // the version that it is compared with
	Others      []Choice
	Differences []wear.Difference
}

func (ProtocolVersionPage) view() (set, block string) { return "protocolversion", "page" }

// Sentence says what it is.
func (p ProtocolVersionPage) Sentence() string {
	switch {
	case !p.Signed():
		return "Protocol " + p.Name + " is a draft of " + p.By + ": nobody has signed it, and it judges nothing."
	case p.InForce:
		return "Protocol " + p.Name + " was signed by " + p.SignedBy + " and is in force since " + p.Day(p.From) + "."
	case p.From.After(p.Now):
		return "Protocol " + p.Name + " was signed by " + p.SignedBy + " and will hold from " + p.Day(p.From) + "."
	}
	return "Protocol " + p.Name + " was signed by " + p.SignedBy + " and held from " + p.Day(p.From) + "."
}

// WhatIfPage is what a version would change over the practice's own wears, or how
// far the count of it is.
type WhatIfPage struct {
	Layout
	ProtocolVersion
	Done, Of int
	Finished bool
	Failed   int // of the wears, that could not be judged and would stay
	Tiers    []WhatIfTier
	Work     []WhatIfWork
	Yield    [2]WhatIfYield // now, and by the version
	Moved    []WhatIfWear
	Missed   []WhatIfWear // confirmed in the diabetes range, and routine by the version
}

// WhatIfTier counts wears of one tier, now and by the version.
type WhatIfTier struct {
	Tier     wear.Tier
	Was, Now int
}

// WhatIfWork is how many outcomes a month a role records.
type WhatIfWork struct {
	Role     string
	Was, Now float64
}

// WhatIfYield is what following up finds, of the wears whose result is known.
type WhatIfYield struct{ FollowedUp, Confirmed, Routine, Missed int }

// WhatIfWear is a wear that would stand elsewhere.
type WhatIfWear struct {
	WearID       int64
	Code         string // of the patient
	Was, Now     wear.Tier
	Raised, Gone []string // flags that only the version raises, and that only the one in force does
}

func (WhatIfPage) view() (set, block string) { return "whatif", "page" }

// movedMost is how many wears the page lists; the command lists all.
const movedMost = 200

// Sentence is the finding, or how far it is.
func (p WhatIfPage) Sentence() string {
	if !p.Finished {
		return number(p.Done) + " of " + count(p.Of, "wear") + " judged by " + p.Name + " so far."
	}
	return "By " + p.Name + ", " + number(len(p.Moved)) + " of " + count(p.Of, "wear") + " would stand in another tier."
}

// Listed are the wears that the page lists.
func (p WhatIfPage) Listed() []WhatIfWear { return p.Moved[:min(movedMost, len(p.Moved))] }

// More is how many it leaves out.
func (p WhatIfPage) More() int { return max(0, len(p.Moved)-movedMost) }

// Address is the page of the wear.
func (w WhatIfWear) Address() string { return wearAddress(w.WearID, Window{}) }

// Words say in which flags it differs.
func (w WhatIfWear) Words() string {
	var out []string
	for _, f := range w.Raised {
		out = append(out, "raises “"+flagWords(f)+"”")
	}
	for _, f := range w.Gone {
		out = append(out, "no longer “"+flagWords(f)+"”")
	}
	if out == nil {
		return "the same flags, another tier"
	}
	return strings.Join(out, "; ")
}

// WasWords is the number now.
func (w WhatIfWork) WasWords() string { return strconv.FormatFloat(w.Was, 'f', 1, 64) }

// NowWords is the number by the version.
func (w WhatIfWork) NowWords() string { return strconv.FormatFloat(w.Now, 'f', 1, 64) }
