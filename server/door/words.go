package door

import (
	"cmp"
	"math"
	"strconv"
	"time"

	"wearround/store"
)

// Each makes the API's form of each of some rows; it is never nil.
func Each[From, To any](rows []From, f func(From) To) []To {
	out := make([]To, len(rows))
	for i, r := range rows {
		out[i] = f(r)
	}
	return out
}

// PatientAddress is the page of a patient.
func PatientAddress(id int64) string { return "/patients/" + IDText(id) }

// RoleNames are roles as pages take them.
func RoleNames(roles []store.Role) []string {
	var out []string
	for _, r := range roles {
		out = append(out, string(r))
	}
	return out
}

// WearAddress is the page of a wear.
func WearAddress(id int64) string { return "/wears/" + IDText(id) }

// IDText writes an id.
func IDText(id int64) string { return strconv.FormatInt(id, 10) }

// Seconds writes a length for a Retry-After header.
func Seconds(d time.Duration) string {
	return strconv.Itoa(int(math.Ceil(max(d, time.Second).Seconds())))
}

// Day writes a date in the practice's zone: "3 Mar 2026".
func (s *Door) Day(t time.Time) string { return t.In(s.Zone).Format("2 Jan 2006") }

// Moment writes a time of day with its date: "3 Mar 2026 14:30".
func (s *Door) Moment(t time.Time) string { return t.In(s.Zone).Format("2 Jan 2006 15:04") }

// Today is the practice's day, at its midnight.
func (s *Door) Today() time.Time {
	y, m, d := s.Now().In(s.Zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, s.Zone)
}

// Known says who a patient is by what tells one person from another.
func Known(p store.Patient) string {
	words := cmp.Or(p.Name, "no name is on record")
	if p.BirthDate != "" {
		words += ", born " + p.BirthDate
	}
	return p.Code + " is " + words + "."
}
