package web

import (
	"strconv"
	"time"

	"wearround/web/delimited"
)

// List is the rows for a spreadsheet, a line a wear, in the order of the page.
func (p RoundPage) List() []byte {
	date := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return p.in(t).Format(time.DateOnly)
	}
	list := delimited.New("place", "tier", "due", "code", "name", "telephone", "finding", "unread texts", "sensor kind", "first day", "last day", "received", "claimed by", "handed over", "tries", "next try")
	for _, r := range p.Rows {
		list.Row(strconv.Itoa(r.Rank), r.Priority.Tier.Words(), date(r.DueAt), r.Patient.Code, r.Patient.Name, r.Phone, r.Headline, strconv.Itoa(r.Unread), r.SensorKind,
			date(r.Start), date(r.End), date(r.ReceivedAt), r.Claim.By, r.Handed, strconv.Itoa(r.Attempts), date(r.NextTry))
	}
	return list.Bytes()
}
