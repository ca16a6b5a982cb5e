package web

import (
	"math"
	"net/url"
	"sync"
	"time"

	"wearround/web/form"
	"wearround/worker/wear"
)

// LookPage shows every element that pages are made of, drawn by the same
// templates, stylesheet and charts as the pages themselves.
type LookPage struct{ Layout }

func (LookPage) view() (set, block string) { return "look", "page" }

// Swatch is one colour of the palette and where it stands.
type Swatch struct {
	Colour
	Use string
	On  []Contrast // against each ground that it meets
}

// colourUse says what each colour is for.
var colourUse = map[string]string{
	"paper": "the page", "sheet": "what is filled in or opened", "band": "where work is begun",
	"ink": "text, traces, the main button", "ink-soft": "what is shown and by which filter",
	"stone": "gaps, limits, edges of fields", "stone-text": "small print", "rule": "lines between rows; nothing hangs on them",
	"aubergine": "above 7.8", "ochre": "above 10",
	"petrol": "a low, a symptom, the ring of the keyboard", "petrol-text": "words about a low",
}

// look is what the stylesheet says of itself, worked out once.
var look = sync.OnceValue(func() (out struct {
	palette []Swatch
	dark    []Contrast
}) {
	palette := palettes(string(assetsByName["look.css"].body))[0]
	pairs, err := contrasts(palette)
	if err != nil {
		panic("web: the stylesheet's colours: " + err.Error())
	}
	on := map[string][]Contrast{}
	for _, p := range pairs {
		switch {
		case p.Ground == "ink" || p.Ground == "aubergine":
			out.dark = append(out.dark, p)
		case p.Text || p.Fore != "ink": // as a mark ink is far enough wherever it is as text
			on[p.Fore] = append(on[p.Fore], p)
		}
	}
	for _, c := range palette {
		out.palette = append(out.palette, Swatch{Colour: c, Use: colourUse[c.Name], On: on[c.Name]})
	}
	return out
})

// Palette is every colour with its contrast as measured from the stylesheet.
func (p LookPage) Palette() []Swatch { return look().palette }

// Dark are the pairs on the two dark grounds.
func (p LookPage) Dark() []Contrast { return look().dark }

// Steps are the spaces between things, in pixels.
func (p LookPage) Steps() []int { return []int{4, 8, 12, 16, 24, 32} }

// FileShapes is a file of each outcome.
func (p LookPage) FileShapes() []FileRow {
	var out []FileRow
	for _, o := range fateOrder {
		out = append(out, FileRow{Fate: o})
	}
	return out
}

// Filled is a form as it is typed.
func (p LookPage) Filled() form.Form {
	return form.Form{Task: "filled", Values: url.Values{"value": {"5.9"}, "unit": {"mmol/L"}, "means": {"telephone"}, "note": {"Rings back after six"}}}
}

// Refused is the same form as it comes back when it was not taken.
func (p LookPage) Refused() form.Form {
	return form.Form{Task: "refused", Values: url.Values{"value": {"59"}, "note": {""}}, Errors: []form.FieldError{
		{Field: "value", Text: "Write the value as in 5.9, and choose its unit."},
		{Field: "unit", Text: "Choose the unit."},
	}}
}

// Round is a list with one invented wear, as the round shows it.
func (p LookPage) Round() RoundRows {
	w := p.Wear()
	r := w.Report
	return RoundRows{RoundPage{
		Layout: w.Layout, Matching: 1, Total: 1, PageSize: 50, Kinds: 1, PerTier: map[wear.Tier]int{r.Priority.Tier: 1},
		Rows: []RoundRow{{
			Rank: 1, Patient: w.Patient, SensorKind: "A", Start: r.Start, End: r.End, DueAt: w.DueAt,
			Headline: r.Headline, Confidence: r.Confidence, Priority: r.Priority, Days: r.Days,
			Claim: Claim{By: "Velo Tarim", Until: p.Now.Add(12 * time.Minute)},
		}},
	}}
}

// Nothing is a round without any wear: the folder was looked at and all is done.
func (p LookPage) Nothing() RoundPage { return p.without(System{LastLook: p.Now, Seen: 12}) }

// Loading is a round whose files are being read.
func (p LookPage) Loading() RoundPage {
	return p.without(System{LastLook: p.Now, Seen: 12, Waiting: 5})
}

// Unseen is a round before the first look.
func (p LookPage) Unseen() RoundPage { return p.without(System{}) }

