package sim

import (
	"time"
)

// Spec says which wear to invent. Zero fields have a usual value.
type Spec struct {
	Person Person    // usually one invented from the seed
	Kind   Kind      // usually [Unremarkable]
	Layout Layout    // usually the first of [Layouts]; it decides sensor kind and unit
	Start  time.Time // first reading, in the zone of the wear; seconds are dropped
	Days   float64   // usually 14, or 2 to 6 for [ShortWear]
}

// NewWear invents one wear. The same seed and spec give the same wear.
func NewWear(seed uint64, s Spec) *Wear {
	start := s.Start.Truncate(time.Minute)
	if s.Person.Code == "" {
		s.Person = newPerson(newChance(seed, streamPeople), "P-0001", start)
	}
	if s.Kind == "" {
		s.Kind = Unremarkable
	}
	s.Person.prescribe(s.Kind)
	if s.Layout.Name == "" {
		s.Layout = Layouts()[0]
	}
	bodyChance := newChance(seed, streamBody)
	diaryChance := newChance(seed, streamDiary)
	if s.Days == 0 {
		s.Days = 14
		if s.Kind == ShortWear {
			s.Days = diaryChance.between(2, 6)
		}
	}

	b := newBody(bodyChance, s.Person, s.Kind, start.Year())
	h := newHabits(diaryChance, s.Person, s.Kind)
	d := newDiary(diaryChance, h, start, s.Days)
	blood := b.live(d)

	from := int(start.Sub(d.origin).Minutes())
	to := from + int(s.Days*24*60)
	faultChance := newChance(seed, streamFaults)
	on := newSensor(faultChance, s.Layout.Sensor)
	f := newFaults(faultChance, s.Kind, d, from, to, on.interval)

	w := &Wear{
		Person: s.Person, Kind: s.Kind, Layout: s.Layout, Zone: start.Location(),
		Sensor: s.Layout.Sensor, Unit: s.Layout.Unit, Interval: time.Duration(on.interval) * time.Minute,
	}
	w.Readings, w.Truth = on.read(newChance(seed, streamNoise), d, blood, from, to, f, w.Unit)
	logChance := newChance(seed, streamLog)
	w.Events = newLogging(logChance, s.Kind).events(logChance, d, w, blood, from, to)
	return w
}
