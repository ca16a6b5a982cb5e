package letter

import (
	"time"

	"wearround/worker/wear"
)

// Facts are what a letter may say. Which of them a kind of letter needs shows
// in its template; one that is needed and missing is an error.
type Facts struct {
	Practice Practice
	Patient  Patient
	Sender   string         // who signs
	To       string         // whom a letter to a colleague or supplier addresses
	Today    time.Time      // on the practice's clock
	By       time.Time      // the day by which something is asked; zero: none
	Tests    []string       // what is wanted, of [TestCodes]
	Serial   string         // of a sensor that failed
	Fault    string         // what failed, in words
	Report   *wear.Report   // of the wear; nil for a sheet
	Zone     *time.Location // of the wear's dates; nil: as the report has them
}

// Practice is who writes.
type Practice struct {
	Name      string
	Address   string // postal, several lines, or ""
	Phone     string
	Emergency string // the number for emergency care
	AlarmLow  string // of the start sheet; "" is the one that ships
	AlarmHigh string // likewise
}

// Patient is whom a letter is about.
type Patient struct {
	Name      string
	BirthDate string // 2006-01-02, or ""
}

func (f Facts) in(t time.Time) time.Time {
	if f.Zone == nil {
		return t
	}
	return t.In(f.Zone)
}

// day writes a date as letters do: "3 March 2026".
func day(t time.Time) string { return t.Format("2 January 2006") }

// wearDates are the first and last day of the wear.
func (f Facts) wearDates() string {
	if f.Report == nil || f.Report.Start.IsZero() {
		return ""
	}
	from, to := f.in(f.Report.Start), f.in(f.Report.End)
	switch {
	case from.Year() != to.Year():
		return day(from) + " to " + day(to)
	case from.Month() != to.Month():
		return from.Format("2 January") + " to " + day(to)
	}
	return from.Format("2") + " to " + day(to)
}

// has reports whether the report raised a flag.
func (f Facts) has(code string) bool {
	for _, x := range f.Report.Flags {
		if x.Code == code {
			return true
		}
	}
	return false
}

// days counts the days of the wear: all, usable, and of the usable those that
// met the 10 rule.
func (f Facts) days() (all, usable, past10 int) {
	for _, d := range f.Report.Days {
		all++
		if !d.Usable {
			continue
		}
		usable++
		if d.Met10 {
			past10++
		}
	}
	return all, usable, past10
}
