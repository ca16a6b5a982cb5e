package form

import (
	"net/url"
	"slices"
	"strconv"
	"time"

	"wearround/worker/wear"
)

// Usual lengths in days, proposals: a wear, and what a wearer may take to send
// its file before somebody rings.
const (
	WearDays   = 14
	SendWithin = 3
)

// HandOut is a sensor handed out, as typed.
type HandOut struct {
	PatientID  int64 // the patient as the page named them; 0 for one known by code alone
	Patient    Patient
	Phone      string
	Address    string
	Given, Due time.Time
	Kind       string // of the sensor
	Serial     string
	Note       string
	Asked      bool         // the patient was asked what changes the rules
	AskedOn    string       // 2006-01-02
	Context    wear.Context // what they said, of [AskedFields]
}

// askedNames are what is asked when a sensor is handed out: medicines, pregnancy,
// surgery and how somebody eats change what a reading means.
var askedNames = []string{
	"insulin", "sulfonylurea", "glucose_lowering", "masking_medicine", "raising_medicine", "steroid", "pregnant", "bariatric_surgery", "low_carbohydrate",
}

// SetAsked puts what was asked at the hand-out into what is on record.
func (h *HandOut) SetAsked(on *wear.Context) {
	if !h.Asked {
		return
	}
	for _, c := range ContextFields {
		if slices.Contains(askedNames, c.name) {
			*c.Of(on) = *c.Of(&h.Context)
		}
	}
	on.AskedOn = h.AskedOn
}

// ParseHandOut reads patient, code, name, birth, phone, address, given, due,
// kind, serial, note, asked, asked_on and context (several).
func ParseHandOut(v url.Values, now time.Time) (HandOut, []FieldError) {
	f := &fields{Values: v, zone: now.Location()}
	h := HandOut{
		Patient: Patient{Code: f.needed("code", "Write the practice’s own code for the patient.", 80), Name: f.text("name", MostLine)},
		Phone:   f.text("phone", 80), Address: f.text("address", 400), Given: f.past("given", "Say on what day the sensor is put on.", now),
		Kind: f.text("kind", 20), Serial: f.text("serial", 80), Note: f.text("note", MostNote),
	}
	h.PatientID, _ = strconv.ParseInt(v.Get("patient"), 10, 64) // 0 where it is none
	if birth := f.past("birth", "", now); !birth.IsZero() {
		h.Patient.BirthDate = birth.Format(time.DateOnly)
	}
	if h.Due = f.day("due", ""); h.Due.IsZero() && !h.Given.IsZero() {
		h.Due = h.Given.AddDate(0, 0, WearDays+SendWithin)
	}
	if !h.Due.IsZero() && h.Due.Before(h.Given) {
		f.refuse("due", "The file cannot be due before the sensor is put on.")
	}
	h.Asked = f.one("asked", "Say whether you asked.", "yes", "no") == "yes"
	for _, c := range ContextFields {
		*c.Of(&h.Context) = slices.Contains(v["context"], c.name)
	}
	if !h.Asked && len(v["context"]) > 0 && v.Get("asked") == "no" {
		f.refuse("asked", "Something is ticked below: say that you asked, or untick it.")
	}
	if on := f.past("asked_on", "", now); !on.IsZero() {
		h.AskedOn = on.Format(time.DateOnly)
	} else {
		h.AskedOn = now.Format(time.DateOnly)
	}
	return h, f.errors
}

// past is a day up to today. An empty say lets it be left out.
func (f *fields) past(name, say string, now time.Time) time.Time {
	t := f.day(name, say)
	switch {
	case t.After(now):
		f.refuse(name, "This day has not come yet.")
		return time.Time{}
	case !t.IsZero() && t.Year() < now.Year()-130:
		f.refuse(name, "This is more than 130 years ago: check the year.")
		return time.Time{}
	}
	return t
}

// AskedValues are the boxes of [HandOut] that are ticked on record.
func AskedValues(c *wear.Context) []string {
	var out []string
	for _, x := range ContextFields {
		if slices.Contains(askedNames, x.name) && *x.Of(c) {
			out = append(out, x.name)
		}
	}
	return out
}
