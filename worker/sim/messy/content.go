package messy

import (
	"slices"
	"time"

	"wearround/worker/wear"
)

// oneDay keeps the first calendar day only. Its date may then read both ways.
func (d *document) oneDay() {
	p := d.people[0]
	if len(p.readings) == 0 {
		return
	}
	first := d.wall(p.readings[0].At).Format("2006-01-02")
	later := func(at int64) bool { return d.wall(at).Format("2006-01-02") != first }
	const few = 12
	if len(p.readings) <= few || later(p.readings[few].At) {
		return
	}
	p.readings = slices.DeleteFunc(p.readings, func(r wear.Reading) bool { return later(r.At) })
	p.scans = slices.DeleteFunc(p.scans, func(r wear.Reading) bool { return later(r.At) })
	p.events = slices.DeleteFunc(p.events, func(e wear.Event) bool { return later(e.At) })
	d.open = true
}

func lostMark(_ chance, d *document) {
	d.inMmol()
	d.lost = true
	d.undecided("unit", "decimal_lost")
	d.refused("decimal_lost")
}

func changeOfHour(c chance, d *document) {
	if d.nobody {
		return
	}
	d.zone = mustZone(pick(c, []string{"Australia/Sydney", "Europe/Berlin"}))
	_, change := time.Date(2026, 1, 1, 0, 0, 0, 0, d.zone).ZoneBounds()
	if c.happens(0.5) {
		_, change = change.ZoneBounds()
	}
	code := d.people[0].code
	d.people[0] = d.person(code, change.Add(-time.Duration(c.minutes(30, 60))*time.Hour).Truncate(5*time.Minute), float64(c.minutes(3, 5)))
	d.wall = func(at int64) time.Time { return time.Unix(at, 0).In(d.zone) }
	if c.happens(0.4) { // a clock that nobody changed
		_, before := change.Add(-time.Hour).Zone()
		fixed := time.FixedZone("", before)
		d.wall = func(at int64) time.Time { return time.Unix(at, 0).In(fixed) }
		d.answers["repeated_hour"] = "unchanged"
	}
}

func twoColumns(c chance, d *document) {
	p := d.people[0]
	for i := c.minutes(5, 20); i < len(p.readings)-1; i += c.minutes(15, 40) {
		r := d.reading(p.readings[i].At+120, p.readings[i].Mmol()*1.03)
		r.Mark = wear.MarkOnDemand
		p.scans = append(p.scans, r)
	}
	heading := "Scan glucose"
	d.answers["second_glucose"] = "on_demand"
	if c.happens(0.4) {
		heading, d.open = pick(c, []string{"Ququ", "Glucose 2", "Manual glucose"}), true
	}
	d.columns = append(d.columns, &field{key: "scan", heading: heading, cell: func(d *document, l *line) string {
		if !l.scan || l.raw != "" {
			return ""
		}
		return d.value(*l.reading, l.number)
	}})
}

func outOfRange(c chance, d *document) {
	for _, p := range d.people {
		for i := range p.readings {
			r := &p.readings[i]
			switch {
			case i%97 == 13:
				*r = wear.Reading{At: r.At, Unit: r.Unit, Bound: wear.Below}
			case i%131 == 40:
				*r = wear.Reading{At: r.At, Unit: r.Unit, Bound: wear.Above}
			}
		}
	}
	d.low, d.high = "LOW", "HIGH"
	switch c.IntN(3) {
	case 0:
	case 1:
		d.low, d.high = "Niedrig", "Hoch"
	default:
		d.low, d.high = "TASSA", "PILVO"
		d.undecided("word:TASSA", "below")
		d.answers["word:PILVO"] = "above"
	}
}

func limitedValues(c chance, d *document) {
	share := c.between(0.1, 0.4)
	for _, p := range d.people {
		for i := range p.readings {
			if r := &p.readings[i]; c.happens(share) && r.Num > 0 {
				*r = limitOf(r.At, r.Unit)
			}
		}
	}
}

// limitOf is a reading below what the sensor reports.
func limitOf(at int64, u wear.Unit) wear.Reading {
	if u == wear.MmolL {
		return wear.Reading{At: at, Num: 22, Scale: 1, Unit: u, Bound: wear.Below}
	}
	return wear.Reading{At: at, Num: 40, Unit: u, Bound: wear.Below}
}

