package sim

import (
	"cmp"
	"math"
	"slices"

	"wearround/worker/wear"
)

// Words wearers use. The groups follow the published lists of autonomic and
// neuroglycopenic symptoms (doi:10.1210/jc.2008-1410 and its sources).
var (
	lowWords   = []string{"shaky", "sweaty", "light-headed", "shaky and hungry", "heart racing", "foggy, could not concentrate", "weak and sweaty"}
	otherWords = []string{"headache", "tired", "bloated", "sore throat", "slept badly"}
	boutWords  = []string{"brisk walk", "swim", "cycling to work", "dance class", "gardening", "gym"}
	noteWords  = []string{"busy day", "on the train all day", "family lunch", "sensor itches a bit"}
)

// logging is how carefully a wearer writes things down.
type logging struct {
	meals     float64 // probability of each
	carbs     bool    // states grams
	bouts     float64
	sleeps    bool
	pricks    float64 // fingersticks a day
	symptoms  float64 // probability of writing a low's symptom down
	otherwise float64 // other symptoms a day
}

func newLogging(c chance, k Kind) logging {
	l := logging{
		meals: c.between(0.45, 0.95), carbs: c.happens(0.35), bouts: c.between(0.3, 0.9), sleeps: c.happens(0.3),
		symptoms: 0.15, otherwise: c.between(0, 0.12),
	}
	if c.happens(0.15) {
		l.pricks = c.between(0.3, 1.2)
	}
	switch k {
	case ReactiveDips:
		l.meals, l.symptoms = c.between(0.85, 1), c.between(0.8, 1)
	case MedicineLows:
		l.symptoms = 0.5
	}
	return l
}

// events gives what the wearer wrote down between two minutes of the diary.
func (l logging) events(c chance, d *diary, w *Wear, blood []float64, from, to int) []wear.Event {
	var out []wear.Event
	add := func(m int, e wear.Event) {
		if m >= from && m < to {
			e.At = d.at(m).Unix()
			out = append(out, e)
		}
	}
	for _, m := range d.meals {
		if !c.happens(l.meals) {
			continue
		}
		e := wear.Event{Kind: wear.Meal, Label: m.food.label}
		if l.carbs {
			e.Carbs = 5 * math.Round(m.carbs/5) // people guess in fives
		}
		add(m.at+c.minutes(-5, 10), e)
	}
	for _, b := range d.bouts {
		if c.happens(l.bouts) {
			add(b.from, wear.Event{Kind: wear.Exercise, Label: pick(c, boutWords), Minutes: b.to - b.from})
		}
	}
	if l.sleeps {
		for _, s := range d.sleeps {
			add(s.from, wear.Event{Kind: wear.Sleep, Label: "sleep", Minutes: s.to - s.from})
		}
	}
	for _, x := range d.doses {
		add(x.at, wear.Event{Kind: wear.Medicine, Label: "tablet for sugar"})
	}
	days := float64(to-from) / (24 * 60)
	for range int(days*l.pricks + 0.5) {
		m := from + c.IntN(to-from)
		if d.asleep(m) {
			continue
		}
		// A meter is within 15 % of the laboratory 95 times in 100 (ISO 15197:2013).
		r := report(d.at(m), blood[m]*(1+c.normal(0, 0.05)), w.Unit)
		add(m, wear.Event{Kind: wear.Fingerstick, Value: r})
	}
	if m := from + c.IntN(to-from); c.happens(0.3) && !d.asleep(m) {
		add(m, wear.Event{Kind: wear.Note, Label: pick(c, noteWords)})
	}
	for _, m := range lows(d, blood, from, to) {
		if c.happens(l.symptoms) {
			add(m+c.minutes(-3, 6), wear.Event{Kind: wear.Symptom, Label: pick(c, lowWords)})
		}
	}
	for range int(days*l.otherwise + 0.5) {
		// Well away from any low, so that no match is invented by chance.
		if m := from + c.IntN(to-from); !d.asleep(m) && calm(w.Readings, d.at(m).Unix()) {
			add(m, wear.Event{Kind: wear.Symptom, Label: pick(c, otherWords)})
		}
	}
	slices.SortStableFunc(out, func(a, b wear.Event) int { return cmp.Compare(a.At, b.At) })
	return out
}

// asleep reports whether a minute lies in a night of the diary.
func (d *diary) asleep(m int) bool { return within(d.sleeps, m) }

// lows gives the minute of the lowest blood value of each true low that a
// wearer who is awake could feel: below 3.6 mmol/L for at least 20 minutes.
func lows(d *diary, blood []float64, from, to int) []int {
	var out []int
	for m := from; m < to; m++ {
		if blood[m] >= 3.6 {
			continue
		}
		begin, lowest := m, m
		for m < to && blood[m] < 3.6 {
			if blood[m] < blood[lowest] {
				lowest = m
			}
			m++
		}
		if m-begin >= 20 && !d.asleep(lowest) {
			out = append(out, lowest)
		}
	}
	return out
}

// calm reports whether all readings within two hours of a moment are above
// 4.3 mmol/L.
func calm(readings []wear.Reading, at int64) bool {
	const near = 2 * 60 * 60
	i, _ := slices.BinarySearchFunc(readings, at-near, func(r wear.Reading, t int64) int { return cmp.Compare(r.At, t) })
	for ; i < len(readings) && readings[i].At <= at+near; i++ {
		if readings[i].Mmol() < 4.3 {
			return false
		}
	}
	return true
}
