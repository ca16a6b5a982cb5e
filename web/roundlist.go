package web

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"time"
)

// List is the rows as delimited text (RFC 4180), a line a wear, in the order of
// the page; no text of it is taken for a formula.
func (p RoundPage) List() []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	write := func(fields ...string) {
		for i := range fields {
			fields[i] = unformula(fields[i])
		}
		_ = w.Write(fields) // a buffer takes everything
	}
	date := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return p.in(t).Format(time.DateOnly)
	}
	write("place", "tier", "due", "code", "name", "telephone", "finding", "unread texts", "sensor kind", "first day", "last day", "received", "claimed by", "handed over", "tries", "next try")
	for _, r := range p.Rows {
		write(strconv.Itoa(r.Rank), r.Priority.Tier.Words(), date(r.DueAt), r.Patient.Code, r.Patient.Name, r.Phone, r.Headline, strconv.Itoa(r.Unread), r.SensorKind,
			date(r.Start), date(r.End), date(r.ReceivedAt), r.Claim.By, r.Handed, strconv.Itoa(r.Attempts), date(r.NextTry))
	}
	w.Flush()
	return b.Bytes()
}