func duplicates(c chance, d *document) {
	p := d.people[0]
	share := pick(c, []float64{0.002, 0.05})
	conflict := c.happens(0.5)
	var more []wear.Reading
	for _, r := range p.readings {
		if !c.happens(share) {
			continue
		}
		if conflict && r.Bound == wear.Exact {
			r.Num += 2
		}
		more = append(more, r)
	}
	if conflict && len(more)*100 > len(p.readings) {
		d.undecided("conflicts", "file")
	}
	p.readings = append(p.readings, more...)
	slices.SortStableFunc(p.readings, func(a, b wear.Reading) int { return int(a.At - b.At) })
	d.answers["conflicts"] = "file"
}

func emptyWear(c chance, d *document) {
	p := d.people[0]
	switch c.IntN(3) {
	case 0: // a heading and nothing below it
		d.noRows = true
	case 1: // blank values
		for i := range p.readings {
			p.readings[i] = wear.Reading{At: p.readings[i].At, Unit: d.unit, Bound: wear.Below}
		}
		d.low = " "
	default: // on-demand readings only
		p.scans = nil
		for i := 3; i < len(p.readings); i += c.minutes(5, 40) {
			r := p.readings[i]
			r.Mark = wear.MarkOnDemand
			p.scans = append(p.scans, r)
		}
		p.readings = nil
		if d.column("scan") == nil {
			twoColumns(c, d)
		}
		for _, f := range d.columns {
			if f.key == "scan" {
				f.heading = "Scan glucose"
			}
		}
		d.drop("glucose")
	}
	d.refused("no_readings", "no_table", "no_glucose", "empty", "no_date", "no_clock")
	d.answers["cadence"], d.answers["two_series"] = "stop", "stop"
	d.refused("cadence", "two_series")
	d.nobody = true
}

func clockReset(c chance, d *document) {
	p := d.people[0]
	if len(p.readings) < 100 || d.once {
		return
	}
	if start, end := p.readings[0].At, p.readings[len(p.readings)-1].At; d.zoned(start) != d.zoned(end) {
		return // near a change of the hour nothing would show that the clock was set an hour off
	}
	if c.happens(0.15) { // it never had its setting
		first, wall := p.readings[0].At, d.wall
		unset := time.Date(pick(c, []int{2000, 2010, 2020}), 1, 1, 0, 0, 0, 0, d.zone).Unix()
		d.wall = func(at int64) time.Time { return wall(at - first + unset) }
		d.undecided("clock_reset", "stop")
		d.answers["unreadable_rows"] = "stop"
		d.refused("clock_reset", "dates", "unreadable_rows")
		return
	}
	from := c.minutes(20, len(p.readings)/2)
	to := from + c.minutes(3, 40)
	unset := time.Date(pick(c, []int{2000, 2010, 2025}), 1, 1, 0, 0, 0, 0, d.zone).Unix()
	first, last := p.readings[from].At, p.readings[to].At
	shift := unset - first
	p.events = slices.DeleteFunc(p.events, func(e wear.Event) bool { return e.At >= first && e.At <= last })
	wall := d.wall
	d.wall = func(at int64) time.Time {
		if at >= first && at <= last {
			at += shift
		}
		return wall(at)
	}
	d.answers["clock_reset:1"], d.answers["clock_reset:2"], d.answers["clock_reset"] = "before", "after", "leave_out"
	d.open = true
}

// zoned is the zone's offset from UTC at a moment.
func (d *document) zoned(at int64) int {
	_, offset := time.Unix(at, 0).In(d.zone).Zone()
	return offset
}

func formulas(_ chance, d *document) {
	bad := []string{"=HYPERLINK(\"http://x.invalid\",\"open\")", "+1+1", "@SUM(A1)", "-2+3", "=1+1"}
	n := 0
	for _, p := range d.people {
		for i := range p.events {
			if p.events[i].Kind == wear.Meal && i%3 == 0 {
				p.events[i].Label = bad[n%len(bad)]
				n++
			}
		}
	}
}

func huge(c chance, d *document) {
	p := d.people[0]
	if len(p.readings) == 0 {
		return
	}
	start := p.readings[0].At
	var dense []wear.Reading
	for i := range c.minutes(4000, 9000) {
		near := p.readings[min(i/5, len(p.readings)-1)]
		dense = append(dense, d.reading(start+int64(i)*60, near.Mmol()+0.02*float64(i%5)))
	}
	p.readings = dense
	end := dense[len(dense)-1].At
	p.events = slices.DeleteFunc(p.events, func(e wear.Event) bool { return e.At > end || (e.At-start)%60 != 0 })
	p.scans = nil
}
