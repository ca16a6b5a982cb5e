package web

import (
	"html/template"
	"strings"

	"wearround/worker/wear"
)

// ShownRow is all that the markup of a row of the round hangs on, but for its
// days and its sum, which the version names. So it is what a row is kept by.
type ShownRow struct {
	WearID, Version int64
	Rank            int
	Called, Code    string // the patient; Code only beside a name
	Due             string
	Overdue         bool
	Tier            string // in another order than the round's own
	Headline        string
	Quality         string
	Unread          int
	Tried, Handed   string
	Claim           string
	Claimed         bool
	SensorKind      string
	Span, Age       string
}

// drawnRow is a row while its markup is made: nothing of it but what it is kept
// by, and what the version names.
type drawnRow struct {
	ShownRow
	Priority wear.Priority
	days     []wear.Day
}

// Address is the page of the row's wear.
func (r ShownRow) Address() string { return wearAddress(r.WearID, Window{}) }

// WordsAddress is where the words of the wear are read.
func (r ShownRow) WordsAddress() string { return taskAddress(r.WearID, "words") }

// Ledger is the row's picture.
func (r drawnRow) Ledger() template.HTML { return RoundRow{WearID: r.WearID, Days: r.days}.Ledger() }

// Row is the markup of a row.
func (p RoundPage) Row(r RoundRow) (template.HTML, error) {
	s := p.shownRow(r)
	draw := func() (template.HTML, error) {
		var b strings.Builder
		err := views["round"]().ExecuteTemplate(&b, "row", drawnRow{s, r.Priority, r.Days})
		return template.HTML(b.String()), err
	}
	if p.Keep == nil || r.Version == 0 {
		return draw()
	}
	return p.Keep(s, draw)
}

func (p RoundPage) shownRow(r RoundRow) ShownRow {
	s := ShownRow{
		WearID: r.WearID, Version: r.Version, Rank: r.Rank, Called: r.Patient.Called(),
		Due: p.Due(r.DueAt), Overdue: p.Overdue(r.DueAt), Headline: r.Headline, Quality: r.Quality(), Unread: r.Unread, Handed: r.Handed,
		Claim: p.ClaimWords(r.Claim), Claimed: r.Claim.By != "", SensorKind: r.SensorKind, Span: p.Span(r.Start, r.End), Age: r.Age(p.Layout),
	}
	if r.Patient.Name != "" {
		s.Code = r.Patient.Code
	}
	if p.Filter.Sort != "" {
		s.Tier = r.Priority.Tier.Words()
	}
	if r.Attempts > 0 {
		s.Tried = r.TriedWords(p.Layout)
	}
	return s
}
