package web

import (
	"net/url"
	"time"
)

// AuditFilter is the period that a reader of the audit asked for.
type AuditFilter struct {
	From string // first day, 2006-01-02
	To   string // last day, 2006-01-02
}

// longestAudit is how many years an audit covers at most.
const longestAudit = 5

// ParseAuditFilter reads the first and the last day of a period. Without either
// it is the calendar year of today, so far. What is wrong comes as a sentence,
// with the year so far in its place.
func ParseAuditFilter(first, last string, today time.Time) (f AuditFilter, wrong string) {
	year := yearSoFar(today)
	if first == "" && last == "" {
		return year, ""
	}
	from, known := isoDay(first)
	to, known2 := isoDay(last)
	switch {
	case !known || !known2:
		return year, "Give both the first and the last day."
	case to.Before(from):
		return year, "The last day lies before the first. Choose them again."
	case !to.Before(from.AddDate(longestAudit, 0, 0)):
		return year, "An audit covers five years at most. Choose a shorter period."
	}
	return AuditFilter{first, last}, ""
}

func yearSoFar(today time.Time) AuditFilter {
	return AuditFilter{time.Date(today.Year(), time.January, 1, 0, 0, 0, 0, time.UTC).Format(time.DateOnly), today.Format(time.DateOnly)}
}

// Days are the first day and the one after the last.
func (f AuditFilter) Days(zone *time.Location) (from, to time.Time) {
	from, _ = time.ParseInLocation(time.DateOnly, f.From, zone) // both were read before
	to, _ = time.ParseInLocation(time.DateOnly, f.To, zone)
	return from, to.AddDate(0, 0, 1)
}

// Before is the same days a year earlier, or as many years as it takes for the
// two not to overlap.
func (f AuditFilter) Before() AuditFilter {
	from, _ := isoDay(f.From)
	to, _ := isoDay(f.To)
	years := -1
	for !to.AddDate(years, 0, 0).Before(from) {
		years--
	}
	return AuditFilter{inYear(from, years).Format(time.DateOnly), inYear(to, years).Format(time.DateOnly)}
}

// inYear is the same day so many years away; of 29 February it is the 28th where
// there is none.
func inYear(day time.Time, years int) time.Time {
	d := day.AddDate(years, 0, 0)
	if d.Month() != day.Month() {
		d = d.AddDate(0, 0, -d.Day())
	}
	return d
}

// Address is the audit's address with this period.
func (f AuditFilter) Address() string { return address("/audit", f.values()) }

// ListAddress is where its tables can be had as a delimited list.
func (f AuditFilter) ListAddress() string { return address("/audit.csv", f.values()) }

func (f AuditFilter) values() url.Values {
	q := url.Values{}
	set(q, "from", f.From)
	set(q, "to", f.To)
	return q
}

// Periods are the periods that are offered.
func (p AuditPage) Periods() []Link {
	today := p.in(p.Now)
	last := today.AddDate(-1, 0, 0).Format("2006")
	var out []Link
	for _, c := range []struct {
		words string
		f     AuditFilter
	}{
		{"This year so far", yearSoFar(today)},
		{"Last year", AuditFilter{last + "-01-01", last + "-12-31"}},
		{"The last 12 months", AuditFilter{today.AddDate(-1, 0, 1).Format(time.DateOnly), today.Format(time.DateOnly)}},
	} {
		out = append(out, Link{Words: c.words, Address: c.f.Address(), Current: c.f == p.Filter})
	}
	return out
}