// Stalled is a round that nobody fills.
func (p LookPage) Stalled() RoundPage {
	return p.without(System{LastLook: p.Now.Add(-40 * time.Minute), Stalled: true})
}

func (p LookPage) without(s System) RoundPage {
	l := p.Layout
	l.System, l.Daily = s, Daily{}
	return RoundPage{Layout: l}
}

// Wear is an invented wear, read by the engine itself under the protocol that
// ships, with one before it.
func (p LookPage) Wear() WearPage {
	now, before := invented()[0], invented()[1]
	l := p.Layout
	l.Zone = time.UTC
	return WearPage{
		Layout: l, Patient: form.Patient{Code: "P-0000", Name: "Nobody Invented"}, SensorKind: "A", DueAt: p.Now.AddDate(0, 0, 3),
		Report: now.report, Readings: now.readings, Events: now.events,
		Before: &Before{
			Start: before.report.Start, End: before.report.End,
			Changes: wear.Compare(before.report, now.report, nil), Measures: wear.Changes(before.report, now.report, nil),
		},
	}
}

// Years is the patient of that wear with all their wears.
func (p LookPage) Years() Drawing {
	patient := PatientPage{Layout: p.Wear().Layout}
	for _, w := range invented() {
		patient.Wears = append(patient.Wears, PatientWear{Start: w.report.Start, End: w.report.End, Headline: w.report.Headline, Tier: w.report.Priority.Tier})
	}
	return patient.Years()
}

type inventedWear struct {
	readings []wear.Reading
	events   []wear.Event
	report   *wear.Report
}

// invented are two wears, the later first.
var invented = sync.OnceValue(func() []inventedWear {
	return []inventedWear{
		invent(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), 1),
		invent(time.Date(2025, 9, 8, 0, 0, 0, 0, time.UTC), 1.5),
	}
})

// invent makes eight days of readings a quarter of an hour apart, enough to be
// believed, with everything that pictures can show: meals whose rises are more or less, a peak above 10, a
// dip with a symptom, a gap and a night on the sensor.
func invent(begin time.Time, more float64) inventedWear {
	const days, day, quarter = 8, 24 * 60, 15 // days; minutes
	meals := []struct {
		at    float64 // minutes after midnight
		label string
		rise  float64 // mmol/L
	}{{450, "porridge", 3.0}, {750, "rice and dal", 2.2}, {1140, "pasta", 4.4}}
	var out inventedWear
	for m := 0; m < days*day; m += quarter {
		d, minute := m/day, float64(m%day)
		if d == 3 && minute >= 840 && minute < 1080 {
			continue // taken off
		}
		mmol := 5.1 + 0.05*math.Sin(float64(m)/13) + (0.2+0.1*float64(d%4))*math.Cos(2*math.Pi*(minute-480)/720) // lowest at two, highest at eight
		for i, meal := range meals {
			rise := more * meal.rise * (1 + 0.25*float64((d+i)%3))
			if h := (minute - meal.at) / 60; h > 0 { // to its peak after an hour
				mmol += rise * h * h * math.Exp(2-2*h)
			}
		}
		switch {
		case d == 1 && minute >= 930 && minute < 975:
			mmol = 3.4
		case d == 2 && minute >= 150 && minute < 210:
			mmol = 3.2
		}
		out.readings = append(out.readings, wear.Reading{At: begin.Add(time.Duration(m) * time.Minute).Unix(), Num: int64(math.Round(mmol * 10)), Scale: 1, Unit: wear.MmolL})
	}
	for d := range days {
		midnight := begin.AddDate(0, 0, d)
		for _, meal := range meals {
			out.events = append(out.events, wear.Event{At: midnight.Add(time.Duration(meal.at) * time.Minute).Unix(), Kind: wear.Meal, Label: meal.label})
		}
	}
	out.events = append(out.events,
		wear.Event{At: begin.Add((day + 945) * time.Minute).Unix(), Kind: wear.Symptom, Label: "shaky"},
		wear.Event{At: begin.Add((2*day + 420) * time.Minute).Unix(), Kind: wear.Fingerstick, Value: wear.Reading{Num: 54, Scale: 1, Unit: wear.MmolL}})
	out.report = wear.Analyse(wear.Input{Readings: out.readings, Events: out.events, SensorKind: "A", Zone: time.UTC, Protocol: wear.DefaultProtocol()})
	return out
}
