package server

import (
	"math"
	"strconv"
	"time"
)

// idText writes an id.
func idText(id int64) string { return strconv.FormatInt(id, 10) }

// seconds writes a length for a Retry-After header.
func seconds(d time.Duration) string {
	return strconv.Itoa(int(math.Ceil(max(d, time.Second).Seconds())))
}

// day writes a date in the practice's zone: "3 Mar 2026".
func (s *Server) day(t time.Time) string { return t.In(s.Zone).Format("2 Jan 2006") }

// moment writes a time of day with its date: "3 Mar 2026 14:30".
func (s *Server) moment(t time.Time) string { return t.In(s.Zone).Format("2 Jan 2006 15:04") }

// today is the practice's day, at its midnight.
func (s *Server) today() time.Time {
	y, m, d := s.Now().In(s.Zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, s.Zone)
}
