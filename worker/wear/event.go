package wear

import "time"

// EventKind is what sort of thing a wearer or the file recorded beside the
// readings. The texts are part of the JSON interface.
type EventKind string

// Kinds of event.
const (
	Meal        EventKind = "meal"
	Symptom     EventKind = "symptom"
	Exercise    EventKind = "exercise"
	Sleep       EventKind = "sleep"
	Fingerstick EventKind = "fingerstick"
	Medicine    EventKind = "medicine"
	Note        EventKind = "note"
	Undated     EventKind = "undated" // words of a file that state no time: At places them with the wear and says no more
)

// Event is something recorded at a moment of the wear.
type Event struct {
	At      int64     // seconds since 1970-01-01 UTC
	Minutes int       // length where known (sleep, exercise), else 0
	Kind    EventKind //
	Label   string    // the wearer's own words
	Value   Reading   // the blood value of a fingerstick; At is repeated there
	Carbs   float64   // grams of carbohydrate of a meal; 0 where not stated
}

// bloodInWords is a fingerstick that words name and no person has read as
// nothing: it counts as one where it raises, and compares with no sensor.
const bloodInWords EventKind = "fingerstick in words"

// isBlood reports whether an event is a value of blood by a meter.
func (e Event) isBlood() bool { return e.Kind == Fingerstick || e.Kind == bloodInWords }

// Time is the moment of the event in the wear's zone.
func (e Event) Time(zone *time.Location) time.Time { return time.Unix(e.At, 0).In(zone) }

// Context is what the practice knows of the patient that changes which rules
// apply. Unknown is the zero value and never counts as "no risk".
type Context struct {
	// AskedOn is the day on which the patient was last asked about everything
	// below, as 2006-01-02; "" where nobody has. Without it nothing on record is
	// nothing known.
	AskedOn string `json:"asked_on,omitempty"`
	// BirthDate is that of the register, as 2006-01-02 or "": it leads where it is
	// known. It is the register's fact, so it is not written with the context.
	BirthDate        string `json:"-"`
	BirthYear        int    `json:"birth_year,omitempty"`
	Sex              string `json:"sex,omitempty"` // "female", "male", "" for not recorded
	GlucoseLowering  bool   `json:"glucose_lowering,omitempty"`
	Insulin          bool   `json:"insulin,omitempty"`
	Sulfonylurea     bool   `json:"sulfonylurea,omitempty"`
	Steroid          bool   `json:"steroid,omitempty"`
	Pregnant         bool   `json:"pregnant,omitempty"`
	BariatricSurgery bool   `json:"bariatric_surgery,omitempty"`
	LowCarbohydrate  bool   `json:"low_carbohydrate,omitempty"`
	ShiftWork        bool   `json:"shift_work,omitempty"`

	// Medicines that move glucose without causing lows.
	Masking bool `json:"masking_medicine,omitempty"` // metformin, GLP-1 agonist, SGLT2 inhibitor
	Raising bool `json:"raising_medicine,omitempty"` // antipsychotic, thiazide, calcineurin inhibitor and the like

	// Risk factors for diabetes as RACGP lists them.
	FamilyHistory       bool `json:"family_history,omitempty"`
	GestationalDiabetes bool `json:"gestational_diabetes,omitempty"` // in an earlier pregnancy
	PolycysticOvary     bool `json:"polycystic_ovary,omitempty"`
	CardiovascularEvent bool `json:"cardiovascular_event,omitempty"`
	Overweight          bool `json:"overweight,omitempty"`
	Hypertension        bool `json:"hypertension,omitempty"`
}

// RiskFactors names the metabolic risk factors on record. One that by itself calls
// for a laboratory test every three years is enough: so the RACGP Red Book for
// diabetes in an earlier pregnancy, polycystic ovary syndrome, a cardiovascular
// event and antipsychotics. The others are parts of a risk score, and one of them
// alone is not; that two are is a proposal.
func (c Context) RiskFactors() (names []string, enough bool) {
	parts := 0
	for _, f := range []struct {
		on, alone bool
		name      string
	}{
		{c.FamilyHistory, false, "diabetes in the family"}, {c.GestationalDiabetes, true, "diabetes in an earlier pregnancy"},
		{c.PolycysticOvary, true, "polycystic ovary syndrome"}, {c.CardiovascularEvent, true, "a cardiovascular event"},
		{c.Overweight, false, "overweight"}, {c.Hypertension, false, "high blood pressure"}, {c.Raising, true, "a medicine that raises glucose"},
	} {
		if f.on {
			names = append(names, f.name)
			enough = enough || f.alone
			parts++
		}
	}
	return names, enough || parts > 1
}

// HypoglycaemiaRisk reports whether a medicine on record can itself cause a low.
func (c Context) HypoglycaemiaRisk() bool {
	return c.Insulin || c.Sulfonylurea || c.GlucoseLowering
}
