package intake

import (
	"slices"
	"strings"

	"wearround/worker/wear"
)

// uneven is a row that gave no reading or more than one.
type uneven struct {
	row      int32
	readings int32
}

// judge decides again all that depends on the whole file.
func (p *pass) judge() bool {
	l := p.ledger
	s := p.values.finish()
	if s.rows == 0 || p.odd*2 >= len(p.walls) || p.values.scales[3].rows > 0 {
		return false
	}
	if p.plan.When.Kind != epoch {
		order, ref := l.dateOrder(&p.written)
		if ref != nil || (len(p.written.dates) > 0 || order.value == yearDayMonth) && order.value != p.order.value || l.clockMarks(&p.written) != nil {
			return false
		}
	}
	if p.plan.UnitCol >= 0 {
		p.lay.cols[p.plan.UnitCol].distinct = []string{string(p.first[p.plan.UnitCol])}
	}
	p.lay.g.from = p.head.from
	stated, _ := p.lay.stated(p.head.t)
	unit, ref := l.unitOf(&s, stated)
	if ref != nil || unit != p.unit || !plausible(s.low, unit) || !plausible(s.high, unit) {
		return false
	}
	p.res.Unit = unit
	p.person()
	if !p.place() {
		return false
	}
	for _, line := range p.pending {
		p.res.Rows++
		p.leaveOut(int(line), "below the table: a total or remark")
	}
	if len(l.questions) > 0 || p.judgeRows() != nil {
		return false
	}
	p.settle()
	if p.believable() != nil || len(l.questions) > 0 {
		return false
	}
	return p.res.Account.Balanced()
}

// person gives the code that the file itself states.
func (p *pass) person() {
	var named []saying
	if c := p.plan.Person; c >= 0 {
		named = append(named, saying{p.lay.cols[c].heading, string(p.first[c])})
	}
	for r := range p.head.from {
		if r != p.head.heading {
			named = append(named, personsIn(p.head.t.sayingsOf(r))...)
		}
	}
	if t := p.belowTable(); t != nil {
		for r := range t.rows() {
			named = append(named, personsIn(t.sayingsOf(r))...)
		}
	}
	if len(named) > 0 {
		p.res.PatientHint = strings.Clone(p.onePerson(named))
	}
}

// belowTable is what stands below the readings, or nil.
func (p *pass) belowTable() *table {
	if len(p.below) == 0 {
		return nil
	}
	t, _, _ := cut(string(p.below), p.plan.Delim)
	if t != nil {
		t.classify()
	}
	return t
}

// place turns the times of readings and events into UTC. Rows out of order are
// left to the full way.
func (p *pass) place() bool {
	up, down := 0, 0
	for i := 1; i < len(p.walls); i++ {
		switch {
		case p.walls[i] > p.walls[i-1]:
			up++
		case p.walls[i] < p.walls[i-1]:
			down++
		}
	}
	newestFirst := down > up
	if p.plan.When.Kind != epoch && !p.plan.When.Absolute && up > 0 && down > 0 {
		times := make([]rowTime, len(p.walls))
		for i, wall := range p.walls {
			times[i] = rowTime{secs: wall, ok: true}
		}
		if len(lateMidnights(times, false))+len(lateMidnights(times, true)) > 0 {
			return false
		}
	}
	if newestFirst {
		up, down = down, up
		slices.Reverse(p.walls)
	}
	if down*50 > up {
		return false
	}
	var placed []stretch
	if p.plan.When.Kind == epoch || p.plan.When.Absolute {
		placed = []stretch{{0, len(p.walls), 0}}
	} else if placed = p.zoned(); placed == nil {
		return false
	}
	if newestFirst {
		n := len(p.walls)
		for i, s := range placed {
			placed[i].from, placed[i].to = n-s.to, n-s.from
		}
		slices.Reverse(placed)
		slices.Reverse(p.walls)
	}
	return p.apply(placed, newestFirst)
}

// zoned finds the offsets of times by the wearer's clock. What the file says of
// its zone can be answered here if it is UTC; all else is left to the full way.
func (p *pass) zoned() []stretch {
	h := p.lay.g.zoneAbove(p.head.t)
	if h.text != "" && h.text != "UTC" && h.text != p.zone.String() {
		return nil
	}
	examples := make([]rowTime, 0, maxSamples)
	for _, wall := range p.walls[:min(len(p.walls), maxSamples)] {
		examples = append(examples, rowTime{secs: wall, ok: true})
	}
	answer := p.askHint(h, examples)
	switch {
	case answer == "utc":
		return []stretch{{0, len(p.walls), 0}}
	case answer == "stop" || len(p.questions) > 0:
		return nil
	}
	return p.stretches(p.walls, true, p.zone)
}

// apply moves readings and events by the offset of their row, and gives up if
// the clock went back or a time cannot be.
func (p *pass) apply(placed []stretch, newestFirst bool) bool {
	k, next, ev := 0, 0, 0
	last := int64(0)
	for _, s := range placed {
		for row := s.from; row < s.to; row++ {
			at := p.walls[row] - s.offset
			step := at - last
			if newestFirst {
				step = -step
			}
			if row > 0 && step < -backStep || !p.timely(at) {
				return false
			}
			last = at
			n := 1
			if next < len(p.uneven) && int(p.uneven[next].row) == row {
				n = int(p.uneven[next].readings)
				next++
			}
			for ; n > 0; n-- {
				p.res.Readings[k].At = at
				k++
			}
			for ; ev < len(p.eventRow) && int(p.eventRow[ev]) == row; ev++ {
				e := &p.res.Events[ev]
				if e.At = at; e.Kind == wear.Fingerstick {
					e.Value.At = at
				}
			}
		}
	}
	return true
}
