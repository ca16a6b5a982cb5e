package wear

import "time"

// calendar is the calendar days that a wear touches in its own zone. Clock
// times of readings are found from the start of their day, because asking the
// zone about every reading would cost more than all the measures together.
type calendar struct {
	zone *time.Location
	days []calDay
}

// calDay is one calendar day: 24 h long, or 23 or 25 on a clock change.
type calDay struct {
	start, end int64 // instants; end is the start of the next day
	lo, hi     int   // its readings: r[lo:hi]
	six        int   // the first of its readings at 06:00 or later
}

const dayLength = 24 * 3600

// newCalendar lists the days from the first reading to the last. Days wholly
// inside a gap longer than the longest that a wear can have are left out, so
// that readings years apart cannot make a calendar of years.
func newCalendar(r []Reading, zone *time.Location, longestGap int64) *calendar {
	c := &calendar{zone: zone}
	if len(r) == 0 {
		return c
	}
	c.days = make([]calDay, 0, min(64, 2+(r[len(r)-1].At-r[0].At)/dayLength))
	noon := noonOf(r[0].At, zone)
	for i := 0; i < len(r); {
		d := calDay{start: startOfDay(noon, zone), lo: i}
		next := noon.AddDate(0, 0, 1)
		d.end = startOfDay(next, zone)
		for i < len(r) && r[i].At < d.end {
			i++
		}
		d.hi, d.six = i, i
		for k := d.lo; k < d.hi; k++ {
			if c.minuteOf(&d, r[k].At) >= 6*60 {
				d.six = k
				break
			}
		}
		c.days = append(c.days, d)
		if i < len(r) && i > 0 && r[i].At-r[i-1].At > longestGap && r[i].At >= d.end {
			next = noonOf(r[i].At, zone)
		}
		noon = next
	}
	return c
}

// noonOf is 12:00 of the day of an instant. Days are walked from noon to noon
// because midnight does not exist on some days in some zones.
func noonOf(at int64, zone *time.Location) time.Time {
	y, m, d := time.Unix(at, 0).In(zone).Date()
	return time.Date(y, m, d, 12, 0, 0, 0, zone)
}

// startOfDay is the first instant of the day of noon.
func startOfDay(noon time.Time, zone *time.Location) int64 {
	y, m, d := noon.Date()
	t := time.Date(y, m, d, 0, 0, 0, 0, zone)
	if t.Day() != d { // no midnight that day: the clock went from 23:59 to 01:00
		t = t.Add(time.Hour)
	}
	return t.Unix()
}

// minuteOf is the minute of the local clock, 0 to 1439, at an instant of day d.
func (c *calendar) minuteOf(d *calDay, at int64) int {
	if d.end-d.start == dayLength {
		return int(at-d.start) / 60
	}
	t := time.Unix(at, 0).In(c.zone)
	return t.Hour()*60 + t.Minute()
}

// atHour is the instant of a local hour of day d, 0 to 24.
func (c *calendar) atHour(d *calDay, hour float64) int64 {
	offset := seconds(hour * 3600)
	if d.end-d.start == dayLength {
		return d.start + offset
	}
	y, m, day := c.time((d.start + d.end) / 2).Date()
	return time.Date(y, m, day, 0, 0, int(offset), 0, c.zone).Unix()
}

// time is an instant in the wear's zone.
func (c *calendar) time(at int64) time.Time { return time.Unix(at, 0).In(c.zone) }

// date is the day as 2006-01-02.
func (c *calendar) date(d *calDay) string {
	return c.time((d.start + d.end) / 2).Format(time.DateOnly)
}

// dayOf is the index of the day of an instant, -1 for none.
func (c *calendar) dayOf(at int64) int {
	lo, hi := 0, len(c.days)
	for lo < hi {
		mid := (lo + hi) / 2
		if c.days[mid].end <= at {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == len(c.days) || c.days[lo].start > at {
		return -1
	}
	return lo
}

// DayNumber counts calendar days on t's own clock: two moments of one day have
// one number, and a clock change is no matter.
func DayNumber(t time.Time) int {
	y, m, d := t.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / dayLength)
}
