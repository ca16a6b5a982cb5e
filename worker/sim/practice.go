package sim

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// Practice is an invented practice: its register, and a year of wears.
type Practice struct {
	People []Person // by code, rising

	plans []plan
}

// plan is what a wear will be; inventing it is left until it is asked for.
type plan struct {
	person int
	spec   Spec
	seed   uint64
}

// mix is how common each kind is among patients, in thousandths: a proposal,
// chosen to resemble a practice that recommends wears to people at some risk.
var mix = []struct {
	kind     Kind
	thousand int
}{
	{Unremarkable, 585}, {Drifting, 140}, {FrequentPeaks, 80}, {ReactiveDips, 60}, {PressureDips, 50},
	{FailedSensor, 40}, {ShortWear, 30}, {MedicineLows, 8}, {VeryHigh, 7},
}

// NewPractice invents a practice with the given number of patients (at least
// 1), whose wears end within the year before end. About a sixth of the
// patients have a second wear, at least three months after the first. The
// zone is where the wearers live.
func NewPractice(seed uint64, end time.Time, zone *time.Location, patients int) *Practice {
	end = end.In(zone)
	c, contacts := newChance(seed, streamPeople), newChance(seed, streamContacts)
	p := &Practice{}
	for _, n := range inventNumbers(c, patients) {
		who := newPerson(c, fmt.Sprintf("P-%04d", n), end)
		who.Contact = newContact(contacts, n, who.Name)
		p.People = append(p.People, who)
	}

	c = newChance(seed, streamPlans)
	kinds := deal(patients)
	c.Shuffle(len(kinds), func(i, j int) { kinds[i], kinds[j] = kinds[j], kinds[i] })
	recent := map[Kind]bool{}
	for i, k := range kinds {
		p.People[i].prescribe(k)
		body := c.Uint64()
		age := c.between(1, 350) // days from the end of the wear to the end of the year
		if !recent[k] {          // the year's end has a wear of every kind to show
			recent[k] = true
			age = c.between(0.3, 2)
		}
		first := plan{i, Spec{Person: p.People[i], Kind: k, Layout: layoutFor(c, k), Days: lengthOf(c, k)}, body}
		if c.happens(0.25) && age < 230 {
			// The second wear is the recent one, so the first lies further back.
			again := first
			again.seed = c.Uint64()
			again.spec.Kind = followUp(c, k)
			again.spec.Days = lengthOf(c, again.spec.Kind)
			again.spec.Layout = layoutFor(c, again.spec.Kind)
			again.spec.Start = startOf(c, end, age, again.spec.Days)
			p.plans = append(p.plans, again)
			age = min(350, age+again.spec.Days+c.between(100, 150))
		}
		first.spec.Start = startOf(c, end, age, first.spec.Days)
		p.plans = append(p.plans, first)
	}
	slices.SortStableFunc(p.plans, func(a, b plan) int {
		return cmp.Or(a.spec.Start.Compare(b.spec.Start), cmp.Compare(a.person, b.person))
	})
	return p
}

// Len is the number of wears.
func (p *Practice) Len() int { return len(p.plans) }

// Spec says what wear i will be, before it is invented.
func (p *Practice) Spec(i int) Spec { return p.plans[i].spec }

// Wear invents wear i, from 0, in order of their starts. It may be called from
// several goroutines at once.
func (p *Practice) Wear(i int) *Wear { return NewWear(p.plans[i].seed, p.plans[i].spec) }

// deal gives the kind of each patient, by largest remainder; among forty or
// more, every kind has at least one.
func deal(patients int) []Kind {
	type part struct {
		kind Kind
		n    int
		rest float64
	}
	parts, dealt := make([]part, len(mix)), 0
	for i, m := range mix {
		exact := float64(patients*m.thousand) / 1000
		n := int(exact)
		if patients >= 40 {
			n = max(1, n)
		}
		parts[i] = part{m.kind, n, exact - math.Floor(exact)}
		dealt += n
	}
	slices.SortStableFunc(parts, func(a, b part) int { return cmp.Compare(b.rest, a.rest) })
	var kinds []Kind
	for _, x := range parts {
		if dealt < patients {
			x.n++
			dealt++
		}
		for range x.n {
			kinds = append(kinds, x.kind)
		}
	}
	for len(kinds) < patients {
		kinds = append(kinds, Unremarkable)
	}
	return kinds[:patients]
}

// lengthOf is how many days a wear lasts: nearly always two weeks.
func lengthOf(c chance, k Kind) float64 {
	switch {
	case k == ShortWear:
		return c.between(2, 6)
	case c.happens(0.1):
		return c.between(9, 13.5)
	}
	return c.between(13.6, 14)
}

// startOf is the start of a wear that ends age days before the end of the year:
// in surgery hours, on a weekday.
func startOf(c chance, end time.Time, age, days float64) time.Time {
	at := end.Add(-time.Duration((age + days) * 24 * float64(time.Hour)))
	for at.Weekday() == time.Saturday || at.Weekday() == time.Sunday {
		at = at.AddDate(0, 0, -1)
	}
	return time.Date(at.Year(), at.Month(), at.Day(), 9+c.IntN(8), c.IntN(60), 0, 0, end.Location())
}

// followUp is what a second wear turns out to be: a doubtful one is repeated for
// an answer, and half of those who drifted have changed something.
func followUp(c chance, first Kind) Kind {
	switch first {
	case PressureDips, FailedSensor, ShortWear:
		return Unremarkable
	case Drifting, FrequentPeaks, ReactiveDips:
		if c.happens(0.5) {
			return Unremarkable
		}
	}
	return first
}

// layoutFor chooses the arrangement of a wear's file. A kind whose finding
// rests on what the wearer logged gets one that carries events.
func layoutFor(c chance, k Kind) Layout {
	for {
		l := pick(c, Layouts())
		needsEvents := k == ReactiveDips || k == MedicineLows
		if l.Sensor == "C" && (needsEvents || c.happens(0.4)) || needsEvents && !l.Events {
			continue
		}
		return l
	}
}
