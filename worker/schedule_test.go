package worker

import (
	"testing"
	"time"
)

func TestDue(t *testing.T) {
	at := func(s string) time.Time {
		v, err := time.Parse("2006-01-02 15:04", s)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	const daily = "15 17 * * *"
	tests := []struct {
		why       string
		last, now string
		ran, want bool
	}{
		{"never ran", "2026-01-01 00:00", "2026-03-03 09:00", false, true},
		{"ran today", "2026-03-03 17:15", "2026-03-03 23:00", true, false},
		{"the minute itself", "2026-03-02 17:15", "2026-03-03 17:15", true, true},
		{"a minute early", "2026-03-02 17:15", "2026-03-03 17:14", true, false},
		{"down for a week: once", "2026-02-20 17:15", "2026-03-03 09:00", true, true},
		{"caught up, so not again", "2026-03-03 09:00", "2026-03-03 09:01", true, false},
		{"ran late, still due at its time", "2026-03-03 09:00", "2026-03-03 17:15", true, true},
		{"clock was set back", "2027-01-01 00:00", "2026-03-03 18:00", true, true},
		{"a night that daylight saving shortens", "2026-10-03 17:15", "2026-10-04 17:16", true, true},
	}
	for _, tt := range tests {
		got, err := due(daily, at(tt.last), tt.ran, at(tt.now))
		if err != nil || got != tt.want {
			t.Errorf("%s: due = %v, %v; want %v", tt.why, got, err, tt.want)
		}
	}
	if _, err := due("not a spec", time.Time{}, true, time.Time{}); err == nil {
		t.Error("a wrong spec gave no error")
	}
}
