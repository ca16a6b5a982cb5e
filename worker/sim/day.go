package sim

import (
	"math"
	"time"
)

// span is a stretch of minutes since the diary's origin, end not included.
type span struct{ from, to int }

func (s span) has(m int) bool { return m >= s.from && m < s.to }

// meal is one food eaten.
type meal struct {
	at    int // minutes since the diary's origin
	food  food
	carbs float64 // g, this time
}

// dose is a tablet that brings on late insulin.
type dose struct {
	at    int
	share float64 // of the usual tablet
}

// diary is what a wearer did, minute by minute, from one day before the sensor
// so that the first reading is not a fresh start.
type diary struct {
	origin  time.Time
	minutes int
	meals   []meal
	doses   []dose
	sleeps  []span
	bouts   []span // moderate exercise
	drives  []drive
}

// at is the moment of a minute.
func (d *diary) at(m int) time.Time { return d.origin.Add(time.Duration(m) * time.Minute) }

// habits are what stays the same from day to day.
type habits struct {
	wake, bed     float64 // hours after local midnight
	weekendLie    float64 // hours later at the weekend
	breakfasts    []food
	lunches       []food
	dinners       []food
	snacks        []food
	appetite      float64 // factor on portions
	skips         float64 // probability of no breakfast
	grazes        float64 // factor on the probability of a snack
	rich          float64 // probability that lunch or dinner is a rich meal
	exercises     float64 // probability a day
	dawn          float64 // share added to production at its height, about 06:00
	tablets       bool
	dayVariation  float64 // log SD of insulin sensitivity between days
	stressful     float64 // probability of a day of stress, poor sleep or a cold
	stressFactor  float64 // on sensitivity on such a day
	exerciseBoost float64 // factor on insulin-independent uptake
}

// newHabits invents the habits of a person with a kind of wear.
func newHabits(c chance, p Person, k Kind) habits {
	h := habits{
		wake: c.between(5.8, 7.8), bed: c.between(21.8, 23.6), weekendLie: c.between(0.2, 1.5),
		breakfasts: some(c, breakfasts, 3), lunches: some(c, lunches, 5), dinners: some(c, dinners, 6), snacks: some(c, snacks, 4),
		appetite: 1.1 * c.factor(0.12), skips: c.between(0, 0.2), grazes: c.between(0.4, 1.2), exercises: c.between(0.1, 0.6),
		dawn: c.between(0.01, 0.05), dayVariation: 0.12, stressful: 0.06, stressFactor: 0.75, exerciseBoost: c.between(1.3, 1.7),
	}
	switch k {
	case Drifting, VeryHigh:
		h.dawn = c.between(0.04, 0.10)
		h.appetite *= 1.05
	case FrequentPeaks:
		h.appetite *= 1.03
		h.rich = 0
	case ReactiveDips:
		h.rich = c.between(0.22, 0.34)
	case MedicineLows:
		h.tablets = true
		h.skips = 0
	}
	if p.Context.LowCarbohydrate {
		h.appetite *= 0.35
		h.dawn += 0.02
	}
	return h
}

// some gives n of the foods, in their order.
func some(c chance, all []food, n int) []food {
	chosen := make([]food, 0, n)
	for i, f := range all {
		if c.IntN(len(all)-i) < n-len(chosen) {
			chosen = append(chosen, f)
		}
	}
	return chosen
}

// newDiary invents the days from one day before start until the end of the
// wear.
func newDiary(c chance, h habits, start time.Time, days float64) *diary {
	y, m, day := start.Date()
	d := &diary{origin: time.Date(y, m, day-1, 0, 0, 0, 0, start.Location())}
	d.minutes = int(start.Sub(d.origin).Minutes()) + int(math.Ceil(days*24*60)) + 1
	d.drives = make([]drive, d.minutes)
	for i := range d.drives {
		d.drives[i] = rest
	}
	for n := 0; ; n++ {
		midnight := time.Date(y, m, day-1+n, 0, 0, 0, 0, start.Location())
		from := int(midnight.Sub(d.origin).Minutes())
		if from >= d.minutes {
			return d
		}
		d.fill(c, h, midnight, from)
	}
}

