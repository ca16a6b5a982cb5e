package store_test

import (
	"testing"
	"time"

	"wearround/store/storetest"
	"wearround/worker/wear"
)

// Due days are days of the practice's calendar, across a change of the hour.
func TestDueDaysAreCalendarDays(t *testing.T) {
	zone, err := time.LoadLocation("Australia/Sydney")
	must(t, err)
	s, clock := storetest.Open(t)
	storetest.Judge(t, s, zone)
	for name, from := range map[string]time.Time{
		"forward": time.Date(2026, 9, 25, 10, 0, 0, 0, zone), "back": time.Date(2027, 3, 25, 10, 0, 0, 0, zone),
	} {
		clock.Advance(from.Sub(clock.Now()))
		p := storetest.AddPatient(t, s, len(name))
		w, err := s.Wear(ctx, storetest.File(t, s, storetest.Filing(len(name), p.ID, from, 2, wear.Routine, 1)))
		if must(t, err); !w.DueAt.Equal(from.AddDate(0, 0, 28)) {
			t.Errorf("the clock goes %s: due %s, want %s", name, w.DueAt.In(zone), from.AddDate(0, 0, 28))
		}
	}
}
