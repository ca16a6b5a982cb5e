package web

import (
	"cmp"
	"net/url"
	"strconv"
	"strings"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// AuditPage is what was found in a period and what came of it. It names nobody.
type AuditPage struct {
	Layout
	Filter  AuditFilter
	Problem string // why the period asked for is not the one shown, or ""
	Found   wear.Audit
	Before  wear.Audit // the same days a year earlier
	AsOf    string     // the day at whose end it is counted, 2006-01-02; "" is now

	form.Form              // of what is to be kept; posts to /audit/keep
	KeptAudits []KeptAudit // newest first
	Kept       *KeptAudit  // the one that is shown, or nil: it is counted afresh
	// Differences are where a count of today says otherwise than the kept one.
	Differences []AuditDifference
}

// KeptAudit is an audit that was closed: what it says stays.
type KeptAudit struct {
	ID       int64
	From, To time.Time // To is excluded
	AsOf     time.Time
	Engine   string
	Protocol string
	Change   string // what the practice will do otherwise
	By       string
	At       time.Time
}

// Address is its page.
func (k KeptAudit) Address() string { return "/audit/kept/" + strconv.FormatInt(k.ID, 10) }

// AuditDifference is one value that is not as it was kept.
type AuditDifference struct{ What, Kept, Now string }

// Words say which.
func (d AuditDifference) Words() string {
	return plain(d.What) + ": " + cmp.Or(d.Kept, "none") + " when it was kept, " + cmp.Or(d.Now, "none") + " now"
}

// SpanOf is the period of a kept audit.
func (p AuditPage) SpanOf(k KeptAudit) string { return p.Span(k.From, k.To.AddDate(0, 0, -1)) }

// ListAddress is where the tables can be had as a delimited list.
func (p AuditPage) ListAddress() string {
	to := p.Filter.ListAddress()
	if p.AsOf != "" {
		to += "&as_of=" + url.QueryEscape(p.AsOf)
	}
	return strings.TrimSuffix(to, "?")
}

func (AuditPage) view() (set, block string) { return "audit", "page" }

// Period is the period in words: "1 Jan – 25 Nov 2026".
func (p AuditPage) Period() string { return p.period(p.Found) }

func (p AuditPage) period(a wear.Audit) string { return p.Span(a.From, a.To.AddDate(0, 0, -1)) }

// Empty reports whether nothing at all is there to count.
func (p AuditPage) Empty() bool {
	a := &p.Found
	return a.All().Read == 0 && a.Files.Received == 0 && a.Changes.Outcomes == 0 && len(a.Recalls) == 0 && len(a.Letters) == 0
}

// Headline is the finding in sentences.
func (p AuditPage) Headline() string {
	a := &p.Found
	all, follow, routine := a.All(), a.FollowUp(), a.Of(wear.Routine)
	if all.Read == 0 {
		return "No wear was read in this period."
	}
	s := "Of " + count(all.Read, "wear") + " read, " + number(follow.Read) + " needed follow-up"
	if at := a.Of(wear.CannotTell).Read; at > 0 {
		if found := follow.Read - at; found > 0 {
			s += ": " + number(found) + " for what was found and " + number(at)
		}
		s += " because nothing could be told at first (words that nobody had read, nothing asked, or a sensor in doubt)"
	}
	switch {
	case follow.Read == 0:
		s = count(all.Read, "wear") + " read, and none needed follow-up."
	case follow.Open() == 0:
		s += "; each of those has an outcome."
	case follow.Done() == 0:
		s += "; none of those has an outcome yet, and the longest has waited for " + count(follow.OldestDays, "day") + "."
	default:
		s += "; " + number(follow.Done()) + " of those " + verb(follow.Done(), "has", "have") + " an outcome and " + number(follow.Open()) + " " + verb(follow.Open(), "is", "are") + " still on the round, the longest for " + count(follow.OldestDays, "day") + "."
	}
	if routine.Read > 0 {
		s += " Of " + count(routine.Read, "routine wear") + ", " + number(routine.Done()) + " " + verb(routine.Done(), "has", "have") + " an outcome."
	}
	return s
}

// TestsFound is what the tests found, in a sentence, or "".
func (p AuditPage) TestsFound() string {
	t := p.Found.Tests
	if t.Ordered == 0 {
		return ""
	}
	s := "Tests were ordered after " + number(t.Ordered) + " of the wears that needed follow-up"
	if t.Back() == 0 {
		return s + "; no result is back."
	}
	s += "; results are back for " + number(t.Back()) + ", and " + number(t.Diabetes()) + " of these lay in the diabetes range"
	if t.Diabetes() > 0 {
		s += ", " + number(t.Confirmed) + " confirmed by a sample of another day"
	}
	return s + "."
}

// verb is one for a single thing, many for any other number.
func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// Unknown is what nobody knows, in sentences: as much a part of the audit as
// the rest.
func (p AuditPage) Unknown() []string {
	a := &p.Found
	all, routine := a.All(), a.Of(wear.Routine)
	var out []string
	say := func(before string, n, of int, after string) {
		if n > 0 {
			out = append(out, before+" "+number(n)+" of "+number(of)+" "+after)
		}
	}
	say("What came of", all.Read-all.Done(), all.Read, "wears: they have no outcome, or are on the round again after one.")
	say("What the tests found after", a.Tests.Missing()+a.Routine.Missing(), a.Tests.Ordered+a.Routine.Ordered, "orders: no result is on record.")
	say("Whether the patient ever heard, in", countOf(a.Outcomes, "could_not_reach"), all.Done(), "wears with an outcome: nobody could reach them.")
	recalls, missed := 0, 0
	for _, r := range a.Recalls {
		recalls, missed = recalls+r.Due, missed+r.Missed
	}
	say("Why the patient did not come back, for", missed, recalls, "recalls: they are past due and open.")
	say("What lies in", a.Files.Held+a.Files.Refused, a.Files.Received, "files: they wait for an answer, or cannot be read.")
	say("Whether anything changed, for", a.Again.Unclear, a.Again.Wears, "second wears: one of the two could not tell.")
	if routine.Read > 0 {
		s := "What was missed: tests were ordered after " + number(a.Routine.Ordered) + " of " + count(routine.Read, "routine wear") + ". "
		if a.Routine.Back() == 0 {
			s += "Without results after routine wears, nobody can say how many of those needed one."
		} else {
			s += "Only where results come back after routine wears can anybody say how many of those needed one; those tested were chosen, not drawn by lot."
		}
		out = append(out, s)
	}
	return out
}

func countOf(list []wear.AuditCount, code string) int {
	for _, c := range list {
		if c.Code == code {
			return c.N
		}
	}
	return 0
}

// share writes a share as a whole percentage with its 95 % interval: "91 %
// (79 to 96)".
func share(n, of int) string {
	if of == 0 {
		return ""
	}
	r := wear.Wilson(n, of)
	return percent(float64(n)/float64(of)) + " (" + r.Low.Fixed(0) + " to " + r.High.Fixed(0) + ")"
}

// took writes a wait: whole days from two on, else hours and minutes.
func took(seconds int64) string {
	switch days := seconds / 86400; {
	case seconds < 60:
		return "at once"
	case days >= 2:
		return count(int((seconds+43200)/86400), "day")
	}
	return length(int(seconds / 60))
}

func monthWords(month string) string {
	t, ok := isoDay(month + "-01")
	if !ok {
		return month
	}
	return t.Format("Jan\u00a02006")
}