// fill writes one local day into the diary. from is the minute of its midnight.
func (d *diary) fill(c chance, h habits, midnight time.Time, from int) {
	weekend := midnight.Weekday() == time.Saturday || midnight.Weekday() == time.Sunday
	wake, bed := h.wake+c.normal(0, 0.3), h.bed+c.normal(0, 0.4)
	if weekend {
		wake += h.weekendLie
		bed += h.weekendLie / 2
	}
	clock := func(hours float64) int { return from + int(hours*60) }

	// The night that begins this evening; the diary's first evening has one too.
	d.sleeps = append(d.sleeps, span{clock(bed), clock(24 + h.wake)})

	if !c.happens(h.skips) {
		d.eat(c, h, pick(c, h.breakfasts), clock(wake+c.between(0.4, 1.2)))
	}
	main := func(menu []food, hours float64) {
		f := pick(c, menu)
		if c.happens(h.rich) {
			f = pick(c, rich)
		}
		d.eat(c, h, f, clock(hours))
	}
	main(h.lunches, c.between(12, 13.6))
	dinner := c.between(18, 20)
	if weekend {
		dinner += c.between(0, 0.8)
	}
	main(h.dinners, dinner)
	for _, s := range []struct{ at, p float64 }{{10.4, 0.35}, {15.6, 0.45}, {21.2, 0.25}} {
		if c.happens(s.p * h.grazes) {
			d.eat(c, h, pick(c, h.snacks), clock(s.at+c.normal(0, 0.3)))
		}
	}
	if h.tablets {
		strength := c.factor(0.25)
		d.doses = append(d.doses, dose{clock(wake + 0.4), strength}, dose{clock(dinner - 0.3), 0.5 * strength})
	}
	if c.happens(h.exercises) {
		begin := clock(pick(c, []float64{wake + 0.2, 14.3, 17.0}) + c.between(0, 0.4))
		d.bouts = append(d.bouts, span{begin, begin + c.minutes(25, 60)})
		d.exert(h, d.bouts[len(d.bouts)-1])
	}

	sensitivity, production := c.factor(h.dayVariation), 1.0
	if c.happens(h.stressful) {
		sensitivity, production = sensitivity*h.stressFactor, 1.03
	}
	dawn := max(0, c.normal(h.dawn, h.dawn/3))
	for i := max(0, from); i < min(d.minutes, from+26*60); i++ {
		if i < from+24*60 {
			d.drives[i].sensitivity *= sensitivity
			d.drives[i].production *= production
		}
		// Production swells from 03:30 to 08:30 by the clock.
		if x := (float64(i-from)/60 - 6) / 2.5; x > -1 && x < 1 {
			d.drives[i].production *= 1 + dawn*(1+math.Cos(math.Pi*x))/2
		}
	}
}

// eat writes a meal down, portion varying about a sixth.
func (d *diary) eat(c chance, h habits, f food, at int) {
	if at < d.minutes {
		d.meals = append(d.meals, meal{at, f, f.carbs * h.appetite * c.factor(0.15)})
	}
}

// exert raises uptake during a bout, easing off over the hour after it.
// Moderate exercise gives a flat trace or a small fall (from memory).
func (d *diary) exert(h habits, b span) {
	for i := b.from; i < min(b.to+60, d.minutes); i++ {
		share := 1.0
		if i >= b.to {
			share = 1 - float64(i-b.to)/60
		}
		d.drives[i].uptake *= 1 + (h.exerciseBoost-1)*share
	}
}

// live runs a body through the diary and gives its plasma glucose in mmol/L,
// one value a minute.
func (b body) live(d *diary) []float64 {
	p := b.awaken()
	eaten := make(map[int]meal, len(d.meals))
	for _, m := range d.meals {
		if before, ok := eaten[m.at]; ok {
			m.carbs += before.carbs
		}
		eaten[m.at] = m
	}
	swallowed := make(map[int]float64, len(d.doses))
	for _, x := range d.doses {
		swallowed[x.at] += x.share
	}
	out := make([]float64, d.minutes)
	for i := range out {
		if m, ok := eaten[i]; ok {
			p.eat(m.carbs, m.food.speed)
		}
		p.swallow(swallowed[i])
		out[i] = p.mmol()
		p.minute(d.drives[i])
	}
	return out
}
